"""Lesson notes among those who teach: no page of a student or of a family shows one."""

from __future__ import annotations

import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse

from assignments.models import Comment, PrivateNote
from studio.models import Membership
from tests import people, played

pytestmark = pytest.mark.django_db
WORDS = "Watch the left shoulder"


def test_a_private_note_is_read_by_those_who_teach_alone(studio, teacher, client):
    horn = people.horn(studio)
    (tried,) = played.day(played.long_week(horn, teacher), studio.today() - dt.timedelta(days=1), [(60, "mf")])
    guardian = people.person("Jo Larkspur", studio, Membership.Role.GUARDIAN)
    guardian.wards.add(horn.player)
    client.force_login(teacher)
    client.post(reverse("note", args=[horn.pk]), {"text": WORDS, "private": "on"})
    sent = {"text": f"{WORDS} here", "private": "on", "about_try": str(tried.pk), "at_s": "2.5"}
    client.post(reverse("comment", args=[tried.take_id]), sent)
    assert not Comment.objects.exists()
    pinned = PrivateNote.objects.get(about_try=tried)
    assert (pinned.at_s, pinned.by, pinned.horn) == (2.5, teacher, horn)
    page = client.get(reverse("student", args=[horn.pk])).content.decode()
    assert page.count(WORDS) == 2
    for user, addresses in (
        (horn.player.user, [reverse("lesson"), reverse("today"), reverse("one_tone", args=[tried.pk])]),
        (
            guardian.user,
            [reverse(name, args=[horn.player_id]) for name in ("home_month", "home_messages", "home_kept")]
            + [reverse("one_tone", args=[tried.pk])],
        ),
    ):
        reader = Client()
        reader.force_login(user)
        for address in addresses:
            answer = reader.get(address)
            assert answer.status_code == 200
            assert WORDS not in answer.content.decode(), address


def test_without_the_tick_a_note_is_shared_as_before(studio, teacher, client):
    horn = people.horn(studio)
    client.force_login(teacher)
    client.post(reverse("note", args=[horn.pk]), {"text": WORDS})
    assert Comment.objects.get().text == WORDS
    assert not PrivateNote.objects.exists()
