"""What should be said about a take beside its numbers: each caution has a code, words, and the tones it is about."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analysis.core import another_player, evenness
from analysis.core.alignment import Alignment
from analysis.core.records import Capture, Caution, Evenness, Request, Tone
from analysis.core.units import median
from analysis.core.words import words

ELSEWHERE_CENTS, ELSEWHERE_SPREAD_CENTS, LEAST_TONES = 15.0, 10.0, 4
FAINT_DB = 15.0  # an unasked tone this far under the others is somebody else
OF_CAPTURE = ("level_control_suspected", "too_close", "noise_gate", "narrow_band", "cut_short", "too_quiet")


def cautions_of(
    tones: Sequence[Tone], names: Alignment, capture: Capture, even: Evenness, request: Request
) -> tuple[Caution, ...]:
    """Everything a reader should know before believing the numbers, weightiest first."""
    every = tuple(tone.index for tone in tones)
    said = [caution(code, every) for code in OF_CAPTURE if code in capture.reasons]
    if another_player.CODE in capture.reasons:
        said.append(caution(another_player.CODE, another_player.names(tones)))
    if names.shifted_semitones:
        said.append(_shifted(names, every))
    said += _tuned_elsewhere(tones)
    faint = _faint(tones)
    if faint:
        said.append(caution("someone_else_playing", faint))
    unsure = tuple(tone.index for tone in tones if "room_hides_steadiness" in tone.hidden.values())
    if unsure:
        said.append(caution("room_hides_steadiness", unsure))
    if request.asked and names.missing and len(names.missing) == len(request.asked) and not names.shifted_semitones:
        said.append(caution("nothing_as_asked", every))
    return (*said, *evenness.cautions(even))


def caution(code: str, indices: tuple[int, ...] = (), more: str = "") -> Caution:
    """A caution in the words of data/words.toml, with what is particular to this take after them."""
    return Caution(code, f"{words(code).advice} {more}".strip(), indices)


def _shifted(names: Alignment, every: tuple[int, ...]) -> Caution:
    semitones = names.shifted_semitones
    steps = f"{abs(semitones)} semitone{'s' if abs(semitones) != 1 else ''} {'higher' if semitones > 0 else 'lower'}"
    like = (
        f", as on {'an' if names.sounds_like[0] in 'aeiou' else 'a'} {names.sounds_like}" if names.sounds_like else ""
    )
    return caution("another_instrument", every, f"(Everything sounds {steps} than asked{like}.)")


def _tuned_elsewhere(tones: Sequence[Tone]) -> list[Caution]:
    """The whole take lies beside the tuning note, and of one mind about it."""
    heard = [tone for tone in tones if tone.readable and tone.partial is None]
    if len(heard) < LEAST_TONES:
        return []
    cents = np.array([tone.pitch_cents for tone in heard])
    middle = median(cents)
    spread = median(np.abs(cents - middle)) * 1.4826
    if abs(middle) < ELSEWHERE_CENTS or spread > ELSEWHERE_SPREAD_CENTS:
        return []
    side = "sharp" if middle > 0 else "flat"
    return [
        caution("tuned_elsewhere", tuple(t.index for t in heard), f"({abs(middle):.0f} cents {side} on the whole.)")
    ]


def _faint(tones: Sequence[Tone]) -> tuple[int, ...]:
    """Tones nobody asked for, far under those that were."""
    asked = [tone.level_db for tone in tones if tone.expected]
    if not asked:
        return ()
    limit_db = median(asked) - FAINT_DB
    return tuple(tone.index for tone in tones if tone.expected is False and tone.level_db < limit_db)
