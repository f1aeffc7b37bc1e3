"""The log follows a take from its request to the opening, and names nobody."""

from __future__ import annotations

import json
import uuid

import pytest
from celery import current_app, current_task
from django.core.files.base import ContentFile
from django.db import OperationalError
from django.test import Client
from django.urls import reverse

from analysis.synthesis import ToneSpec, render, write
from analysis.tasks import measure
from assignments import plans, sending, settling
from assignments.models import GateRule, Take
from studio import tracing
from studio.config.celery import carry_on_the_request
from tests import builders, people, played

pytestmark = pytest.mark.django_db
REQUEST = "0123456789abcdef0123456789abcdef"


def upload(client: Client, horn, tmp_path) -> Take:
    plan = plans.plan_for(horn, horn.studio.today())
    note = plan.tones[0]["written_midi"]
    file = tmp_path / "tone.wav"
    write(file, render([ToneSpec(written_midi=note, dynamic="mf")], "alto", seed=5)[0], "wav")
    form = {
        "exercise": plan.week.exercises.get(kind="daily_tones").pk,
        "plan": plan.pk,
        "slots": "0",
        "client_key": uuid.uuid4(),
        "audio": ContentFile(file.read_bytes(), name="marmalade-file.wav"),
    }
    answer = client.post(reverse("api-takes"), form, headers={"X-Request-ID": REQUEST})
    assert answer.status_code == 201, answer.content
    assert answer.headers["X-Request-ID"] == REQUEST
    return Take.objects.get(pk=answer.json()["id"])


def test_a_take_is_followed_from_its_request_to_the_opening(lines, client, tmp_path):
    where = people.studio()
    teacher = people.teacher(where).user
    horn = people.horn(where)
    week = played.long_week(horn, teacher)
    GateRule.objects.create(studio=where, chosen={}, ear_stages=[2, 3], from_on=week.starts_on, by=teacher)
    played.good_days(week, where.today(), 10, audio=None)
    client.force_login(horn.player.user, backend="django.contrib.auth.backends.ModelBackend")
    take = upload(client, horn, tmp_path)
    tracing.begin(REQUEST)
    measure(str(take.analysis_id))
    settling.settle(take.analysis_id)
    mine = [json.loads(line) for line in lines]
    events = {line["event"]: line for line in mine if line.get("analysis") == str(take.analysis_id)}
    assert list(events) == ["received", "measured", "settled", "opened"]
    assert {line["request"] for line in events.values()} == {REQUEST}
    assert {events[name]["take"] for name in ("received", "settled", "opened")} == {str(take.pk)}


def test_the_worker_goes_on_under_the_requests_id():
    tracing.begin(REQUEST)
    work = sending._task("analysis.measure", builders.take(_week(), b"any").analysis)
    assert work.options["headers"] == {tracing.MESSAGE_KEY: REQUEST}
    task = current_app.tasks["analysis.measure"]
    task.push_request(**work.options["headers"])
    tracing.begin()
    carry_on_the_request(task=task)
    task.pop_request()
    assert tracing.request_id.get() == REQUEST
    assert not current_task


def _week():
    where = people.studio()
    return builders.week(people.horn(where), people.teacher(where).user)


def test_an_id_that_is_none_is_not_taken_over():
    assert tracing.begin('x", "level": "forged') != 'x", "level": "forged'


def test_nobody_and_no_code_stands_in_the_log(lines, client):
    where = people.studio("Marmalade Studio")
    people.person("Marmalade Lighthouse", where, people.Role.TEACHER)
    for password in ("marmalade-passphrase", people.PASSWORD):
        client.post("/sign-in/", {"username": "marmalade", "password": password})
    client.post("/join/", {"code": "MARMA-LADES"})
    client.get("/studio/people/")
    for address in ("/marmalade/", "/marmaladen-straße/", "/marmalade\\/"):
        client.get(address)
    client.post("/studio/people/add-student/", {"name": "Marmalade Junior"})
    assert [line for line in lines if "marmalade" in line.lower()] == []


def test_while_the_database_is_away_a_page_says_when_to_come_again(client, monkeypatch):
    def away(*_args, **_kwargs):
        raise OperationalError("the server closed the connection")

    monkeypatch.setattr("studio.views.join.render", away)
    client.raise_request_exception = False
    answer = client.get("/join/")
    assert (answer.status_code, answer.headers["Retry-After"]) == (503, "10")
    assert "the server closed" not in answer.content.decode()
