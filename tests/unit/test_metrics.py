"""What a monitoring system is told, and to whom nothing is told."""

from __future__ import annotations

import datetime as dt

import pytest
from django.test import Client
from django.utils import timezone
from prometheus_client.parser import text_string_to_metric_families

from analysis.models import Analysis
from assignments import backups, sweeper
from assignments.models import Take
from tests import people, played

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]


@pytest.fixture
def machine(tmp_path, settings):
    settings.VAR = tmp_path
    return tmp_path


def told(client: Client) -> dict[tuple[str, str], float]:
    """Every sample by its name and its last label."""
    text = client.get("/metrics").content.decode()
    return {
        (sample.name, ",".join(sample.labels.values())): sample.value
        for family in text_string_to_metric_families(text)
        for sample in family.samples
    }


def test_the_queue_its_age_and_what_came_of_the_takes(machine, client: Client) -> None:
    where = people.studio()
    week = played.long_week(people.horn(where), people.teacher(where).user)
    played.day(week, where.today(), tones=((60, "mf"), (61, "mf"), (62, "mf")))
    waiting, refused, _ = Analysis.objects.all()
    waiting.state, waiting.created_at = "queued", timezone.now() - dt.timedelta(seconds=90)
    refused.state, refused.fault_code, refused.lost = "refused", "not_audio", 2
    waiting.save()
    refused.save()
    found = told(client)
    assert found["footing_queue_length", ""] == 1
    assert 89 < found["footing_oldest_waiting_seconds", ""] < 120
    assert found["footing_takes", "measured"] == 1
    assert found["footing_takes_not_measured", "not_audio"] == 1
    assert found["footing_claims_lost", ""] == 2
    assert found["footing_service_seconds_count", ""] == 3
    assert found["footing_disk_free_bytes", ""] > 0


def test_a_take_that_is_measured_and_not_settled_is_told_with_how_long_it_waits(machine, client: Client) -> None:
    where = people.studio()
    week = played.long_week(people.horn(where), people.teacher(where).user)
    played.day(week, where.today(), tones=((60, "mf"), (61, "mf"), (62, "mf")))
    measured, waiting, _ = Analysis.objects.all()
    Take.objects.filter(analysis__in=(measured, waiting)).update(settled_at=None)
    Analysis.objects.filter(pk=waiting.pk).update(state="queued")
    Analysis.objects.filter(pk=measured.pk).update(measured_at=timezone.now() - dt.timedelta(seconds=400))
    found = told(client)
    assert found["footing_settling_queue_length", ""] == 1
    assert 399 < found["footing_oldest_settling_seconds", ""] < 430
    Take.objects.update(settled_at=timezone.now())
    found = told(client)
    assert found["footing_settling_queue_length", ""] == found["footing_oldest_settling_seconds", ""] == 0


def test_what_came_of_the_last_hours_takes(machine, client: Client) -> None:
    where = people.studio()
    week = played.long_week(people.horn(where), people.teacher(where).user)
    played.day(week, where.today(), tones=tuple((note, "mf") for note in range(60, 65)))
    first, second, taken_back, before, _ = Analysis.objects.all()
    now = timezone.now()
    Analysis.objects.filter(pk__in=(first.pk, second.pk)).update(measured_at=now)
    Analysis.objects.filter(pk=second.pk).update(state="refused", fault_code="not_audio")
    Analysis.objects.filter(pk=taken_back.pk).update(state="refused", fault_code="taken_back", measured_at=now)
    Analysis.objects.filter(pk=before.pk).update(state="failed", measured_at=now - dt.timedelta(minutes=61))
    ended = {state: count for (name, state), count in told(client).items() if name == "footing_ended_lately"}
    assert ended == {"measured": 1, "refused": 1}


def test_what_the_sweeper_put_right_adds_up(machine, client: Client, monkeypatch) -> None:
    monkeypatch.setattr("analysis.custody.hand_back_lapsed", lambda: 2)
    sweeper.sweep()
    sweeper.sweep()
    assert told(client)["footing_sweeper_actions", "handed_back"] == 4


def test_a_note_that_a_power_cut_emptied_stops_neither_the_sweeper_nor_the_metrics(machine, client: Client) -> None:
    for left in ("", '{"handed_back": 2'):
        sweeper.note_file().write_text(left)
        assert told(client)["footing_disk_free_bytes", ""] > 0
        sweeper.sweep()
        assert told(client)["footing_sweeper_actions", "handed_back"] == 0


def test_a_take_given_up_long_ago_wakes_nobody(machine, client: Client) -> None:
    where = people.studio()
    played.day(played.long_week(people.horn(where), people.teacher(where).user), where.today(), tones=((60, "mf"),))
    month_ago = timezone.now() - dt.timedelta(days=31)
    Analysis.objects.update(state="failed", fault_code="gave_up", created_at=month_ago)
    assert ("footing_takes_not_measured", "gave_up") not in told(client)


def test_the_age_of_the_last_backup(machine, client: Client) -> None:
    assert ("footing_backup_age_seconds", "") not in told(client)
    backups.note_file().write_text(timezone.now().isoformat())
    assert told(client)["footing_backup_age_seconds", ""] < 60


def test_pages_are_timed_by_their_route_and_never_by_their_path(machine, client: Client) -> None:
    client.get("/sign-in/?name=marmalade")
    client.get("/marmalade-lighthouse/")
    text = client.get("/metrics").content.decode()
    assert 'route="sign-in"' in text
    assert "marmalade" not in text


def test_only_this_machine_is_told_unless_there_is_a_token(machine, client: Client, settings) -> None:
    assert client.get("/metrics", REMOTE_ADDR="203.0.113.9").status_code == 404
    settings.PRODUCTION = True
    assert client.get("/metrics").status_code == 404
    settings.METRICS_TOKEN = "a-long-token"
    assert client.get("/metrics", headers={"Authorization": "Bearer another"}).status_code == 404
    right = client.get("/metrics", headers={"Authorization": "Bearer a-long-token"}, REMOTE_ADDR="203.0.113.9")
    assert right.status_code == 200


def test_a_token_that_no_header_can_hold_is_refused_like_any_other(machine, client: Client, settings) -> None:
    settings.METRICS_TOKEN = "a-long-token"
    assert client.get("/metrics", headers={"Authorization": "Bearer ü"}).status_code == 404
