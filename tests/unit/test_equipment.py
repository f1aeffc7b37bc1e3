"""Equipment and place: dated changes, marked where tones are compared, and a fresh baseline suggested while new."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from assignments import equipment, lessons
from assignments.models import EquipmentChange, LessonDay
from tests import people, played

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)


@pytest.fixture
def horn(studio):
    return people.horn(studio)


def test_a_change_is_noted_by_the_student_and_suggests_a_baseline_for_two_weeks(horn, client):
    client.force_login(horn.player.user)
    page = reverse("equipment", args=[horn.pk])
    today = horn.studio.today()
    client.post(page, {"what": "reed", "words": "a softer one", "on": str(today)})
    row = EquipmentChange.objects.get()
    assert (row.what, row.words, row.on, row.by) == ("reed", "a softer one", today, horn.player.user)
    assert "A fresh baseline" in client.get(page).content.decode()
    made = equipment.changes(horn)
    assert equipment.baseline(made, today + 14 * DAY).startswith("New reed: ")
    assert equipment.baseline(made, today + 15 * DAY) == ""
    assert equipment.baseline((), today) == ""


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        ({"what": "hat"}, "Select a valid choice"),
        ({"on": "2001-01-01"}, "within the last year"),
        ({"on": ""}, "required"),
    ],
)
def test_what_is_no_change_is_told(horn, client, sent, words):
    client.force_login(horn.player.user)
    good = {"what": "room", "words": "", "on": str(horn.studio.today())}
    answer = client.post(reverse("equipment", args=[horn.pk]), {**good, **sent})
    assert answer.status_code == 400
    assert words in answer.content.decode()
    assert not EquipmentChange.objects.exists()


def test_a_change_stands_between_the_goes_at_a_tone_that_it_parts(horn, teacher, client):
    today = horn.studio.today()
    week = played.long_week(horn, teacher)
    played.day(week, today - 9 * DAY, [(60, "mf"), (62, "mf")])
    (now,) = played.day(week, today - DAY, [(60, "mf")])
    equipment.note(horn, by=teacher, what="mouthpiece", words="", on=today - 5 * DAY)
    equipment.note(horn, by=teacher, what="reed", words="", on=today - 30 * DAY)
    client.force_login(horn.player.user)
    page = client.get(reverse("one_tone", args=[now.pk])).content.decode()
    assert "other mouthpiece" in page
    assert "new reed" not in page  # before the first go: it parts nothing
    assert "Other mouthpiece" in client.get(reverse("range")).content.decode()


def test_a_lesson_is_moved_by_the_teacher(horn, teacher, client):
    client.force_login(teacher)
    page = reverse("lesson_days", args=[horn.player_id])
    assert "None in the next eight weeks" in client.get(page).content.decode()
    on = horn.studio.today() + 3 * DAY
    client.post(page, {"on": str(on), "at": "16:00"})
    assert lessons.upcoming(horn.player, horn.studio.today()) == lessons.Lesson(on, dt.time(16))
    client.post(page, {"on": str(on), "falls_out": "on"})
    assert LessonDay.objects.get().falls_out
    assert client.post(page, {"on": "2001-01-01"}).status_code == 400
