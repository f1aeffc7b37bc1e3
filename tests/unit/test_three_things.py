"""Three things after a session: what went well, what to listen to, what tomorrow is for."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, get_args

import pytest

from analysis.core.records import Asked, Check, Verdict
from analysis.core.three_things import Before, Family, Played, ThreeThings, severity, three_things, word
from analysis.core.words import all_words
from tests.unit.made import tone

MET = (
    Check("note", "met", True, part="written_midi"),
    Check("pitch", "met", True, 6.0, 12.0, part="pitch_cents"),
    Check("steadiness", "met", True, 3.0, 6.0, part="pitch_spread_cents"),
    Check("start", "met", True, 0.06, 0.12, part="air_before_s"),
)


def played(note: int = 72, dynamic: Any = "mf", *changed: Check, key: str = "", outcome: Any = None) -> Played:
    """A tone with nothing amiss but the checks that are given instead."""
    kept = [check for check in MET if check.part not in {c.part for c in changed}]
    checks = (*kept, *changed)
    missed = any(check.verdict == "missed" and check.must for check in checks)
    asked = Asked(note, dynamic=dynamic)
    return Played(asked, Verdict(outcome or ("miss" if missed else "hit"), checks), tone(written_midi=note), key)


def missed(measure: str, code: str, value: float | None = None, limit: float | None = None, must: bool = True) -> Check:
    part = {c.measure: c.part for c in MET}.get(measure, measure)
    return Check(measure, "missed", must, value, limit, code, (3.0, 4.0), part)


def test_what_was_not_yet_so_last_time_is_told_first_and_says_so() -> None:
    then = Before("2026-03-02", 60, "f", (missed("start", "starts_late", 0.4, 0.1),))
    found = three_things([played(72), played(60, "f"), played(74)], [then]).well
    assert found is not None
    assert (found.code, found.written_midi, found.word, found.also) == ("went_well_start", 60, "f", ("before_start",))


def test_only_the_latest_time_counts_as_last_time() -> None:
    before = [
        Before("2026-03-02", 60, "f", (missed("start", "starts_late", 0.4, 0.1),)),
        Before("2026-03-04", 60, "f", MET),
    ]
    found = three_things([played(60, "f")], before).well
    assert found is not None
    assert found.also == ()


def test_another_mark_of_the_same_note_is_another_tone() -> None:
    then = Before("2026-03-02", 60, "pp", (missed("start", "starts_late", 0.4, 0.1),))
    found = three_things([played(60, "f")], [then]).well
    assert found is not None
    assert found.also == ()


def test_without_a_past_the_most_room_to_spare_is_told() -> None:
    easy = Check("pitch", "met", True, 0.5, 12.0, part="pitch_cents")
    found = three_things([played(72), played(74, "mf", easy)]).well
    assert found is not None
    assert (found.code, found.written_midi) == ("went_well_pitch", 74)


def test_a_tone_on_target_comes_before_a_good_part_of_one_that_was_not() -> None:
    half = played(
        70, "mf", missed("pitch", "pitch_high", 20.0, 12.0), Check("start", "met", True, 0.0, 0.12, part="air_before_s")
    )
    found = three_things([half, played(72)]).well
    assert found is not None
    assert found.written_midi == 72


def test_on_a_day_without_a_hit_something_still_went_well() -> None:
    found = three_things([played(70, "mf", missed("pitch", "pitch_high", 20.0, 12.0))]).well
    assert found is not None
    assert found.code in ("went_well_start", "went_well_steady")


def test_the_one_to_listen_to_lies_furthest_from_its_limit_and_has_its_moment() -> None:
    near = played(70, "mf", missed("pitch", "pitch_high", 13.0, 12.0))
    far = played(73, "pp", missed("steadiness", "pitch_bulges_up", 18.0, 6.0), key="take 4")
    found = three_things([near, far]).listen
    assert found is not None
    assert (found.code, found.written_midi, found.at_s, found.key) == ("pitch_bulges_up", 73, (3.0, 4.0), "take 4")
    assert found.also == ("start_is_clean",)


def test_what_comes_up_again_and_again_weighs_more() -> None:
    once = played(70, "mf", missed("pitch", "pitch_high", 27.0, 12.0))
    often = [played(note, "mf", missed("start", "starts_with_air", 0.24, 0.12)) for note in (60, 61, 62)]
    found = three_things([once, *often]).listen
    assert found is not None
    assert found.code == "starts_with_air"


def test_nothing_missed_leaves_advice_to_listen_to_and_tomorrow_is_a_rest() -> None:
    hint = Check("stop", "missed", False, 40.0, 20.0, "ends_sagging", (7.0, 8.0), "sag_cents")
    found = three_things([played(72, "mf", hint)])
    assert found.listen is not None
    assert found.listen.code == "ends_sagging"
    assert found.tomorrow is not None
    assert found.tomorrow.code == "tomorrow_rest"
    assert three_things([played()]).listen is None


def test_tomorrow_is_for_what_was_missed_on_most_tones_on_its_worst_note() -> None:
    starts = [
        played(n, "mf", missed("start", "starts_with_air", s, 0.12)) for n, s in ((60, 0.2), (61, 0.4), (62, 0.3))
    ]
    loud = played(80, "mf", missed("pitch", "pitch_high", 60.0, 12.0))
    found = three_things([*starts, loud]).tomorrow
    assert found is not None
    assert (found.code, found.written_midi) == ("tomorrow_start", 61)


def test_nothing_is_made_of_unheard_tones() -> None:
    silent = Played(Asked(72), Verdict("unreadable", (), ("not_heard",)))
    assert three_things([silent, silent]) == three_things([]) == ThreeThings(None, None, None)


def test_the_same_day_gives_the_same_three_things() -> None:
    day = [played(n, "mf", missed("pitch", "pitch_high", 20.0, 12.0)) for n in (70, 71)] + [played(72)]
    assert three_things(day) == three_things([replace(one) for one in day])
    found = three_things(day).listen
    assert found is not None
    assert found.written_midi == 70


@pytest.mark.parametrize(
    ("value", "limit", "size"),
    [(24.0, 12.0, 2.0), (7.0, 14.0, 2.0), (500.0, 1.0, 5.0), (None, None, 2.0), (-3.0, 0.0, 2.0)],
)
def test_how_far_off_is_told_in_limits(value: float | None, limit: float | None, size: float) -> None:
    assert severity(Check("pitch", "missed", True, value, limit)) == size


def test_a_shape_is_a_tone_word_of_its_own() -> None:
    assert word(Asked(72, shape="swell")) == "swell"
    assert word(Asked(72, dynamic="pp")) == "pp"


def test_every_family_has_its_words() -> None:
    for family in get_args(Family):
        assert f"tomorrow_{family}" in all_words()
        if family != "note":
            assert f"went_well_{family}" in all_words()
            assert f"before_{family}" in all_words()
    assert {"tomorrow_rest", "start_is_clean"} <= set(all_words())
