"""Stopping when it hurts, how the pages look, and what the phone keeps."""

from __future__ import annotations

import datetime as dt
import re
import uuid
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from django.urls import reverse

from assignments.models import DayPlan
from assignments.views import shell
from studio.models import Horn
from tests.unit.student_cast import *  # noqa: F403  # the cast
from tests.unit.student_cast import plan, shown

pytestmark = pytest.mark.django_db


def test_something_hurts_ends_the_day_and_the_teacher_is_told_only_if_the_family_wants(client, horn, week):
    plan(week)
    client.post(reverse("hurts"))
    stopped = DayPlan.objects.get()
    assert stopped.stopped_hurting_at is not None
    assert stopped.teacher_may_know is False
    assert "Today counts as practised." in shown(client, "hurts")
    client.post(reverse("hurts"), {"tell": "yes"})
    assert DayPlan.objects.get().teacher_may_know is True
    client.post(reverse("hurts"), {"tell": "no"})
    assert DayPlan.objects.get().teacher_may_know is False


def test_a_stop_that_reaches_the_studio_a_day_late_ends_the_day_it_was_meant_for(client, horn, week):
    today = horn.studio.today()
    yesterday = DayPlan.objects.create(horn=horn, week=week, on=today - dt.timedelta(days=1), tones=[])
    client.post(reverse("hurts"), {"plan": str(yesterday.pk)})
    assert [plan.on for plan in DayPlan.objects.exclude(stopped_hurting_at=None)] == [yesterday.on]
    for wrong in ("not a plan", str(uuid.uuid4())):
        assert client.post(reverse("hurts"), {"plan": wrong}).status_code == 404


def test_the_familys_standing_choice_is_followed(client, horn, week):
    horn.player.tell_teacher_of_pain = True
    horn.player.save()
    plan(week)
    client.post(reverse("hurts"))
    assert DayPlan.objects.get().teacher_may_know is True


def test_looking_at_the_page_stops_nothing(client, horn, week):
    shown(client, "hurts")
    assert not DayPlan.objects.exists()


def test_every_page_of_a_student_has_the_way_to_stop(client, horn, week):
    plan(week)
    for name in ("today", "after", "range", "high_notes", "lesson", "evenness", "mine"):
        assert 'href="/hurts/"' in shown(client, name)
    for name in ("set_up", "play"):
        assert "Stop, it hurts" in shown(client, name)


def test_light_and_type_are_kept(client, horn, week):
    client.post(reverse("mine"), {"light": "night", "type_size": "150"})
    text = shown(client, "mine")
    assert 'data-light="night"' in text
    assert 'data-type="150"' in text


def test_one_save_keeps_language_and_note_names_too(client, horn, week, settings):
    answer = client.post(reverse("mine"), {"light": "phone", "type_size": "", "language": "de", "note_names": "fr"})
    assert answer.cookies[settings.LANGUAGE_COOKIE_NAME].value == "de"  # for the pages before signing in on this device
    horn.player.user.refresh_from_db()
    assert (horn.player.user.language, horn.player.user.note_names) == ("de", "fr")
    text = shown(client, "mine")
    assert 'lang="de"' in text
    assert text.count('<button class="act') == 1


def test_a_student_with_two_horns_chooses_one(client, horn, week):
    tenor = Horn.objects.create(player=horn.player, kind="tenor")
    assert "Pim, alto" in shown(client, "today")
    client.post(reverse("mine"), {"light": "phone", "type_size": "", "horn": str(tenor.pk)})
    assert "Pim, tenor" in shown(client, "today")


def test_the_service_worker_keeps_files_that_are_there(client):
    text = shown(client, "service_worker")
    kept = re.findall(r'"/static/([^"]+)"', text)
    assert set(kept) == set(shell.KEPT)
    assert all(finders.find(name) for name in kept)


def test_every_script_and_style_of_the_playing_page_is_kept(client, horn, week):
    plan(week)
    asked = set(re.findall(r'(?:src|href)="/static/([^"]+\.(?:js|css|woff2))"', shown(client, "play")))
    for name in list(asked):
        if name.endswith(".js"):
            asked |= imported(name)
    assert asked <= set(shell.KEPT)


def imported(name: str) -> set[str]:
    """The modules that a script loads, and those that they load."""
    source = Path(finders.find(name)).read_text()
    direct = {f"assignments/{found}" for found in re.findall(r'from "\./([\w.]+)"', source)}
    return direct | {deeper for one in direct for deeper in imported(one)}


def test_people_pages_are_kept_by_no_cache_but_the_service_workers(client, horn, week):
    assert client.get(reverse("today"))["Cache-Control"] == "private, no-store"


def test_home_is_today_for_whoever_plays_and_the_studio_for_whoever_teaches(client, horn, teacher):
    assert client.get("/").url == "/today/"
    client.force_login(teacher.user)
    assert client.get("/").url == "/studio/"
