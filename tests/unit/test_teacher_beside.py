"""What a teacher says beside a verdict, and the days noted from the printed card: both are kept, neither decides."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from assignments import ear_answers, standings
from assignments.models import EarAnswer, PaperDay
from assignments.queries import ear as ear_query
from assignments.queries import ear_found as found_query
from assignments.queries import studio as studio_query
from studio.models import Membership
from tests import people, played

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("signed_in")]

DAY = dt.timedelta(days=1)


@pytest.fixture
def horn(studio, teacher):
    return people.horn(studio, level="intermediate")


@pytest.fixture
def tried(horn, teacher):
    """A hit, a miss and one that couldn't be heard."""
    tones = [(60, "mf"), (62, "mf"), (64, "mf")]
    on = horn.studio.today() - DAY
    return played.day(played.long_week(horn, teacher), on, tones, missed=[(62, "mf")], unreadable=[(64, "mf")])


def say(client, one, said, back="student"):
    return client.post(reverse("agree", args=[one.pk]), {"said": said, "back": back})


def staff(studio):
    return Membership.objects.get(studio=studio, user__username="marisa")


@pytest.mark.parametrize(
    ("place", "said", "accepted"), [(0, "agree", True), (0, "other", False), (1, "agree", False), (1, "other", True)]
)
def test_agreeing_with_a_verdict_is_an_answer_of_the_ear_given_beside_it(client, tried, place, said, accepted):
    answer = say(client, tried[place], said)
    assert answer.url == f"{reverse('student', args=[tried[place].horn_id])}#moment-{tried[place].pk}"
    row = EarAnswer.objects.get(about_try=tried[place])
    assert (row.accepted, row.blind) == (accepted, False)


def test_the_last_word_beside_a_verdict_stands(client, tried, teacher):
    say(client, tried[1], "agree")
    say(client, tried[1], "other", "tone")
    assert ear_answers.agreements(teacher, [tried[1].pk]) == {tried[1].pk: False}


def test_what_was_said_blind_is_not_replaced(client, tried, teacher):
    ear_answers.answer(tried[0], by=teacher, accepted=False)
    say(client, tried[0], "agree")
    assert EarAnswer.objects.values_list("accepted", "blind").get() == (False, True)


def test_there_is_nothing_to_agree_with_where_nothing_was_heard(client, tried):
    assert say(client, tried[2], "agree").status_code == 409
    assert not EarAnswer.objects.exists()


def test_answers_beside_a_verdict_set_no_limit_and_are_told_apart(client, tried, studio, teacher):
    say(client, tried[0], "agree")
    say(client, tried[1], "other")
    found = found_query.page(staff(studio), "intermediate")
    assert found.answered == 0
    assert found.beside.startswith("1 of 2")
    text = client.get(f"{reverse('ear_found')}?level=intermediate").content.decode()
    assert "You agreed on: 1 of 2" in text


def test_a_tone_whose_verdict_was_before_the_ear_never_comes_up_blind(client, tried, studio):
    before = ear_query.pool_of(staff(studio), "intermediate").exclude(ear_answers__by=staff(studio).user).count()
    say(client, tried[0], "agree")
    after = ear_query.pool_of(staff(studio), "intermediate").exclude(ear_answers__by=staff(studio).user)
    assert (before, after.count()) == (2, 1)
    client.post(reverse("ear_answer"), {"answer": "take_back", "level": "intermediate"})
    assert EarAnswer.objects.count() == 1


def test_each_moment_and_each_tone_shows_what_this_ear_said(client, tried, horn):
    say(client, tried[1], "other")
    pressed = 'value="other" aria-pressed="true"'
    assert pressed in client.get(reverse("student", args=[horn.pk])).content.decode()
    assert pressed in client.get(reverse("one_tone", args=[tried[1].pk])).content.decode()


def test_neither_student_nor_assistant_is_asked(client, tried, studio, horn):
    helper = people.person("Teo Wrenfield", studio, Membership.Role.ASSISTANT).user
    for reader in (helper, horn.player.user):
        client.force_login(reader)
        text = client.get(reverse("one_tone", args=[tried[1].pk])).content.decode()
        assert reverse("agree", args=[tried[1].pk]) not in text


def keep(client, horn, *days):
    return client.post(reverse("paper", args=[horn.pk]), {"days": [str(day) for day in days]})


def test_a_day_on_paper_shows_as_practised_everywhere_and_counts_for_no_gate(client, horn, studio, teacher):
    home = people.person("Jo Larkspur", studio, Membership.Role.GUARDIAN)
    home.wards.add(horn.player)
    played.long_week(horn, teacher)
    today = studio.today()
    before = standings.standing(horn, 1, today)
    assert keep(client, horn, today).url.endswith("#on-paper")
    assert standings.standing(horn, 1, today) == before
    (row,) = studio_query.overview(staff(studio)).rows
    assert row.practised_days == 1
    assert "Practised on 1 of" in client.get(reverse("student", args=[horn.pk])).content.decode()
    client.force_login(home.user)
    assert "One day of tones" in client.get(reverse("home_month", args=[horn.player_id])).content.decode()


def test_keeping_again_takes_back_what_is_no_longer_ticked(client, horn, studio):
    today = studio.today()
    keep(client, horn, today, today - DAY)
    keep(client, horn, today - DAY, today - 2 * DAY)
    assert set(PaperDay.objects.values_list("on", flat=True)) == {today - DAY, today - 2 * DAY}


def test_only_days_of_the_last_fortnight_can_be_noted(client, horn, studio):
    today = studio.today()
    PaperDay.objects.create(horn=horn, on=today - 30 * DAY)
    keep(client, horn, today + DAY, today - 14 * DAY, today - 13 * DAY)
    client.post(
        reverse("paper", args=[horn.pk]), {"days": ["2026-02-31", "9999-12-31", "nonsense", str(today - 13 * DAY)]}
    )
    assert set(PaperDay.objects.values_list("on", flat=True)) == {today - 30 * DAY, today - 13 * DAY}


def test_a_day_that_was_recorded_is_not_offered(client, horn, tried, studio):
    text = client.get(reverse("student", args=[horn.pk])).content.decode()
    assert f'name="days" value="{studio.today()}"' in text
    assert f'name="days" value="{studio.today() - DAY}"' not in text


def test_a_tone_and_a_recording_stand_among_the_pages_of_whoever_looks(client, tried, horn):
    addresses = [reverse("one_tone", args=[tried[1].pk]), reverse("take", args=[tried[1].take_id])]
    everyone, today = reverse("everyone"), reverse("today")
    for address in addresses:
        text = client.get(address).content.decode()
        assert everyone in text
        assert today not in text
    client.force_login(horn.player.user)
    for address in addresses:
        text = client.get(address).content.decode()
        assert today in text
        assert everyone not in text
