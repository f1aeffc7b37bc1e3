"""Where tones are, and where there are none: sounded by the generator or made by hand, dry and in rooms."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from scipy.signal import resample_poly

from analysis.core.spectrum import frames_of
from analysis.core.tones import Found, find
from analysis.core.units import cents_between
from analysis.synthesis import Faults, Place, Room, ToneSpec, Truth, render

RATE_HZ = 24_000
DRY = Place(noise_dbfs=-72.0)
ROOM = Place(noise_dbfs=-65.0, room=Room(direct_to_reverberant_db=5.0, decay_s=0.6))
FAR = Place(noise_dbfs=-65.0, room=Room(direct_to_reverberant_db=-3.0, decay_s=0.8))
places = pytest.mark.parametrize("place", [DRY, ROOM, FAR], ids=["dry", "room", "far"])


def heard(samples: np.ndarray, instrument: str = "alto") -> tuple[Found, ...]:
    return find(frames_of([samples.astype(np.float32)], instrument))


def sounded(
    specs: Sequence[ToneSpec], place: Place = DRY, instrument: str = "alto"
) -> tuple[tuple[Found, ...], list[Truth]]:
    samples, truths = render(specs, instrument, place=place, seed=5)
    return heard(resample_poly(samples, 1, 2), instrument), truths


def worst(found: Sequence[Found], truths: Sequence[Truth]) -> tuple[float, float]:
    """Largest errors of start and stop, once every tone has its counterpart."""
    assert [round(cents_between(a.f0_hz, b.f0_hz) / 100) for a, b in zip(found, truths, strict=True)] == [0] * len(
        truths
    )
    starts = [abs(a.span.start_s - b.start_s) for a, b in zip(found, truths, strict=True)]
    stops = [abs(a.span.end_s - b.end_s) for a, b in zip(found, truths, strict=True)]
    return max(starts), max(stops)


def one_each(**faults: float | bool) -> list[ToneSpec]:
    return [
        ToneSpec(written_midi=written, seconds=3.0, breath=True, faults=Faults(**faults))  # type: ignore[arg-type]
        for written in (58, 67, 74, 81, 88)
    ]


@places
@pytest.mark.parametrize("instrument", ["soprano", "alto", "tenor", "baritone", "bass"])
def test_every_note_of_the_range_is_found_separate_and_slurred(place: Place, instrument: str) -> None:
    separate = [ToneSpec(written_midi=w, seconds=1.2, gap_s=0.7, breath=True) for w in range(58, 91, 2)]
    slurred = [ToneSpec(written_midi=w, seconds=1.2, slurred=w < 90) for w in range(58, 91, 2)]
    for specs in (separate, slurred):
        start_s, stop_s = worst(*sounded(specs, place, instrument))
        assert start_s <= (0.03 if place is DRY else 0.13)
        assert stop_s <= (0.03 if place is DRY else 0.25)


def test_a_room_moves_few_stops_by_more_than_60_ms() -> None:
    found, truths = sounded([ToneSpec(written_midi=w, seconds=1.5, gap_s=1.0) for w in range(58, 91)], ROOM)
    late = [a.span.end_s - b.end_s for a, b in zip(found, truths, strict=True)]
    assert np.percentile(np.abs(late), 90) <= 0.06
    assert abs(np.median(late)) <= 0.02


@pytest.mark.parametrize("gap_s", [0.03, 0.05, 0.08, 0.12, 0.2, 0.4])
def test_a_new_tongue_stroke_on_the_same_note_is_a_new_tone(gap_s: float) -> None:
    found, truths = sounded([ToneSpec(written_midi=67, seconds=2.0, gap_s=gap_s)] * 3)
    assert worst(found, truths) <= (0.03, 0.03)
    assert not any(tone.span.slurred_in for tone in found)


@pytest.mark.parametrize("gap_s", [0.12, 0.2, 0.4])
def test_in_a_room_most_tongue_strokes_are_heard_through_the_tail_and_none_is_invented(gap_s: float) -> None:
    human = Faults(unsteady_cents=1.0, level_unsteady_db=0.3)
    found = []
    for written in (60, 67, 74, 83):
        tones, _ = sounded([ToneSpec(written_midi=written, seconds=1.6, gap_s=gap_s, faults=human)] * 3, ROOM)
        found.append(len(tones))
    assert max(found) == 3
    assert sum(found) >= 10


def test_a_narrow_vibrato_in_a_loud_room_dips_again_and_again_and_stays_one_tone() -> None:
    specs = [ToneSpec(written_midi=w, seconds=4.0, gap_s=1.0, faults=Faults(vibrato_cents=8.0)) for w in (60, 72, 89)]
    found, truths = sounded(specs, FAR)
    assert len(found) == len(truths)


@places
@pytest.mark.parametrize(
    "faults",
    [
        {"vibrato_cents": 30.0},
        {"vibrato_cents": 60.0, "vibrato_hz": 4.5},
        {"waver_cents": 20.0},
        {"unsteady_cents": 12.0},
        {"level_unsteady_db": 2.0},
        {"drift_cents": 30.0},
        {"scoop_cents": -150.0, "scoop_s": 0.3},
        {"crack_s": 0.1},
        {"crack_s": 0.12, "crack_partial": 3.0},
        {"double_start": True},
        {"air_before_s": 0.4},
        {"accent_db": 5.0},
        {"sag_cents": -40.0},
        {"end_bump_db": 6.0},
        {"collapse_db": 8.0},
        {"hnr_db": 12.0},
        {"rise_s": 0.4},
        {"release_s": 0.4},
    ],
    ids=lambda faults: " ".join(faults),
)
def test_a_fault_never_makes_two_tones_of_one_or_none(place: Place, faults: dict[str, float | bool]) -> None:
    worst(*sounded(one_each(**faults), place))


def test_vibrato_in_a_slur_cuts_nothing() -> None:
    specs = [
        ToneSpec(written_midi=w, seconds=2.0, slurred=w < 79, faults=Faults(vibrato_cents=25.0))
        for w in range(67, 80, 2)
    ]
    assert worst(*sounded(specs, ROOM))[0] <= 0.12


# --- what is no tone ---------------------------------------------------------------------------------


def noise(seconds: float, seed: int = 3) -> np.ndarray:
    return np.random.default_rng(seed).normal(size=round(seconds * RATE_HZ))


def test_noise_clicks_and_rumble_are_no_tones() -> None:
    clicks = 1e-4 * noise(6.0)
    clicks[RATE_HZ :: RATE_HZ // 2] = 0.5
    rumble = np.cumsum(noise(6.0)) / 300
    for samples in (0.05 * noise(6.0), clicks, rumble - rumble.mean(), np.zeros(6 * RATE_HZ), np.zeros(0)):
        assert heard(samples) == ()


def voice(seconds: float = 8.0) -> np.ndarray:
    """Syllables of 0.2 to 0.4 s with a pitch that slides by 3 semitones, and breaks between them."""
    chance = np.random.default_rng(9)
    parts = [np.zeros(RATE_HZ // 2)]
    while sum(map(len, parts)) < seconds * RATE_HZ:
        length = round(chance.uniform(0.2, 0.4) * RATE_HZ)
        f0_hz = chance.uniform(150, 260) * 2 ** (chance.uniform(-3, 3) / 12 * np.linspace(0, 1, length))
        turn = 2 * np.pi * np.cumsum(f0_hz) / RATE_HZ
        wave = sum(np.sin(h * turn) / h for h in range(1, 15))
        parts += [0.1 * wave * np.hanning(length), np.zeros(round(chance.uniform(0.03, 0.2) * RATE_HZ))]
    return np.concatenate(parts) + 1e-4 * noise(sum(map(len, parts)) / RATE_HZ)


@pytest.mark.parametrize("instrument", ["alto", "tenor", "baritone"])
def test_talk_is_no_tone(instrument: str) -> None:
    assert heard(voice(), instrument) == ()


def test_talk_between_tones_leaves_them_alone() -> None:
    samples, truths = render([ToneSpec(written_midi=67, seconds=2.0, gap_s=6.0), ToneSpec(written_midi=72)], place=DRY)
    take = resample_poly(samples, 1, 2)
    start = round((truths[0].end_s + 0.8) * RATE_HZ)
    take[start : start + 4 * RATE_HZ] += voice(6.0)[: 4 * RATE_HZ]
    assert worst(heard(take), truths) <= (0.03, 0.06)


def test_a_tail_in_a_loud_room_is_no_tone() -> None:
    cathedral = Place(noise_dbfs=-70.0, room=Room(direct_to_reverberant_db=-3.0, decay_s=2.0))
    found, truths = sounded([ToneSpec(written_midi=w, seconds=2.0, gap_s=2.5) for w in (62, 74, 86)], cathedral)
    assert len(found) == len(truths)


# --- the same whatever the blocks ---------------------------------------------------------------------


@pytest.mark.parametrize("sizes", [(96_000,), (1,), (7, 1_000, 33_333), (240,), (10**9,)], ids=str)
def test_frames_do_not_depend_on_how_the_sound_comes_in_blocks(sizes: tuple[int, ...]) -> None:
    seconds = 0.3 if sizes == (1,) else 6.0
    samples = (0.1 * np.sin(2 * np.pi * 220 * np.arange(round(seconds * RATE_HZ)) / RATE_HZ)).astype(np.float32)
    samples += (1e-3 * noise(seconds)).astype(np.float32)
    blocks, at, turn = [], 0, 0
    while at < len(samples):
        blocks.append(samples[at : at + sizes[turn % len(sizes)]])
        at, turn = at + sizes[turn % len(sizes)], turn + 1
    whole, parted = frames_of([samples], "alto"), frames_of(blocks, "alto")
    assert len(whole.f0_hz) == len(parted.f0_hz) == len(samples) // 240 + 1
    for name in ("f0_hz", "prominence_db", "tonal_power", "partials", "plain_power", "weighted_power"):
        assert np.allclose(getattr(whole, name), getattr(parted, name), rtol=1e-4, atol=1e-9)
