"""A student with two horns and two teachers: what is set for either, and who said what about the high notes."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from assignments import decisions, plans, portions, weeks
from assignments.models import DayPlan, Decision
from assignments.refusals import Refusal
from studio.models import Horn
from tests import builders, people, played
from tests.unit.student_cast import *  # noqa: F403  # the cast
from tests.unit.student_cast import shown

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)
Kind = Decision.Kind


@pytest.fixture
def tenor(horn) -> Horn:
    return Horn.objects.create(player=horn.player, kind="tenor", in_use_since_on=dt.date(2026, 1, 1))


@pytest.fixture
def nola(studio):
    return people.teacher(studio, "Nola Reed")


def set_week(horn, by, *, begun: int = 0, days: int = 7):
    first = horn.studio.today() - begun * DAY
    return weeks.set_week(
        horn=horn, by=by.user, routine=builders.routine(), starts_on=first, ends_on=first + days * DAY
    )


def test_today_tells_of_the_other_horn_and_takes_it_up(client, horn, week, tenor, nola):
    assert "Nothing is set for it yet." in shown(client, "today")
    set_week(tenor, nola)
    assert "5 minutes a day are set for it." in shown(client, "today")
    assert client.post(reverse("take_up", args=[tenor.pk])).url == reverse("today")
    text = shown(client, "today")
    assert "Pim, tenor" in text
    assert reverse("take_up", args=[horn.pk]) in text


def test_with_one_horn_or_another_put_away_today_asks_nothing(client, horn, week, tenor):
    tenor.put_away_on = horn.studio.today()
    tenor.save()
    assert "What else you play" not in shown(client, "today")
    assert client.post(reverse("take_up", args=[tenor.pk])).status_code == 404


def test_after_a_stop_for_pain_no_other_horn_is_offered_and_none_that_is_taken_up_plays(
    client, horn, week, tenor, nola
):
    set_week(tenor, nola)
    shown(client, "today")
    client.post(reverse("hurts"))
    assert reverse("take_up", args=[tenor.pk]) not in shown(client, "today")
    client.post(reverse("take_up", args=[tenor.pk]))
    assert "You stopped for today" in shown(client, "today")
    assert client.get(reverse("play")).url == reverse("today")
    with pytest.raises(Refusal, match="You stopped because something hurt"):
        portions.may_begin(tenor, weeks.in_force(tenor, tenor.studio.today()).exercises.first(), tenor.studio.today())


def test_two_days_of_pain_on_one_horn_halve_the_plan_of_the_other(horn, week, tenor, nola):
    set_week(tenor, nola)
    today = horn.studio.today()
    for ago in (1, 2):
        plan = DayPlan.objects.create(horn=horn, week=week, on=today - ago * DAY, tones=[])
        plans.stop_because_it_hurts(plan, teacher_may_know=False)
    assert len(plans.plan_for(tenor, today).tones) == 10


def test_a_teacher_who_left_is_not_waited_for(client, horn, nola):
    set_week(horn, nola, begun=9, days=6)
    assert "Nola hasn’t set this week yet." in shown(client, "today")
    assert "Then Nola listens" in shown(client, "high_notes")
    nola.ends_on = horn.studio.today() - DAY
    nola.save()
    assert "Your teacher hasn’t set this week yet." in shown(client, "today")
    text = shown(client, "high_notes")
    assert "Nola" not in text
    assert "Then your teacher listens" in text


def decide(horn, by, kind, **more) -> None:
    decisions.decide(horn=horn, by=by.user, kind=kind, stage=1, words="Words.", **more)


def test_who_decided_is_named_whoever_sets_the_weeks(client, horn, week, nola):
    played.good_days(week, horn.studio.today() - DAY)
    decide(horn, nola, Kind.NOT_YET)
    text = shown(client, "high_notes")
    assert "Nola listened and said: not yet." in text
    assert "Keep your ground as it is" in text  # more days on target would bring nothing nearer
    assert "Days on target bring it nearer" not in text


def test_a_yes_is_told_as_that_of_whoever_said_it(client, horn, week, nola):
    played.good_days(week, horn.studio.today() - DAY)
    decide(horn, nola, Kind.CONFIRM)
    assert "Nola has listened and said yes." in shown(client, "high_notes")


def test_opened_by_hand_nobody_has_listened_and_the_last_day_is_told(client, horn, week, teacher):
    decide(horn, teacher, Kind.OPEN, until_on=dt.date(2099, 12, 2))
    text = shown(client, "high_notes")
    assert "Marisa opened it by hand until 2 December." in text
    assert "listened and said yes" not in text
    decide(horn, teacher, Kind.SHUT, until_on=dt.date(2099, 12, 3))
    assert "Marisa shut it for now until 3 December." in shown(client, "high_notes")


def test_on_a_pause_no_day_brings_anything_nearer(client, horn, week, teacher):
    decide(horn, teacher, Kind.PAUSE)
    text = shown(client, "high_notes")
    assert "on a pause nothing is counted" in text
    assert "Days on target bring it nearer" not in text


def test_of_decisions_of_one_day_the_newest_stands_first(client, horn, week, teacher):
    for kind in (Kind.OPEN, Kind.SHUT, Kind.OPEN, Kind.PAUSE):
        decide(horn, teacher, kind)
    text = shown(client, "high_notes")
    log = text[text.index("What was decided") :]
    assert log.index("set a pause") < log.index("Everything before") < log.rindex("opened by hand")
