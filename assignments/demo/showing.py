"""What the demo studio's owner has shown: the notes that stray in the story, as they should sound."""

from __future__ import annotations

import uuid
from pathlib import Path
from tempfile import TemporaryDirectory

from django.core.files.base import ContentFile

from analysis.synthesis import Place, ToneSpec, render, write
from assignments import demonstrations
from assignments.demo import cast
from assignments.exercises import Slot
from assignments.models import Demonstration
from studio.models import Studio

TONES = ("pp", "mf", "f")
TONE_S = 5.0
NAMESPACE = uuid.UUID("9a0d3f44-2b8f-4d6e-8a3b-0c5d8f5f1b21")  # the same tone is the same recording


def show() -> int:
    """Send in what is not here yet. Returns how many were new."""
    owner = cast.owner()
    if owner is None:
        return 0
    wanted = {(player.kind, note, tone) for player in cast.players() for note in player.weak_notes for tone in TONES}
    new = 0
    for instrument, note, tone in sorted(wanted):
        key = uuid.uuid5(NAMESPACE, f"{owner.studio_id} {instrument} {note} {tone}")
        if Demonstration.objects.filter(pk=key).exists():
            continue
        audio = ContentFile(_recording(owner.studio, instrument, note, tone), name="tone")
        demonstrations.keep(
            owner.studio, by=owner.user, instrument=instrument, written_midi=note, tone=tone, audio=audio, key=key
        )
        new += 1
    return new


def _recording(studio: Studio, instrument: str, written_midi: int, tone: str) -> bytes:
    dynamic = Slot(0, written_midi, tone).asked().dynamic
    spec = ToneSpec(written_midi=written_midi, dynamic=dynamic, seconds=TONE_S)
    samples, _ = render([spec], instrument, studio.a4_hz, seed=written_midi, place=Place(noise_dbfs=-72.0))
    with TemporaryDirectory(prefix="footing-demo-") as folder:
        file = Path(folder) / "tone.webm"
        write(file, samples, "webm")
        return file.read_bytes()
