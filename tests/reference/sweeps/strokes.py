"""A note tongued again far from the phone, where the room is as loud as the horn or louder; and none where none was.

The truth is the formula: partials that stop and start again after a silence of so many seconds, or that never stop but
wander, wave or slur to other notes. The rooms are decaying noise, convolved by scipy.
"""

from __future__ import annotations

import numpy as np

from tests.reference.hearing import PRODUCT_RATE_HZ, hear
from tests.reference.signals import Samples, edged, harmonic, reedy, row_of_tones, scaled_to, times
from tests.reference.sweep import Sweep
from tests.reference.sweeps.faults import in_room
from tests.reference.sweeps.run import alto_hz

NOTES, ROOMS_DB = (60, 66, 72, 78, 84), (0.0, -3.0, -5.0)
SILENT_S = (0.05, 0.08, 0.12, 0.2)
STROKES, TONE_S, NEAR_S = 4, 1.5, 0.15
HELD_S, WANDER_S = 4.0, 0.1


def played(midi: int, seconds: float, dice: np.random.Generator, wander: float = 1.5, extent: float = 0.0) -> Samples:
    """As nobody holds it stiller: the pitch wanders by so many cents (SD), its level by 0.3 dB."""
    t_s = times(seconds, PRODUCT_RATE_HZ)
    points_s = np.arange(0, seconds + 2 * WANDER_S, WANDER_S)
    cents, level_db = (np.interp(t_s, points_s, by * dice.standard_normal(len(points_s))) for by in (wander, 0.3))
    cents = cents + extent * np.sin(2 * np.pi * (5.0 * t_s + dice.uniform()))
    bright = reedy(20, dice.uniform(6, 14))
    tone = harmonic(alto_hz(midi) * 2 ** (cents / 1200), bright, seconds, PRODUCT_RATE_HZ, int(dice.integers(10_000)))
    return edged(scaled_to(tone, -20) * 10 ** (level_db / 20), PRODUCT_RATE_HZ, 0.02)


def missed() -> list[float]:
    """Of each room and each silence, how many in a hundred."""
    return [_missed(room_db, silent_s) for room_db in ROOMS_DB for silent_s in SILENT_S]


def _missed(room_db: float, silent_s: float) -> float:
    found = []
    for midi in NOTES:
        dice = np.random.default_rng([midi, round(100 * silent_s), round(10 - room_db)])
        tones = [played(midi, TONE_S, dice) for _ in range(STROKES)]
        row, starts_s = row_of_tones(tones, PRODUCT_RATE_HZ, -70, gap_s=silent_s)
        heard_s = [tone.start_s - 1.0 for tone in hear(in_room(np.pad(row, PRODUCT_RATE_HZ), room_db, midi)).tones]
        found += [not any(abs(heard - start) < NEAR_S for heard in heard_s) for start in starts_s[1:]]
    return 100.0 * float(np.mean(found))


def invented() -> list[float]:
    """Held, trembling, waving; and slurred, where the next note is no stroke on the old one."""
    found = []
    for room_db in ROOMS_DB:
        for midi in NOTES:
            dice = np.random.default_rng([midi, round(10 - room_db)])
            ways = [{}, {"wander": 3.0}, {"extent": 8.0}, {"extent": 15.0}, {"extent": 30.0}]
            for way in ways:
                row, _ = row_of_tones([played(midi, HELD_S, dice, **way)], PRODUCT_RATE_HZ, -70, gap_s=1.0)
                found.append(float(len(hear(in_room(row, room_db, midi + 1)).tones) > 1))
            t_s = times(HELD_S, PRODUCT_RATE_HZ)
            up = harmonic(alto_hz(midi) * 2 ** (2 * np.floor(t_s) / 12), reedy(), HELD_S, PRODUCT_RATE_HZ, midi)
            row, _ = row_of_tones([edged(scaled_to(up, -20), PRODUCT_RATE_HZ)], PRODUCT_RATE_HZ, -70, gap_s=1.0)
            found.append(float(len(hear(in_room(row, room_db, midi + 1)).tones) > HELD_S))
    return found


FAR = "rooms of 0 to -5 dB"
BY = "the formula, scipy's convolution"
SWEEPS = (
    Sweep("tongue stroke missed", "%", f"silent for 0.05-0.2 s, {FAR}, 15 strokes each", BY, 40, 40, missed),
    Sweep("tongue stroke invented", "tones", f"held, trembling, waving, slurred, {FAR}", BY, 0, 0, invented),
)
