"""Who may open which of a teacher's pages, and do what there."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.urls import reverse

from assignments import routines
from assignments.models import Comment, Decision, Hearing, Week
from studio.models import Membership
from tests import people, played

pytestmark = pytest.mark.django_db

Role = Membership.Role
SEES, DECIDES, NEITHER = "sees", "decides", "neither"
READERS = {
    "owner": DECIDES,
    "teacher": DECIDES,
    "assistant": SEES,
    "student": NEITHER,
    "guardian": NEITHER,
    "stranger": NEITHER,
}


@pytest.fixture
def horn(studio):
    return people.horn(studio)


@pytest.fixture
def tried(studio, horn):
    teacher = people.teacher(studio).user
    yesterday = studio.today() - dt.timedelta(days=1)
    return played.day(played.long_week(horn, teacher), yesterday, [(60, "mf")], missed={(60, "mf")})[0]


def reader(role, studio, horn):
    if role == "stranger":
        return people.teacher(people.studio("Far Quay"), "Sela Brand").user
    if role == "student":
        return horn.player.user
    made = people.person("Reader Fell", studio, role)
    if role == "guardian":
        made.wards.add(horn.player)
    return made.user


@pytest.mark.parametrize(("role", "may"), READERS.items())
def test_pages_to_see(client, studio, horn, tried, role, may):
    client.force_login(reader(role, studio, horn))
    pages = [
        reverse("studio_today"),
        reverse("everyone"),
        reverse("routines"),
        reverse("people"),
        reverse("consent_form"),
        *(reverse(name, args=[horn.pk]) for name in ("student", "decide", "gate")),
    ]
    for page in pages:
        text = client.get(page)
        own_studio_only = role == "stranger" and "students" not in page
        assert text.status_code == (404 if may == NEITHER and not own_studio_only else 200), page
        assert may != NEITHER or "Larkspur" not in text.content.decode() or role == "student"


@pytest.mark.parametrize(("role", "may"), READERS.items())
def test_pages_to_decide_on(client, studio, horn, role, may):
    client.force_login(reader(role, studio, horn))
    pages = [reverse("week", args=[horn.pk]), reverse("person", args=[horn.player_id])]
    if role != "stranger":  # who teaches elsewhere may add students there
        pages += [reverse("add_student"), reverse("new_routine")]
    for page in pages:
        assert client.get(page).status_code == (200 if may == DECIDES else 404), page


@pytest.mark.parametrize(("role", "may"), READERS.items())
def test_what_may_be_decided(client, studio, horn, role, may):
    client.force_login(reader(role, studio, horn))
    today = studio.today().isoformat()
    routine = next(iter(routines.table()))
    client.post(
        reverse("week", args=[horn.pk]),
        {
            "routine": str(routine),
            "blocks": ["daily_tones"],
            "budget_minutes": "5",
            "starts_on": today,
            "ends_on": today,
        },
    )
    client.post(reverse("gate", args=[horn.pk]), {"kind": "pause", "words": "Ill."})
    client.post(reverse("decide", args=[horn.pk]), {"answer": "not_yet", "stage": "1"})
    client.post(reverse("person", args=[horn.player_id]), {"what": "withdraw"})
    decided = may == DECIDES
    assert Week.objects.exists() == decided
    assert Decision.objects.count() == (2 if decided else 0)
    assert horn.player.consents.filter(withdrawn_at=None).exists() != decided


@pytest.mark.parametrize(("role", "may"), READERS.items())
def test_who_may_listen_and_leave_a_word(client, studio, horn, tried, role, may):
    client.force_login(reader(role, studio, horn))
    heard = client.post(reverse("heard", args=[tried.pk]))
    noted = client.post(reverse("note", args=[horn.pk]), {"text": "Well heard."})
    pinned = client.post(reverse("comment", args=[tried.take_id]), {"text": "Here.", "about_try": str(tried.pk)})
    expected = 404 if may == NEITHER else 302
    assert [heard.status_code, noted.status_code, pinned.status_code] == [expected] * 3
    assert Hearing.objects.exists() == Comment.objects.exists() == (may != NEITHER)


def test_an_assistant_is_told_who_decides(client, studio, horn, tried):
    client.force_login(reader("assistant", studio, horn))
    text = client.get(reverse("decide", args=[horn.pk])).content.decode()
    assert "You may listen." in text
    assert 'name="answer"' not in text
    assert 'name="kind"' not in client.get(reverse("gate", args=[horn.pk])).content.decode()


def test_somebody_whose_time_at_the_studio_is_over_sees_nothing(client, studio, horn):
    made = people.person("Reader Fell", studio, Role.TEACHER)
    made.ends_on = studio.today() - dt.timedelta(days=1)
    made.save()
    client.force_login(made.user)
    assert client.get(reverse("studio_today")).status_code == 404
    assert client.get(reverse("student", args=[horn.pk])).status_code == 404


def test_what_is_not_there_is_the_same_404(client, studio, horn):
    client.force_login(reader("teacher", studio, horn))
    for name in ("student", "week", "decide", "gate"):
        assert client.get(reverse(name, args=[uuid.uuid4()])).status_code == 404
