"""When the last lesson was and when the next will be, with all that is moved, added or falls out; who reads it."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from assignments import lessons, many, weeks
from assignments.queries import many as many_page
from assignments.queries import student as student_page
from assignments.queries import studio as studio_page
from tests import builders, people, played

pytestmark = pytest.mark.django_db

DAY = dt.timedelta(days=1)
TUESDAY = dt.date(2026, 3, 10)


@pytest.fixture
def horn(studio, teacher):
    return taught_on(people.horn(studio), TUESDAY.weekday())


def taught_on(horn, weekday):
    horn.player.lesson_weekday, horn.player.lesson_at = weekday, None if weekday is None else dt.time(16, 30)
    horn.player.save()
    return horn


@pytest.fixture
def held(teacher, horn):
    """On this day there is a lesson too; at an hour of its own where one is said."""

    def put(on, at=None):
        lessons.differ(horn.player, by=teacher, on=on, at=at, falls_out=False)

    return put


@pytest.fixture
def falls_out(teacher, horn):
    def put(on):
        lessons.differ(horn.player, by=teacher, on=on, at=None, falls_out=True)

    return put


def last(horn, on=TUESDAY):
    return lessons.last(horn.player, on, lessons.changed([horn.player], on)[horn.player_id])


def following(horn, on=TUESDAY):
    return lessons.following(horn.player, on, lessons.changed([horn.player], on)[horn.player_id])


@pytest.mark.parametrize(
    ("weekday", "last_on", "next_on"),
    [
        (1, TUESDAY - 7 * DAY, TUESDAY + 7 * DAY),
        (0, TUESDAY - DAY, TUESDAY + 6 * DAY),
        (2, TUESDAY - 6 * DAY, TUESDAY + DAY),
        (None, TUESDAY - 7 * DAY, TUESDAY + 7 * DAY),
    ],
)
def test_nothing_moved_it_is_the_weekday_before_and_after(horn, weekday, last_on, next_on):
    taught_on(horn, weekday)
    assert (last(horn), following(horn)) == (last_on, next_on)


def test_a_lesson_moved_to_an_earlier_day_ends_the_week_earlier(horn, held, falls_out):
    falls_out(TUESDAY + 7 * DAY)
    held(TUESDAY + 5 * DAY)
    assert following(horn) == TUESDAY + 5 * DAY
    assert last(horn, TUESDAY + 8 * DAY) == TUESDAY + 5 * DAY


def test_a_lesson_moved_to_a_later_day_is_waited_for(horn, held, falls_out):
    falls_out(TUESDAY + 7 * DAY)
    held(TUESDAY + 9 * DAY)
    assert following(horn) == TUESDAY + 9 * DAY
    assert last(horn, TUESDAY + 9 * DAY) == TUESDAY
    assert last(horn, TUESDAY + 10 * DAY) == TUESDAY + 9 * DAY


def test_an_hour_is_told_only_where_one_is_known(horn, held):
    """The weekday's own stays its hour; on another day it is as open as it was said."""
    held(TUESDAY)
    held(TUESDAY + DAY)
    held(TUESDAY + 2 * DAY, dt.time(9, 45))
    found = lessons.between(horn.player, TUESDAY, TUESDAY + 2 * DAY, horn.player.lesson_days.all())
    assert [lesson.at for lesson in found] == [dt.time(16, 30), None, dt.time(9, 45)]


def test_a_lesson_that_fell_out_leaves_the_one_before(horn, falls_out):
    falls_out(TUESDAY - 7 * DAY)
    falls_out(TUESDAY + 7 * DAY)
    assert (last(horn), following(horn)) == (TUESDAY - 14 * DAY, TUESDAY + 14 * DAY)


def test_of_two_lessons_in_one_week_the_nearer_counts(horn, held):
    held(TUESDAY + 2 * DAY)
    assert following(horn) == TUESDAY + 2 * DAY
    assert last(horn, TUESDAY + 3 * DAY) == TUESDAY + 2 * DAY
    assert following(horn, TUESDAY + 2 * DAY) == TUESDAY + 7 * DAY


def test_without_a_fixed_day_single_lessons_count(horn, held):
    taught_on(horn, None)
    held(TUESDAY - 3 * DAY)
    held(TUESDAY + 4 * DAY)
    assert (last(horn), following(horn)) == (TUESDAY - 3 * DAY, TUESDAY + 4 * DAY)


def test_where_every_lesson_fell_out_for_long_it_is_a_week(horn, falls_out):
    for week in (*range(-13, 0), *range(1, 9)):
        falls_out(TUESDAY + 7 * week * DAY)
    assert (last(horn), following(horn)) == (TUESDAY - 7 * DAY, TUESDAY + 7 * DAY)


@pytest.mark.usefixtures("signed_in")
class TestPages:
    """Today is a Tuesday's lesson day; what is moved moves what the pages say."""

    @pytest.fixture
    def today(self, horn):
        on = horn.studio.today()
        taught_on(horn, on.weekday())
        return on

    def test_what_changed_is_told_since_the_lesson_that_was_held(self, today, horn, teacher, falls_out):
        week = played.long_week(horn, teacher)
        played.day(week, today - 9 * DAY, [(70, "mf")], missed={(70, "mf")})
        assert student_page.since_lesson(horn, today, teacher).moments == ()
        falls_out(today - 7 * DAY)
        page = student_page.since_lesson(horn, today, teacher)
        assert (page.since, [view.now.row.written_midi for view in page.moments]) == (today - 14 * DAY, [70])

    def test_the_ledger_hears_back_to_the_same_day(self, today, horn, studio, teacher, falls_out):
        played.day(played.long_week(horn, teacher), today - 9 * DAY, [(70, "mf")], missed={(70, "mf")})
        other = taught_on(people.horn(studio, "Teo Amberley"), today.weekday())
        played.day(played.long_week(other, teacher), today - 9 * DAY, [(70, "mf")], missed={(70, "mf")})
        falls_out(today - 7 * DAY)
        rows = {row.name: len(row.moments) for row in studio_page.overview(staff(teacher)).rows}
        assert rows == {"Pim Larkspur": 1, "Teo Amberley": 0}

    def test_a_lesson_that_falls_out_today_is_no_lesson_of_today(self, today, horn, teacher, falls_out):
        assert [row.name for row in studio_page.overview(staff(teacher)).lessons] == ["Pim Larkspur"]
        falls_out(today)
        assert studio_page.overview(staff(teacher)).lessons == ()
        assert student_page.since_lesson(horn, today, teacher).lesson is None

    def test_an_hour_of_its_own_is_said(self, client, today, horn, teacher, held):
        held(today, dt.time(9, 45))
        assert "Lesson today at 09:45." in client.get(reverse("student", args=[horn.pk])).content.decode()
        (row,) = studio_page.overview(staff(teacher)).lessons
        assert row.lesson_at == dt.time(9, 45)

    def test_a_week_lasts_until_the_day_before_the_moved_lesson(self, client, today, horn, falls_out, held):
        falls_out(today + 7 * DAY)
        held(today + 9 * DAY)
        text = client.get(reverse("week", args=[horn.pk])).content.decode()
        assert f'value="{(today + 8 * DAY).isoformat()}"' in text

    def test_for_many_too(self, today, horn, teacher, studio, held):
        held(today + 3 * DAY)
        (student,) = many_page.page(staff(teacher), [horn]).students
        assert student.until_on == today + 2 * DAY
        many.give([horn], by=teacher, routine=builders.routine(), starts_on=today)
        assert weeks.latest(horn).ends_on == today + 2 * DAY


def staff(user):
    return user.memberships.get()
