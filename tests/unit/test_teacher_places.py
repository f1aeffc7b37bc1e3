"""Families on the page of people, and somebody who teaches in two studios."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from studio.models import Membership
from tests import people

pytestmark = pytest.mark.django_db
Role = Membership.Role


@pytest.fixture
def teacher(studio, client):
    user = people.teacher(studio).user
    client.force_login(user)
    return user


def page(client):
    return client.get(reverse("people")).content.decode()


def test_a_grown_up_is_seen_with_the_child_and_can_be_parted(client, studio, teacher):
    horn = people.horn(studio)
    home = people.person("Jo Larkspur", studio, Role.GUARDIAN)
    home.wards.add(horn.player)
    text = page(client)
    assert "Jo Larkspur" in text
    assert "sees and decides for Pim Larkspur" in text
    sent = {"what": "part", "guardian_id": str(home.pk), "back": "people"}
    assert client.post(reverse("person", args=[horn.player_id]), sent).url == reverse("people")
    assert not horn.player.guardians.exists()
    assert reverse("home_code", args=[horn.player_id]) in page(client)


def test_a_student_of_age_needs_no_family(client, studio, teacher):
    grown = people.horn(studio, "Rufus Tarn").player
    grown.of_age = True
    grown.save()
    assert reverse("home_code", args=[grown.pk]) not in page(client)


def test_an_assistant_sees_families_and_changes_nothing(client, studio):
    horn = people.horn(studio)
    people.person("Jo Larkspur", studio, Role.GUARDIAN).wards.add(horn.player)
    client.force_login(people.person("Teo Wrenfield", studio, Role.ASSISTANT).user)
    text = page(client)
    assert "Jo Larkspur" in text
    assert 'value="part"' not in text
    assert reverse("home_code", args=[horn.player_id]) not in text


@pytest.fixture
def far(teacher):
    """A second studio, in which the teacher helps."""
    where = people.studio("Far Quay")
    people.horn(where, "Yara Dale")
    return Membership.objects.create(user=teacher, studio=where, role=Role.ASSISTANT, joined_on=dt.date(2026, 1, 1))


def test_somebody_in_two_studios_turns_from_one_to_the_other_and_back(client, studio, teacher, far):
    people.horn(studio)
    overview = reverse("studio_today")
    assert "Pim Larkspur" in client.get(overview).content.decode()
    assert "Far Quay" in page(client)
    assert client.post(reverse("turn_to"), {"place": str(far.pk)}).url == overview
    text = client.get(overview).content.decode()
    assert "Yara Dale" in text
    assert "Pim Larkspur" not in text
    near = Membership.objects.get(user=teacher, studio=studio)
    client.post(reverse("turn_to"), {"place": str(near.pk)})
    assert "Pim Larkspur" in client.get(overview).content.decode()


def test_there_one_may_do_what_one_may_do_there(client, teacher, far):
    client.post(reverse("turn_to"), {"place": str(far.pk)})
    assert client.get(reverse("many_weeks")).status_code == 404
    assert client.get(reverse("people")).status_code == 200


def test_nobody_turns_to_a_studio_they_do_not_work_in(client, studio, teacher, far):
    stranger = people.person("Sela Brand", far.studio, Role.TEACHER)
    ended = people.person("Former Fell", people.studio("Old Quay"), Role.TEACHER)
    ended.user, ended.ends_on = teacher, dt.date(2025, 12, 31)
    ended.save()
    for place in (str(stranger.pk), str(ended.pk), "nonsense"):
        assert client.post(reverse("turn_to"), {"place": place}).status_code == 404


def test_whoever_works_in_one_studio_is_not_asked(client, teacher):
    assert reverse("turn_to") not in page(client)


def test_a_page_about_somebody_elsewhere_says_whose_it_is(client, studio, teacher, far):
    horn = far.studio.memberships.get(role=Role.STUDENT).horns.get()
    for name in ("student", "gate", "student_evenness", "decide"):
        text = client.get(reverse(name, args=[horn.pk])).content.decode()
        assert '<strong class="studio-name">Far Quay</strong>' in text, name
        assert f'name="place" value="{far.pk}"' in text, name
        assert "Your other pages are those of Lantern Quay Studio." in text, name
    assert "Set the week" not in client.get(reverse("student", args=[horn.pk])).content.decode()  # an assistant there
    near = people.horn(studio)
    text = client.get(reverse("student", args=[near.pk])).content.decode()
    assert '<strong class="studio-name">Lantern Quay Studio</strong>' in text
    assert 'name="place"' not in text
