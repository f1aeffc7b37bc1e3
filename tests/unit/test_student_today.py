"""Today: what do I play?"""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.urls import reverse

from assignments import comments, plans, weeks
from assignments.models import DayPlan
from assignments.queries import today as today_query
from studio.models import Consent, Horn
from tests import builders, people, played
from tests.unit.student_cast import *  # noqa: F403  # the cast
from tests.unit.student_cast import TONES, plan, queries, shown

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)


def test_the_first_day_says_so_and_leads_to_the_set_up(client, horn, week):
    text = shown(client, "today")
    assert "Five minutes, twenty tones" in text
    assert "Your first day. We’ll find your notes together." in text
    assert 'href="/today/set-up/"' in text


def test_without_a_week_it_says_whom_to_ask(client, horn):
    text = shown(client, "today")
    assert "Nothing is set yet" in text
    assert "Set up and start" not in text
    assert 'href="/lesson/#write"' in text
    for page in ("range", "high_notes"):
        assert 'class="act' not in shown(client, page)  # nothing to play is promised there


def test_after_a_week_has_ended_its_tones_stay_playable(client, horn, teacher):
    weeks.set_week(
        horn=horn,
        by=teacher.user,
        routine=builders.routine(),
        starts_on=horn.studio.today() - 9 * DAY,
        ends_on=horn.studio.today() - 3 * DAY,
    )
    text = shown(client, "today")
    assert "Marisa hasn’t set this week yet." in text
    assert "Set up and start" in text


def test_the_plan_is_the_same_on_a_second_phone(client, horn, week):
    shown(client, "today")
    first = DayPlan.objects.get().tones
    shown(client, "today")
    assert DayPlan.objects.get().tones == first


def test_it_says_why_each_tone_is_there(horn, week):
    plan(week, why="needs_work")
    played.day(week, horn.studio.today() - DAY, TONES[:1])
    assert today_query.page(horn, horn.studio.today()).why == "3 that need work."


def test_what_was_picked_by_somebody_who_is_gone_was_picked_by_your_teacher(horn, week):
    week.set_by = None
    week.save()
    plan(week, why="teacher")
    assert today_query.page(horn, horn.studio.today()).why == "3 your teacher picked."


def test_more_horns_need_no_more_queries(horn, week, teacher):
    plan(week)

    def another(kind: str) -> int:
        other = Horn.objects.create(player=horn.player, kind=kind, in_use_since_on=horn.in_use_since_on)
        played.long_week(other, teacher.user)
        page = today_query.page(horn, horn.studio.today())
        assert all(one.week for one in page.other_horns)
        return queries(lambda: today_query.page(horn, horn.studio.today()))

    assert another("tenor") == another("soprano")


@pytest.mark.parametrize("why", ["needs_work", "oldest"])
def test_on_the_first_day_every_tone_is_new_and_stays_so_until_it_is_over(horn, week, why):
    plan(week, why=why)
    assert today_query.page(horn, horn.studio.today()).why == "3 new to you."
    played.day(week, horn.studio.today(), TONES[:1], missed={TONES[0]})
    assert today_query.page(horn, horn.studio.today()).why == "3 new to you."


def test_what_is_played_counts_down(client, horn, week):
    plan(week)
    played.day(week, horn.studio.today(), TONES[:1])
    text = shown(client, "today")
    assert "Two tones to go" in text
    assert 'href="/after/">See how it goes</a>' in text  # whether or not the phone was checked
    played.day(week, horn.studio.today(), TONES[1:], missed={TONES[1]})  # places 0 and 1 again: one tone is still open
    assert "One tone to go" in shown(client, "today")


def test_when_all_is_played_it_leads_to_what_was_heard(client, horn, week):
    plan(week)
    played.day(week, horn.studio.today(), TONES)
    text = shown(client, "today")
    assert "All three are played" in text
    assert "What you played today" in text
    assert 'href="/after/"' in text


def test_after_a_stop_for_pain_it_says_that_stopping_was_right_and_offers_no_playing(client, horn, week):
    plans.stop_because_it_hurts(plan(week), teacher_may_know=False)
    text = shown(client, "today")
    assert "Stopping was right." in text
    assert "/today/play/" not in text
    assert "/today/set-up/" not in text


def test_after_two_days_of_pain_in_a_week_it_is_half_as_much_and_asks_for_a_talk(client, horn, week):
    today = horn.studio.today()
    for ago in (4, 1):
        plans.stop_because_it_hurts(plans.plan_for(horn, today - ago * DAY), teacher_may_know=False)
    text = shown(client, "today")
    assert len(DayPlan.objects.get(on=today).tones) == 10
    assert "Ten tones today" in text
    assert "Talk with your teacher and a grown-up at home." in text


def test_a_pain_a_week_ago_halves_nothing(client, horn, week):
    today = horn.studio.today()
    for ago in (7, 1):
        plans.stop_because_it_hurts(plans.plan_for(horn, today - ago * DAY), teacher_may_know=False)
    text = shown(client, "today")
    assert "twenty tones" in text
    assert "Talk with your teacher" not in text


def test_days_without_one_on_target_are_said_in_whole_words(client, horn, week):
    plan(week)
    played.day(week, horn.studio.today() - DAY, TONES, missed=TONES)
    assert "None on target yet." in shown(client, "today")


def test_without_permission_nothing_records(client, horn, week):
    Consent.objects.all().delete()
    text = shown(client, "today")
    assert "Ask at home first" in text
    assert "/today/set-up/" not in text


def test_a_new_word_from_the_teacher_is_announced(client, horn, week, teacher):
    comments.note(horn, by=teacher.user, text="Bring the old reed.")
    assert "A new word from your teacher" in shown(client, "today")
    client.post(reverse("lesson"), {"read": "1"})
    assert "A new word" not in shown(client, "today")
    assert "Bring the old reed." in shown(client, "lesson")


def test_a_shut_block_is_shown_as_shut(client, horn, week):
    week.exercises.create(position=9, kind="overtones_third", stage=1)
    assert "Still shut" in shown(client, "today")


def test_it_never_counts_unbroken_days_or_asks_to_catch_up(client, horn, week):
    for ago in (9, 8, 2):
        played.day(week, horn.studio.today() - ago * DAY, TONES)
    words = re.sub(r"<[^>]+>", " ", shown(client, "today")).lower()
    assert not any(word in words for word in ("streak", "in a row", "missed", "catch up", "%", "!"))


def test_a_longer_past_needs_no_more_queries(horn, week):
    plan(week)
    few = queries(lambda: today_query.page(horn, horn.studio.today()))
    for ago in range(1, 8):
        played.day(week, horn.studio.today() - ago * DAY, TONES)
    played.day(week, horn.studio.today(), TONES)
    assert queries(lambda: today_query.page(horn, horn.studio.today())) <= few + 1  # the tries of the day's takes


def test_a_stranger_finds_no_page(client, studio):
    client.force_login(people.person("Nell Brackwater", studio, people.Role.GUARDIAN).user)
    shown(client, "today", status=404)


def test_the_page_that_sends_recordings_offers_nothing_to_send_where_nothing_is_taken(client, horn, week):
    plan(week)
    assert 'type="file"' in shown(client, "day_files")
    Consent.objects.all().delete()
    page = shown(client, "day_files", status=403)
    assert "Ask at home first" in page
    assert 'type="file"' not in page
