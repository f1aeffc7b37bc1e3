"""A guardian's pages: the month in facts, words both ways, and who did what."""

from __future__ import annotations

import datetime as dt
import re

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from assignments import comments, hearings, plans
from assignments.models import Comment, DayPlan, Decision
from assignments.queries import at_home, logged
from studio import access_log, consent
from studio.models import Horn, LogRow, Membership
from tests import builders, people, played

pytestmark = pytest.mark.django_db

NOW = dt.datetime(2026, 3, 20, 16, tzinfo=dt.UTC)
MARCH = dt.date(2026, 3, 1)


@pytest.fixture(autouse=True)
def in_march():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def horn(studio):
    return people.horn(studio)


@pytest.fixture
def guardian(studio, horn):
    home = people.person("Jo Larkspur", studio, Membership.Role.GUARDIAN)
    home.wards.add(horn.player)
    return home.user


@pytest.fixture
def home(guardian) -> Client:
    client = Client()
    client.force_login(guardian)
    return client


def text_of(answer) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))


def test_the_month_is_told_in_days_minutes_and_notes(home, horn, teacher):
    week = played.long_week(horn, teacher)
    tones = [(note, "mf") for note in range(58, 78)]
    for day in (2, 3, 5, 9):
        played.day(week, MARCH.replace(day=day), tones)
    page = text_of(home.get(reverse("home_month", args=[horn.player_id])))
    assert "Four days of tones in March" in page
    assert "About 5 minutes a day" in page
    assert "When the month began none did yet." in page
    assert "cents" not in page


def test_a_month_without_tones_is_a_rest_and_nothing_to_make_up_for(home, horn):
    page = text_of(home.get(reverse("home_month", args=[horn.player_id])))
    assert "March: a rest from tones" in page
    assert "no making up for days without playing" in page


def test_a_day_that_ended_because_something_hurt_is_said_with_when_to_see_a_doctor(home, horn, teacher):
    builders.week(horn, teacher)
    plan = plans.plan_for(horn, horn.studio.today())
    plans.stop_because_it_hurts(plan, teacher_may_know=False)
    page = text_of(home.get(reverse("home_month", args=[horn.player_id])))
    assert "One day of tones in March" in page
    assert "On 1 day playing was stopped for that. Stopping was right" in page
    assert "needs a doctor or dentist" in page


def test_months_are_turned_back_and_never_into_the_future(home, horn):
    address = reverse("home_month", args=[horn.player_id])
    assert "?month=2026-02" in home.get(address).content.decode()
    february = home.get(address, {"month": "2026-02"}).content.decode()
    assert "?month=2026-03" in february
    assert "February" in february
    for strange in ("2027-01", "2026-13", "yesterday", "0000-00"):
        answer = home.get(address, {"month": strange})
        assert answer.status_code == 200
        assert "March: a rest" in text_of(answer)


def test_a_second_horn_is_told_apart(horn):
    Horn.objects.create(player=horn.player, kind="tenor", in_use_since_on=MARCH)
    assert [one.horn.kind for one in at_home.month(horn.player).horns] == ["alto", "tenor"]


def test_a_longer_history_asks_the_database_no_more(horn, teacher):
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            at_home.month(horn.player)
        return len(seen)

    week = played.long_week(horn, teacher)
    played.day(week, MARCH, [(60, "mf")])
    few = queries()
    for day in range(2, 12):
        played.day(week, MARCH.replace(day=day), [(60, "mf")])
    assert queries() == few


def test_a_guardian_of_several_goes_from_child_to_child(home, horn, studio, guardian):
    ottilie = people.horn(studio, "Ottilie Fenn").player
    guardian.memberships.get().wards.add(ottilie)
    page = home.get(reverse("home_messages", args=[horn.player_id])).content.decode()
    assert reverse("home_messages", args=[ottilie.pk]) in page


def test_words_of_both_sides_are_there_and_an_answer_reaches_them(home, horn, teacher, guardian):
    comments.note(horn, by=teacher, text="New reeds, please.")
    comments.note(horn, by=horn.player.user, text="The low B flat is hard.")
    address = reverse("home_messages", args=[horn.player_id])
    page = text_of(home.get(address))
    assert "New reeds, please." in page
    assert "The low B flat is hard." in page
    assert home.post(address, {"text": ""}).status_code == 400
    home.post(address, {"text": "Bought two."})
    assert Comment.objects.get(text="Bought two.").by == guardian
    for reader, page_name in ((horn.player.user, "lesson"), (teacher, "student")):
        client = Client()
        client.force_login(reader)
        keys = [horn.pk] if page_name == "student" else []
        assert "Bought two." in client.get(reverse(page_name, args=keys)).content.decode()


def test_a_word_pinned_to_a_tone_can_be_heard_at_home(home, horn, teacher):
    tried = played.day(played.long_week(horn, teacher), MARCH, [(73, "pp")])[0]
    comments.note(horn, by=teacher, text="Here it holds.", about=tried, at_s=3.0)
    page = home.get(reverse("home_messages", args=[horn.player_id])).content.decode()
    assert "C♯5, very soft" in page
    assert f"{reverse('take_audio', args=[tried.take_id])}#t=2.0" in page


def test_what_is_kept_is_counted_and_says_until_when(home, horn, teacher, studio):
    played.day(played.long_week(horn, teacher), MARCH, [(60, "mf"), (62, "mf")])
    page = text_of(home.get(reverse("home_kept", args=[horn.player_id])))
    assert "2 recordings are kept" in page
    assert "The oldest is deleted on 1 May" in page  # 60 days after 1 March, the day after
    assert "The numbers of 2 tones stay" in page


def test_the_family_reads_who_listened_decided_and_changed_something(home, horn, teacher, guardian, studio):
    tried = played.day(played.long_week(horn, teacher), MARCH, [(60, "mf")])[0]
    hearings.note(tried.take, teacher, 0)
    hearings.note_try(tried, teacher)
    Decision.objects.create(horn=horn, kind="pause", on=MARCH, words="Ill.", by=teacher)
    access_log.write("exported", studio=studio, who=guardian, about=horn.player)
    page = text_of(home.get(reverse("home_kept", args=[horn.player_id])))
    assert "Marisa Oakhanger listened, 2 times" in page
    assert "Marisa Oakhanger decided about the high notes: pause" in page
    assert "Jo Larkspur took a copy of everything" in page


def test_the_family_reads_nothing_of_another_child(horn, studio, teacher):
    other = people.horn(studio, "Ottilie Fenn")
    tried = played.day(played.long_week(other, teacher), MARCH, [(60, "mf")])[0]
    hearings.note(tried.take, teacher, 0)
    access_log.write("exported", studio=studio, who=teacher, about=other.player)
    assert [entry.what for entry in logged.of_student(horn.player)] == ["wrote down that permission was given on paper"]
    consent.give(student=horn.player, given_by="Jo Larkspur", how="screen", logged_by=teacher)
    assert logged.of_student(horn.player)[0].what == "gave permission to record"


def test_the_owner_reads_everything_of_the_studio_and_nothing_of_another(client, horn, studio, teacher):
    far = people.studio("Far Quay")
    access_log.write("imported", studio=far, who=teacher, about=None)
    access_log.write("signed_in", studio=studio, who=teacher)
    access_log.write("exported", studio=studio, who=teacher, about=horn.player)
    client.force_login(people.person("Orla Keel", studio, Membership.Role.OWNER).user)
    page = text_of(client.get(reverse("log")))
    assert "Marisa Oakhanger signed in" in page
    assert "took a copy of everything (Pim Larkspur)" in page
    assert "brought a copy in" not in page


def test_the_logs_times_are_those_of_the_studio(client, horn, studio):
    with time_machine.travel(dt.datetime(2026, 7, 1, 12, 30, tzinfo=dt.UTC), tick=False):
        access_log.write("imported", studio=studio, who=None, about=horn.player)
    studio.time_zone = "Europe/Berlin"
    studio.save()
    client.force_login(people.person("Orla Keel", studio, Membership.Role.OWNER).user)
    page = text_of(client.get(reverse("log")))
    assert "1 July, 14:30" in page
    assert "Times are those of Europe/Berlin." in page


def test_whoever_is_gone_stands_in_the_log_without_a_name(horn, studio):
    gone = people.person("Former Fell", studio, Membership.Role.TEACHER).user
    access_log.write("exported", studio=studio, who=gone, about=horn.player)
    gone.delete()
    assert "somebody who is no longer here" in [entry.who for entry in logged.of_student(horn.player)]
    assert not LogRow.objects.filter(what="Former Fell").exists()


def test_a_ward_without_a_horn_has_its_pages_too(home, horn):
    horn.delete()
    player = Membership.objects.get(role=Membership.Role.STUDENT)
    for name in ("home_month", "home_messages", "home_permission", "home_kept"):
        assert home.get(reverse(name, args=[player.pk])).status_code == 200
    assert home.post(reverse("home_messages", args=[player.pk]), {"text": "To whom?"}).status_code == 200
    assert not Comment.objects.exists()
    assert not DayPlan.objects.exists()
