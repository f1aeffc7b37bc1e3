"""What no page of ours would send: refused in words, or kept without what no database keeps; never a broken page."""

from __future__ import annotations

import json

import pytest
from django.test import Client
from django.urls import reverse

from assignments import plans
from assignments.models import Take
from tests import builders
from tests.unit.test_uploads import SOUND, phone, recording, week
from tests.unit.test_uploads import form as sent

__all__ = ["phone", "week"]  # fixtures

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases, pytest.mark.usefixtures("own_store")]

DEEP = ["[" * 200_000, '{"a":' * 50_000, "[" * 900 + "]" * 900]
HEARD = {"softest_db": -50.0, "loudest_db": -10.0}


@pytest.mark.parametrize("digits", ["9" * 5000, "9" * 19], ids=["thousands", "nineteen"])
@pytest.mark.parametrize("form", ["{}-", "-{}", "0-{}", "{0}-{0}"])
def test_a_stretch_of_more_digits_than_any_recording_has_is_read_as_the_whole(phone, week, digits, form):
    address = reverse("take_audio", args=[builders.take(week, SOUND).pk])
    answer = phone.head(address, headers={"Range": f"bytes={form.format(digits)}"})
    assert (answer.status_code, answer["Content-Range"]) == (206, f"bytes 0-{len(SOUND) - 1}/{len(SOUND)}")


@pytest.mark.parametrize("recorder", [*DEEP, '{"a": NaN}', '{"a": 1e999}', '{"a": ' + "9" * 5000 + "}", "[]"])
def test_what_a_microphone_cannot_have_said_is_refused_in_words(phone, week, recorder):
    answer = phone.post(reverse("api-takes"), sent(week, audio=recording(), recorder=recorder))
    assert (answer.status_code, bool(answer.json()["text"])) == (400, True)
    assert not Take.objects.exists()


@pytest.mark.parametrize(("said", "kept"), [("a\0b", "ab"), ("a\ud800", "a?"), ("tone 🎷", "tone 🎷")])
def test_letters_that_no_database_keeps_cost_no_recording(phone, week, said, kept):
    answer = phone.post(reverse("api-takes"), sent(week, audio=recording(), recorder=json.dumps({"agent": [said]})))
    assert answer.status_code == 201, answer.content
    assert Take.objects.get().recorder == {"agent": [kept]}
    address = reverse("api-sound-check", args=[plans.plan_for(week.horn, week.horn.studio.today()).pk])
    answer = phone.post(address, json.dumps({**HEARD, "settings": {said: said}}), "application/json")
    assert (answer.status_code, answer.json()["settings"]) == (200, {kept: kept})


@pytest.mark.parametrize(
    "body",
    [
        *DEEP,
        json.dumps({**HEARD, "settings": "x" * 5000}),
        json.dumps({**HEARD, "settings": {"x": "y" * 5000}}),
        json.dumps({**HEARD, "settings": {"x": "y" * 2_000_000}}),
    ],
    ids=["deep list", "deep object", "as deep as it is read", "no object", "long", "longer"],
)
def test_a_sound_check_of_another_form_is_refused_and_not_kept(phone: Client, week, body):
    plan = plans.plan_for(week.horn, week.horn.studio.today())
    assert phone.post(reverse("api-sound-check", args=[plan.pk]), body, "application/json").status_code == 400
    plan.refresh_from_db()
    assert not plan.sound_check
