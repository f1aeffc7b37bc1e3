"""Standings kept by the process: never read when anything they follow from has changed."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.db.models import F
from django.test.utils import CaptureQueriesContext

from assignments import decisions, known_ladders, rule_changes, standings
from assignments.models import Try
from tests import builders, people, played

pytestmark = pytest.mark.django_db(transaction=True)  # what is kept is kept on commit

DAY = dt.timedelta(days=1)


@pytest.fixture
def horn(studio):
    return people.horn(studio)


def cost(horn, on):
    with CaptureQueriesContext(connection) as asked:
        standings.ladders([horn], on)
    return len(asked)


def test_what_is_known_costs_one_query(horn, teacher, studio):
    played.day(played.long_week(horn, teacher), studio.today() - DAY, audio=None)
    assert [cost(horn, studio.today()) for _ in range(3)] == [5, 1, 1]


def change_by_playing(horn, teacher, today):
    played.day(horn.weeks.get(), today, audio=None)


def change_by_playing_more_of_a_day(horn, teacher, today):
    played.day(horn.weeks.get(), today - DAY, [(60, "pp"), (61, "pp")], audio=None)


def change_by_a_tone_that_could_not_be_heard(horn, teacher, today):
    played.day(horn.weeks.get(), today, [(60, "pp")], unreadable=[(60, "pp")], audio=None)


def change_by_a_take_that_settles_late(horn, teacher, today):
    """Received before another of the same tone, and missed: the day's first try is another one, the day as long."""
    (late,) = played.day(horn.weeks.get(), today - DAY, [(60, "mf")], missed={(60, "mf")}, audio=None)
    Try.objects.filter(pk=late.pk).update(played_at=F("played_at") - DAY)
    standings.fold(horn, today - DAY)


def change_by_deciding(horn, teacher, today):
    decisions.decide(horn=horn, by=teacher, kind="pause", words="Ill.")


def change_by_a_week(horn, teacher, today):
    builders.week(horn, teacher, excluded_written_midi=[58])


def change_by_the_students_rule(horn, teacher, today):
    rule_changes.agree(studio=horn.studio, horn=horn, by=teacher, chosen={"opens_at": 6}, from_on=today)


def change_by_the_studios_rule(horn, teacher, today):
    rule_changes.agree(studio=horn.studio, by=teacher, chosen={"opens_at": 6}, from_on=today)


def change_by_the_range(horn, teacher, today):
    horn.lowest_written_midi = 60
    horn.save()


CHANGES = [value for name, value in sorted(globals().items()) if name.startswith("change_by")]


@pytest.mark.parametrize("change", CHANGES, ids=lambda one: one.__name__)
def test_any_change_is_read_anew_and_as_if_nothing_had_been_kept(horn, teacher, studio, monkeypatch, change):
    today = studio.today()
    played.day(played.long_week(horn, teacher), today - DAY, [(60, "mf"), *played.EVERY_NOTE[4:]], audio=None)
    before = standings.ladders([horn], today)[horn.pk]
    change(horn, teacher, today)
    after = standings.ladders([horn], today)[horn.pk]
    monkeypatch.setattr(known_ladders, "_known", {})
    assert standings.ladders([horn], today)[horn.pk] == after
    if change is not change_by_the_students_rule and change is not change_by_the_studios_rule:
        assert after != before  # a rule speaks at the next test


def test_each_day_stands_for_itself(horn, teacher, studio):
    today = studio.today()
    decisions.decide(horn=horn, by=teacher, kind="pause", words="Ill.", until_on=today + DAY)
    states = [standings.standing(horn, 1, today + ahead * DAY).state for ahead in (0, 1, 2, 0)]
    assert states == ["paused", "paused", "building", "paused"]


def test_only_so_many_are_kept(horn, studio, monkeypatch):
    monkeypatch.setattr(known_ladders, "KEPT", 3)
    monkeypatch.setattr(known_ladders, "_known", {})
    for ahead in range(9):
        standings.ladders([horn], studio.today() + ahead * DAY)
    assert len(known_ladders._known) == 3
