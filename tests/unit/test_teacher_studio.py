"""The overview: who needs me, and for what?"""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from assignments import decisions, plans
from assignments.queries import studio as studio_query
from studio import consent
from studio.models import Horn
from tests import people, played

pytestmark = pytest.mark.django_db

MOST_QUERIES = 15


def page(teacher, studio, sort="", backwards=False):
    return studio_query.overview(studio.memberships.get(user=teacher), sort, backwards)


def test_an_empty_studio_shows_how_it_begins(client, studio, teacher):
    client.force_login(teacher)
    answer = client.get(reverse("studio_today")).content.decode()
    assert "Nobody is here yet" in answer
    assert reverse("add_student") in answer
    assert reverse("consent_form") in answer


def test_a_new_student_is_there_with_a_first_lesson(client, studio, teacher):
    people.horn(studio)
    client.force_login(teacher)
    answer = client.get(reverse("studio_today")).content.decode()
    assert "Pim Larkspur" in answer
    assert "first lesson, no takes yet" in answer


def test_a_new_students_row_says_what_is_missing_before_the_first_take(studio, teacher):
    horn = people.horn(studio)
    horn.player.consents.all().delete()
    row = page(teacher, studio).rows[0]
    assert row.one_line == "Alto. First lesson, no takes yet, no week set, no permission to record."
    consent.give(student=horn.player, given_by="Edda Fenn", how="paper", logged_by=teacher)
    assert page(teacher, studio).rows[0].lacks == ("no week set",)
    played.long_week(horn, teacher)
    assert page(teacher, studio).rows[0].why == "first lesson, no takes yet"


def test_whoever_plays_two_horns_is_one_student(studio, teacher):
    horn = people.horn(studio)
    Horn.objects.create(player=horn.player, kind="tenor", in_use_since_on=studio.today())
    whole = page(teacher, studio)
    assert len(whole.rows) == 2
    assert whole.lead == "1 student; 0 practised this week."


def test_lessons_today_come_first_by_their_time_then_requests_then_the_rest(studio, teacher):
    today = studio.today()
    for name, at in (("Late Tern", dt.time(18)), ("Early Tern", dt.time(15))):
        horn = people.horn(studio, name)
        horn.player.lesson_weekday, horn.player.lesson_at = today.weekday(), at
        horn.player.save()
    people.horn(studio, "Quiet Fenn")
    ready = people.horn(studio, "Ready Vane")
    played.good_days(played.long_week(ready, teacher), today - dt.timedelta(days=1), audio=None)
    found = page(teacher, studio)
    assert [row.name for row in found.lessons] == ["Early Tern", "Late Tern"]
    assert [row.name for row in found.asking] == ["Ready Vane"]
    assert [row.name for row in found.others] == ["Quiet Fenn"]
    assert found.headline == "Two lessons today, one student asks you to listen"
    assert [title for title, _rows in found.groups][-1] == "Everyone else, longest unheard first"


def test_nobody_is_everyone_else_while_nobody_stands_above(studio, teacher):
    people.horn(studio, "Quiet Fenn")
    assert [title for title, _rows in page(teacher, studio).groups] == ["Everyone, longest unheard first"]


def test_a_row_counts_practice_days_days_on_target_and_the_note_left_longest(studio, teacher):
    horn = people.horn(studio)
    week, today = played.long_week(horn, teacher), studio.today()
    day = dt.timedelta(days=1)
    without_low_b = tuple(tone for tone in played.EVERY_NOTE if tone[0] != 59)
    played.day(week, today - 3 * day, audio=None)
    played.day(week, today - 2 * day, without_low_b, missed=played.EVERY_NOTE[4:20], audio=None)
    played.day(week, today - day, without_low_b, audio=None)
    (row,) = page(teacher, studio).rows
    assert (row.practised_days, row.on_target_days) == (3, 2)
    assert row.practised[-4:] == (True, True, True, False)
    assert (row.unplayed.written_midi, row.unplayed.days, row.unplayed.at_least) == (59, 3, False)


def test_a_day_that_ended_because_it_hurt_counts_as_practised_and_is_told_only_if_the_family_agrees(studio, teacher):
    horn = people.horn(studio)
    played.long_week(horn, teacher)
    plan = plans.plan_for(horn, studio.today())
    plans.stop_because_it_hurts(plan, teacher_may_know=False)
    (row,) = page(teacher, studio).rows
    assert row.practised_days == 1
    assert not row.hurt
    plan.teacher_may_know = True
    plan.save()
    (row,) = page(teacher, studio).rows
    assert row.why == "stopped: it hurt"


def test_moments_are_counted_since_the_last_lesson_only(studio, teacher):
    horn = people.horn(studio)
    today = studio.today()
    horn.player.lesson_weekday = (today - dt.timedelta(days=2)).weekday()
    horn.player.save()
    week = played.long_week(horn, teacher)
    played.day(week, today - dt.timedelta(days=3), missed={(60, "mf"), (62, "mf")}, audio=None)
    played.day(week, today - dt.timedelta(days=1), missed={(64, "mf")}, audio=None)
    (row,) = page(teacher, studio).rows
    assert len(row.moments) == 1
    assert row.why == "1 moment"


def test_somebody_who_has_gone_quiet_is_named(studio, teacher):
    horn = people.horn(studio)
    played.day(played.long_week(horn, teacher), studio.today() - dt.timedelta(days=9), audio=None)
    assert page(teacher, studio).rows[0].why == "quiet for 9 days"


def test_somebody_on_a_pause_is_not_called_quiet(studio, teacher):
    horn = people.horn(studio)
    played.day(played.long_week(horn, teacher), studio.today() - dt.timedelta(days=9), audio=None)
    until = studio.today() + dt.timedelta(days=5)
    decisions.decide(horn=horn, by=teacher, kind="pause", words="Holidays", until_on=until)
    (row,) = page(teacher, studio).rows
    assert row.why == "none"
    assert row.gate_line.startswith("paused until")
    assert page(teacher, studio).paused == 1


def test_who_was_left_unheard_longest_stands_first(client, studio, teacher):
    names = ("Heard Lately", "Never Heard")
    tries = {}
    for name in names:
        horn = people.horn(studio, name)
        tries[name] = played.day(played.long_week(horn, teacher), studio.today(), [(60, "mf")])[0]
    client.force_login(teacher)
    client.post(reverse("heard", args=[tries["Heard Lately"].pk]))
    assert [row.name for row in page(teacher, studio).others] == ["Never Heard", "Heard Lately"]


@pytest.mark.parametrize("sort", ["name", "horn", "practised", "on_target", "unplayed", "to_hear", "gate"])
def test_every_column_sorts_both_ways(client, studio, teacher, sort):
    for count, name in enumerate(("Ada Birch", "Bea Copse", "Cleo Marl")):
        horn = people.horn(studio, name, kind=("tenor", "alto", "baritone")[count])
        for ago in range(count):
            played.day(
                played.long_week(horn, teacher) if ago == 0 else horn.weeks.first(),
                studio.today() - dt.timedelta(days=ago + 1),
                missed={(60 + ago, "mf")},
                audio=None,
            )
    up = [row.name for row in page(teacher, studio, sort).rows]
    down = [row.name for row in page(teacher, studio, sort, backwards=True).rows]
    assert sorted(up) == sorted(down) == ["Ada Birch", "Bea Copse", "Cleo Marl"]
    assert up[0] != down[0]
    client.force_login(teacher)
    shown = client.get(reverse("studio_today"), {"sort": sort}).content.decode()
    assert 'aria-sort="ascending"' in shown
    assert re.findall(r'<th scope="row"><a[^>]*>([^<]+)', shown) == up


def test_students_who_left_and_horns_that_were_put_away_are_gone(studio, teacher):
    left = people.horn(studio, "Left Long")
    left.player.ends_on = studio.today() - dt.timedelta(days=1)
    left.player.save()
    put_away = people.horn(studio, "Put Away")
    put_away.put_away_on = studio.today()
    put_away.save()
    assert page(teacher, studio).rows == ()


@pytest.mark.django_db(transaction=True)  # what is known is kept on commit
def test_the_number_of_queries_does_not_grow_with_the_students(client, studio, teacher):
    client.force_login(teacher)

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert client.get(reverse("studio_today")).status_code == 200
        return len(seen)

    def add(name):
        horn = people.horn(studio, name)
        played.day(
            played.long_week(horn, teacher), studio.today() - dt.timedelta(days=1), missed={(60, "mf")}, audio=None
        )

    add("First One")
    queries()  # the first page after signing in also writes down that somebody came
    few = queries()
    for number in range(12):
        add(f"Player{number} More")
    many = queries()  # twelve of them stand for the first time: that is read once more, for all of them together
    assert queries() == few < many <= MOST_QUERIES
