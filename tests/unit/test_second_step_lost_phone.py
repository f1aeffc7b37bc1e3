"""Whoever comes in with a recovery code may have lost the phone: what is put right then takes no further code."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.urls import reverse

from studio import codes, second_step
from studio.models import RecoveryCode, SecondStep
from tests import people
from tests.unit.second_steps import digits, digits_of, passphrase_given, turned_on, type_in

pytestmark = pytest.mark.django_db
PAGE = "/doors/second-step/"


@pytest.fixture
def paper(teacher) -> list[str]:
    return turned_on(teacher)


def came_with(code: str, **more):
    desk = passphrase_given(**more)
    assert type_in(desk, code).url == PAGE
    return desk


def test_the_last_recovery_code_is_no_dead_end(teacher, paper):
    RecoveryCode.objects.exclude(code_hash=codes.hashed(codes.read(paper[0]))).delete()
    desk = came_with(paper[0])
    assert "No recovery code is left" in desk.get(PAGE).content.decode()
    before = SecondStep.objects.get().seed
    assert desk.post(PAGE, {"what": "anew"}).url == PAGE
    desk.get(PAGE)
    new_phone = digits_of(desk.session["second_step_seed"])
    answer = desk.post(PAGE, {"code": new_phone, "old": people.PASSWORD})
    assert "recovery-codes" in answer.content.decode()
    assert SecondStep.objects.get().seed != before
    assert RecoveryCode.objects.count() == 10


@pytest.mark.parametrize(("what", "left"), [("codes", 10), ("off", 0)])
def test_new_codes_and_turning_it_off_take_no_other_code_either(teacher, paper, what, left):
    came_with(paper[0]).post(PAGE, {"what": what})
    assert RecoveryCode.objects.count() == left
    assert second_step.is_on(teacher) == (what == "codes")


def test_it_does_for_one_change_and_for_ten_minutes(teacher, paper):
    desk = came_with(paper[0])
    with time_machine.travel(dt.datetime.now(dt.UTC) + dt.timedelta(minutes=11), tick=False):
        assert desk.post(PAGE, {"what": "off"}).status_code == 400
    desk.post(PAGE, {"what": "codes"})
    assert desk.post(PAGE, {"what": "off"}).status_code == 400
    assert second_step.is_on(teacher)


def test_where_a_studio_asks_for_it_it_stays_on(studio, teacher, paper):
    studio.second_step_for_staff = True
    studio.save()
    answer = came_with(paper[0]).post(PAGE, {"what": "off"})
    assert "so it stays on" in answer.content.decode()
    assert second_step.is_on(teacher)


def test_whoever_has_the_phone_all_the_same_goes_on_to_where_they_were_going(teacher, paper):
    there = reverse("people")
    assert f'href="{there}"' in came_with(paper[0], next=there).get(PAGE).content.decode()
    desk = passphrase_given(next=there)
    assert type_in(desk, digits(teacher)).url == there
    assert "It isn’t lost" not in desk.get(PAGE).content.decode()


def test_a_recovery_code_that_was_used_is_refused_in_its_own_words(teacher, paper):
    came_with(paper[0])
    text = type_in(passphrase_given(), paper[0]).content.decode()
    assert "This recovery code opens nothing. Each is good once" in text
    assert "half a minute" not in text
