"""The possible squeeze of soft tones: two signs on two days, each against the same player's own tones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from analysis.core.records import Attack, Dynamic
from analysis.core.squeeze import PossibleSqueeze, reading, signs
from analysis.core.squeeze_signs import SoftReading
from tests.unit.made import tone

DAYS = tuple(f"2026-03-{day:02d}" for day in range(2, 9))
LEVELS: dict[Dynamic, float] = {"ppp": -40.0, "pp": -36.0, "mf": -24.0, "ff": -16.0}


def plain(on: str, dynamic: Dynamic, note: int = 73, seed: int = 0, place: str = "stand") -> SoftReading:
    """A tone as this player usually plays it: brighter by 3 percent a dB, a little scatter in everything."""
    rng = np.random.default_rng([seed, note, int(on[-2:]), len(dynamic), ord(dynamic[0])])
    level_db = LEVELS[dynamic] + rng.normal(0.0, 0.8)
    return SoftReading(
        on=on,
        written_midi=note,
        dynamic=dynamic,
        set_up=place,
        pitch_cents=rng.normal(0.0, 2.0),
        level_db=level_db,
        centroid_hz=float(1500.0 * np.exp(0.03 * (level_db + 24.0) + rng.normal(0.0, 0.03))),
        onset_s=0.05,
        hnr_db=24.0 + rng.normal(0.0, 1.0),
        collapse_at_s=None,
        dropouts=0,
        at_s=(10.0, 18.0),
        key=f"{on} {note} {dynamic}",
    )


def weeks(notes: Sequence[int] = (72, 73, 74), seed: int = 0) -> list[SoftReading]:
    return [plain(on, dynamic, note, seed) for on in DAYS for note in notes for dynamic in LEVELS]


def with_signs(readings: list[SoftReading], days: Sequence[str], note: int = 73, **signs: float) -> list[SoftReading]:
    """The same weeks with this note's soft tones changed on some days."""

    def changed(one: SoftReading) -> SoftReading:
        if one.on not in days or one.written_midi != note or one.dynamic not in ("ppp", "pp"):
            return one
        return replace(
            one,
            pitch_cents=(one.pitch_cents or 0.0) + signs.get("cents", 0.0),
            onset_s=signs.get("onset_s", one.onset_s),
            hnr_db=(one.hnr_db or 0.0) - signs.get("noise_db", 0.0),
            centroid_hz=(one.centroid_hz or 0.0) * (1.0 - signs.get("dull", 0.0)),
            collapse_at_s=signs.get("collapse_at_s"),
        )

    return [changed(one) for one in readings]


def only(found: tuple[PossibleSqueeze, ...]) -> PossibleSqueeze:
    (one,) = found
    return one


@pytest.mark.parametrize("seed", range(12))
def test_nothing_is_said_of_a_player_who_plays_as_always(seed: int) -> None:
    assert signs(weeks(seed=seed)) == ()


def test_sharp_and_late_on_two_days_is_worth_listening_to() -> None:
    found = only(signs(with_signs(weeks(), DAYS[3:5], cents=16.0, onset_s=0.3)))
    assert found.written_midi == 73
    assert found.days == (DAYS[4], DAYS[3])
    assert set(found.names) >= {"sharp", "late"}
    late = next(sign for sign in found.signs if sign.name == "late")
    assert late.at_s[0] < 10.0 < late.at_s[1]
    assert late.key.startswith(late.on)


def test_one_sign_is_never_enough_however_often() -> None:
    assert signs(with_signs(weeks(), DAYS, onset_s=0.4)) == ()


def test_two_signs_on_one_day_are_not_enough() -> None:
    assert signs(with_signs(weeks(), DAYS[3:4], onset_s=0.4, noise_db=9.0)) == ()


@pytest.mark.parametrize(
    ("change", "names"),
    [
        ({"cents": -18.0, "onset_s": 0.3}, {"flat", "late"}),
        ({"noise_db": 10.0, "onset_s": 0.3}, {"airy", "late"}),
        ({"dull": 0.4, "onset_s": 0.3}, {"dull", "late"}),
        ({"collapse_at_s": 14.0, "onset_s": 0.3}, {"collapses", "late"}),
    ],
)
def test_each_sign_is_told_by_its_name(change: dict[str, float], names: set[str]) -> None:
    assert set(only(signs(with_signs(weeks(), DAYS[2:4], **change))).names) == names


def test_the_moment_of_a_collapse_is_the_moment_to_hear() -> None:
    found = only(signs(with_signs(weeks(), DAYS[2:4], collapse_at_s=14.0, onset_s=0.3)))
    collapse = next(sign for sign in found.signs if sign.name == "collapses")
    assert collapse.at_s == (13.5, 15.0)


def test_softer_is_duller_by_nature_and_that_is_no_sign() -> None:
    softest = [
        replace(one, level_db=-44.0, centroid_hz=1500.0 * np.exp(0.03 * -20.0))
        for one in weeks()
        if one.dynamic == "ppp"
    ]
    loud = [one for one in weeks() if one.dynamic != "ppp"]
    late = [replace(one, onset_s=0.4) if one.written_midi == 73 else one for one in softest]
    assert signs([*loud, *late]) == ()


def test_a_day_that_lies_sharp_as_a_whole_is_a_cold_room_and_no_sign() -> None:
    moved = [
        replace(one, pitch_cents=(one.pitch_cents or 0.0) + 18.0) if one.on in DAYS[2:4] else one for one in weeks()
    ]
    late = with_signs(moved, DAYS[2:4], onset_s=0.3)
    assert all("sharp" not in one.names for one in signs(late))


def test_another_place_of_the_phone_has_its_own_line() -> None:
    elsewhere = [
        replace(one, set_up="shelf", level_db=(one.level_db or 0.0) + 10.0, centroid_hz=(one.centroid_hz or 0.0) * 0.7)
        if one.on in DAYS[3:]
        else one
        for one in weeks()
    ]
    assert signs(with_signs(elsewhere, DAYS[4:6], onset_s=0.3)) == ()


def test_bell_notes_may_take_longer() -> None:
    low = weeks((60, 61))
    assert signs(with_signs(low, DAYS[2:4], note=60, onset_s=0.2, noise_db=9.0)) == ()
    assert only(signs(with_signs(low, DAYS[2:4], note=60, onset_s=0.3, noise_db=9.0))).written_midi == 60


def test_soft_and_loud_that_lie_together_are_a_sign() -> None:
    narrow = [
        replace(one, level_db=-24.0 + 0.1 * len(one.dynamic), centroid_hz=1500.0)
        if one.on in DAYS[2:4] and one.written_midi == 73
        else one
        for one in weeks()
    ]
    found = only(signs(with_signs(narrow, DAYS[2:4], onset_s=0.3)))
    assert {"small_range", "late"} <= set(found.names)


def test_what_was_not_measured_makes_no_sign() -> None:
    blind = [
        replace(one, level_db=None, centroid_hz=None, hnr_db=None, pitch_cents=None, onset_s=None) for one in weeks()
    ]
    assert signs(blind) == ()
    assert signs([]) == ()


def test_a_few_tones_make_no_line_and_no_usual_noise() -> None:
    few = with_signs([plain(on, d) for on in DAYS[:2] for d in ("pp", "mf")], DAYS, noise_db=20.0, dull=0.6)
    assert signs(few) == ()


def test_the_note_with_most_signs_comes_first() -> None:
    two = with_signs(weeks(), DAYS[2:4], note=72, onset_s=0.3, noise_db=9.0)
    three = with_signs(two, DAYS[2:4], note=74, onset_s=0.3, noise_db=9.0, cents=20.0)
    assert [one.written_midi for one in signs(three)] == [74, 72]


def test_a_reading_leaves_out_what_something_spoiled() -> None:
    heard = tone(
        attack=Attack(rise_s=0.04, air_before_s=0.1),
        hidden={"level_db": "level_control_suspected", "hnr_db": "room_hides_noise"},
        collapse_at_s=2.0,
    )
    found = reading(heard, on="2026-03-02", dynamic="pp", set_up="stand", key="k")
    assert (found.level_db, found.hnr_db, found.collapse_at_s) == (None, None, None)
    assert found.onset_s == pytest.approx(0.14)
    assert (found.pitch_cents, found.key) == (0.0, "k")
    gated = replace(heard, hidden={"air_before_s": "noise_gate"})
    assert reading(gated, on="2026-03-02", dynamic="pp", set_up="stand").onset_s is None
