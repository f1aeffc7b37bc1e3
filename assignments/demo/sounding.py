"""How the demo students sound: the story's faults, and chance, laid on the project's own tones."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

from analysis.synthesis import Faults, GainControl, Place, Room, ToneSpec, render, write
from assignments.demo.cast import Player
from assignments.exercises import SHAPED, TONE_WORDS, Slot
from studio.models import Horn

TONE_S = 7.6  # eight beats, one a second, a little less
SLIPS = (
    Faults(cents=26.0, hnr_db=32.0),
    Faults(cents=-28.0, hnr_db=32.0),
    Faults(scoop_cents=-90.0, scoop_s=0.3, rise_s=0.2),
    Faults(unsteady_cents=16.0, level_unsteady_db=2.4),
    Faults(air_before_s=0.35, rise_s=0.24),
    Faults(level_drift_db=-7.0, drift_cents=-26.0),
)


def recording(player: Player, horn: Horn, specs: Sequence[ToneSpec], dice: Random) -> bytes:
    """A phone's WebM of these tones, in the place where this student plays."""
    place = Place(
        room=Room(direct_to_reverberant_db=12.0),
        noise_dbfs=player.noise_dbfs,
        gain_control=GainControl() if player.gain_control else None,
    )
    samples, _ = render(specs, horn.kind, horn.a4_hz, seed=dice.randrange(2**32), place=place)
    with TemporaryDirectory(prefix="footing-demo-") as folder:
        file = Path(folder) / "take.webm"
        write(file, samples, "webm")
        return file.read_bytes()


def tone(player: Player, slot: Slot, dice: Random, rough: bool) -> ToneSpec:
    """One tone of the daily turn as this student plays it; ``rough``: on a day when more strays."""
    faults, asked = _faults(player, slot, dice, rough), slot.asked()
    if slot.tone in SHAPED:
        return ToneSpec(written_midi=slot.written_midi, shape=asked.shape, seconds=TONE_S, gap_s=1.2, faults=faults)
    return ToneSpec(
        written_midi=slot.written_midi,
        dynamic=asked.dynamic,
        seconds=TONE_S,
        gap_s=1.2,
        breath=dice.random() < 0.5,
        faults=faults,
    )


def _faults(player: Player, slot: Slot, dice: Random, rough: bool) -> Faults:
    soft = player.tight_below and slot.tone in TONE_WORDS[: TONE_WORDS.index(player.tight_below)]
    if soft and dice.random() < 0.7:
        return Faults(
            cents=dice.uniform(14, 24), rise_s=0.2, air_before_s=0.15, colour_db=-9.0, hnr_db=24.0, collapse_db=4.0
        )
    slips = dice.random() < (0.45 if rough else player.slip_share)
    if slips or (slot.written_midi in player.weak_notes and dice.random() < 0.8):
        return dice.choice(SLIPS)
    return a_good_one(dice)


def a_good_one(dice: Random) -> Faults:
    """No fault, and no machine either."""
    return Faults(
        cents=dice.gauss(0, 2.5),
        unsteady_cents=abs(dice.gauss(0, 0.8)),
        level_unsteady_db=abs(dice.gauss(0, 0.15)),
        scoop_cents=dice.gauss(0, 4),
        rise_s=dice.uniform(0.025, 0.05),
        release_s=dice.uniform(0.05, 0.12),
        hnr_db=dice.uniform(34, 44),
    )
