"""Sound in, Measurement out: the whole pipeline, from top to bottom.

    blocks of sound -> frames (spectrum, pitch, level) -> tones -> names -> the numbers of each tone
                    -> how the take was caught -> evenness -> what should be said about it

Pure: no file, clock, database or chance. The same sound and request give the same numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import TYPE_CHECKING

from analysis.core import another_player, evenness
from analysis.core.alignment import align, broken
from analysis.core.capture import capture_of, hidden_by, room_of
from analysis.core.cautions import cautions_of
from analysis.core.reading import read_tone
from analysis.core.records import AudioInfo, Capture, Evenness, Measurement, Request
from analysis.core.room import direct_over_room_db, with_errors
from analysis.core.spectrum import frames_of
from analysis.core.tables import instrument
from analysis.core.tones import find, rejoined

if TYPE_CHECKING:
    from analysis.core.records import Floats

ENGINE = "1.6"  # changes whenever any number could come out differently


def measure(blocks: Iterable[Floats], info: Callable[[], AudioInfo], request: Request) -> Measurement:
    """Measure one recording. ``blocks``: 24 kHz mono, used once; ``info`` is asked when they are used up."""
    frames = frames_of(blocks, request.instrument)
    audio = info()
    found = find(frames)
    names = align(found, request.asked, instrument(request.instrument), request.a4_hz)
    if parted := broken(found, names.heard):
        found = rejoined(frames, found, parted)
        names = align(found, request.asked, instrument(request.instrument), request.a4_hz)
    room = room_of(frames, found)
    tones = tuple(
        read_tone(index, tone, name, frames, room, audio, request)
        for index, (tone, name) in enumerate(zip(found, names.heard, strict=True))
    )
    tones = another_player.told(frames, found, tones)
    capture = capture_of(frames, found, tones, audio)
    tones = tuple(replace(tone, hidden={**tone.hidden, **hidden_by(capture)}) for tone in tones)
    over_room_db = direct_over_room_db(frames, [tone.span for tone in found])
    tones = with_errors(tones, over_room_db, request.dynamic)
    even = evenness.read(tones, direct_over_room_db=over_room_db, dynamic=request.dynamic)
    return Measurement(
        engine=ENGINE,
        audio=audio,
        capture=capture,
        tones=tones,
        evenness=even,
        missing=names.missing,
        extra=tuple(tone.index for tone in tones if tone.expected is False),
        cautions=cautions_of(tones, names, capture, even, request),
    )


def unheard(audio: AudioInfo, request: Request, reason: str) -> Measurement:
    """The report on a recording that could not be listened to at all, complete but empty."""
    names = align((), request.asked, instrument(request.instrument), request.a4_hz)
    return Measurement(
        engine=ENGINE,
        audio=audio,
        capture=Capture(None, None, False, False, readable=False, reasons=(reason,)),
        tones=(),
        evenness=Evenness(),
        missing=names.missing,
        extra=(),
        cautions=(),
    )
