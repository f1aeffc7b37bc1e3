"""The six tones before a yes: worked cases."""

from __future__ import annotations

import datetime as dt

from assignments import six_tones

ON = dt.date(2026, 3, 9)


def played(note, tone="mf", *, ago=1, hit=True, readable=True, kept=True, order=0):
    key = f"{note} {tone} {ago} {order}"
    return six_tones.Played(key, ON - dt.timedelta(days=ago), order, note, tone, hit, readable, kept)


def choose(tries):
    return six_tones.choose(tries, lowest=58, highest=90, on=ON)


def whole_range(**more):
    return [played(note, tone, **more) for note in range(58, 91) for tone in ("p", "mf", "f", "swell")]


def keys(picks):
    return {pick.kind: pick.key for pick in picks}


def test_a_full_history_gives_six_different_notes():
    picks = choose(whole_range())
    assert len(picks) == 6
    assert len({pick.key.split()[0] for pick in picks}) == 6


def test_each_kind_is_what_its_name_says():
    picks = keys(choose(whole_range()))
    assert picks["lowest_soft"].split()[1] == "p"
    assert int(picks["lowest_soft"].split()[0]) <= 61
    assert int(picks["across_break"].split()[0]) in (72, 73, 74, 75)
    assert int(picks["top"].split()[0]) >= 87
    assert picks["top"].split()[1] == "f"
    assert picks["shape"].split()[1] == "swell"


def test_the_latest_try_is_taken_on_target_or_not():
    tries = [*whole_range(ago=3), played(60, "pp", ago=1, hit=False), played(60, "p", ago=2)]
    assert keys(choose(tries))["lowest_soft"] == "60 pp 1 0"


def test_the_weakest_notes_are_those_that_hit_least_often_lately():
    tries = whole_range(ago=9)
    tries += [played(66, ago=ago, hit=ago < 3) for ago in range(1, 6)]
    tries += [played(70, ago=ago, hit=ago < 4) for ago in range(1, 6)]
    weakest = [pick.key for pick in choose(tries) if pick.kind == "just_right"]
    assert weakest == ["66 mf 1 0", "70 mf 1 0"]


def test_what_could_not_be_heard_is_never_chosen():
    tries = [*whole_range(ago=5), played(58, "ppp", ago=1, readable=False)]
    assert keys(choose(tries))["lowest_soft"] != "58 ppp 1 0"


def test_what_was_deleted_by_age_is_never_chosen():
    tries = [played(58, "p", ago=20, kept=False), played(59, "p", ago=25)]
    assert keys(choose(tries))["lowest_soft"] == "59 p 25 0"


def test_what_is_older_than_thirty_days_is_not_recent():
    assert {pick.key for pick in choose(whole_range(ago=30))} == {None}
    assert None not in {pick.key for pick in choose(whole_range(ago=29))}


def test_a_kind_without_a_tone_says_so_and_the_others_stay():
    picks = choose([played(note, "mf") for note in range(58, 91)])
    assert [pick.kind for pick in picks if pick.key is None] == ["lowest_soft", "top", "shape"]


def test_no_tone_is_heard_twice():
    picks = choose([played(73, "mf"), played(73, "swell")])
    found = [pick.key for pick in picks if pick.key]
    assert sorted(found) == ["73 mf 1 0", "73 swell 1 0"]


def test_a_horn_without_the_high_f_sharp_has_its_own_top():
    picks = six_tones.choose([played(86, "f", ago=4), played(90, "f")], lowest=58, highest=89, on=ON)
    assert keys(picks)["top"] == "86 f 4 0"
