"""Permission: without it nothing comes in by any door; taken back, it is over at once and the sound goes."""

from __future__ import annotations

import json
import uuid

import pytest
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from analysis import custody, discarding
from analysis.models import Analysis, Discarded
from assignments import erasure, keeping, permission, plans, settling, sweeper, takes, uploads
from assignments.models import Take, Try
from studio import consent
from studio.models import LogRow, Membership
from tests import builders, people, played

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases, pytest.mark.usefixtures("own_store")]

SOUND = b"\x1a\x45\xdf\xa3" + bytes(range(256)) * 40


@pytest.fixture
def week(studio, teacher):
    return builders.week(people.horn(studio, agreed=False), teacher)


@pytest.fixture
def phone(week) -> Client:
    client = Client()
    client.force_login(week.horn.player.user)
    return client


@pytest.fixture
def guardian(studio, week):
    home = people.person("Jo Larkspur", studio, Membership.Role.GUARDIAN)
    home.wards.add(week.horn.player)
    return home.user


def recording() -> SimpleUploadedFile:
    return SimpleUploadedFile("memo.webm", SOUND, "audio/webm")


def form(week) -> dict[str, object]:
    return {"client_key": uuid.uuid4(), "exercise": builders.daily(week).pk, "slots": "0", "audio": recording()}


def part(phone, key=None):
    headers = {"Upload-Offset": "0", "Upload-Length": str(len(SOUND))}
    address = reverse("api-upload", args=[key or uuid.uuid4()])
    return phone.patch(address, SOUND, "application/octet-stream", headers=headers)


def sound_check(phone, week):
    plan = plans.plan_for(week.horn, week.horn.studio.today())
    heard = {"softest_db": -50.0, "loudest_db": -10.0, "noise_db": -70.0}
    return phone.post(reverse("api-sound-check", args=[plan.pk]), json.dumps(heard), "application/json")


def chosen_file(phone, week):
    sent = {"client_key": uuid.uuid4(), "slots": ["0"], "chosen": recording()}
    return phone.post(reverse("take_file", args=[builders.daily(week).pk]), sent)


WAYS_IN = {
    "a recording": lambda phone, week: phone.post(reverse("api-takes"), form(week)),
    "a part of one": lambda phone, week: part(phone),
    "a chosen file": chosen_file,
    "a check of the microphone": sound_check,
    "the page that sets up the microphone": lambda phone, week: phone.get(reverse("set_up")),
    "the page that plays": lambda phone, week: phone.get(reverse("play")),
    "a run that plays": lambda phone, week: phone.get(
        reverse("exercise", args=[week.exercises.get(kind="evenness_run").pk]), {"play": "1"}
    ),
}


def files() -> list[str]:
    parts = [path.name for path in uploads._folder().glob("*")]
    return sorted(parts + list(keeping._stored()))


@pytest.mark.parametrize("way", WAYS_IN.values(), ids=WAYS_IN)
def test_every_way_in_is_shut_without_permission_and_open_with_it(phone, week, teacher, way):
    before = files()
    answer = way(phone, week)
    assert answer.status_code == 403, answer.content
    assert "Ask at home first" in answer.content.decode()
    assert files() == before
    assert not Take.objects.exists()
    consent.give(student=week.horn.player, given_by="Jo Larkspur", how="screen", logged_by=teacher)
    assert way(phone, week).status_code in (200, 201, 302)


def test_permission_for_another_wording_opens_nothing(phone, week, teacher):
    consent.give(student=week.horn.player, given_by="Jo Larkspur", how="paper", logged_by=teacher)
    week.horn.player.consents.update(wording="2024-01")
    assert part(phone).status_code == 403


@pytest.mark.parametrize(
    ("ends", "status"),
    [
        (lambda student: permission.take_back(student=student, by=student.user), 403),
        (lambda student: erasure.erase(student, by=None), 404),
    ],
    ids=["taken back", "deleted"],
)
def test_nothing_stays_of_a_part_that_comes_in_at_that_moment(phone, week, teacher, monkeypatch, ends, status):
    """After the look at the permission, and before the file is written."""
    student = week.horn.player
    consent.give(student=student, given_by="Jo Larkspur", how="screen", logged_by=teacher)
    monkeypatch.setattr(takes, "has_room_today", lambda *_args, **_more: ends(student))
    before = files()
    assert part(phone).status_code == status
    assert files() == before


def test_parts_come_from_players_alone(week, teacher, guardian):
    for somebody in (teacher, guardian):
        other = Client()
        other.force_login(somebody)
        assert part(other).status_code == 404
    assert files() == []


def test_permission_given_on_the_screen_says_who_when_which_wording_and_how(client, week, guardian):
    client.force_login(guardian)
    address = reverse("home_permission", args=[week.horn.player_id])
    assert client.post(address, {"what": "give", "given_by": "Jo Larkspur, mother"}).status_code == 400
    assert not consent.stands(week.horn.player)
    client.post(address, {"what": "give", "given_by": "Jo Larkspur, mother", "agree": "on"})
    row = week.horn.player.consents.get()
    assert (row.given_by, row.how, row.wording, row.logged_by) == (
        "Jo Larkspur, mother", "screen", consent.WORDING, guardian,
    )  # fmt: skip
    page = client.get(address).content.decode()
    assert "Jo Larkspur, mother said yes on" in page
    assert "on the screen" in page


def test_somebody_of_age_agrees_alone_and_a_child_does_not(client, week):
    player = week.horn.player
    client.force_login(player.user)
    address = reverse("home_permission", args=[player.pk])
    sent = {"what": "give", "given_by": "Pim Larkspur", "agree": "on"}
    assert client.post(address, sent).status_code == 404
    Membership.objects.filter(pk=player.pk).update(of_age=True)
    assert client.post(address, sent).status_code == 302
    assert consent.stands(player)


@pytest.fixture
def recorded(week, teacher):
    """A student with one measured recording, one that waits, and a part of a third."""
    consent.give(student=week.horn.player, given_by="Jo Larkspur", how="paper", logged_by=teacher)
    day = played.day(played.long_week(week.horn, teacher), week.horn.studio.today(), [(60, "mf")])
    waiting = builders.take(week, SOUND)
    phone = Client()
    phone.force_login(week.horn.player.user)
    assert part(phone).status_code == 200
    return day[0].take, waiting


def test_taking_it_back_deletes_the_sound_at_once_and_keeps_the_numbers(
    client, week, guardian, recorded, django_capture_on_commit_callbacks
):
    measured, _waiting = recorded
    assert len(files()) >= 2
    client.force_login(guardian)
    with django_capture_on_commit_callbacks(execute=True):
        client.post(reverse("home_permission", args=[week.horn.player_id]), {"what": "take_back"})
    assert files() == []
    assert not consent.stands(week.horn.player)
    assert Try.objects.filter(take=measured).exists()
    assert Take.objects.count() == 2
    assert client.get(reverse("take_audio", args=[measured.pk])).status_code == 404
    assert not Analysis.objects.exclude(audio="").exists()
    rows = list(LogRow.objects.filter(about_id=week.horn.player_id).values_list("what", flat=True))
    assert "consent_taken_back" in rows


def test_what_was_waiting_is_not_measured_any_more_and_says_why(week, teacher, recorded):
    _measured, waiting = recorded
    token = custody.claim(str(waiting.analysis_id))
    permission.take_back(student=week.horn.player, by=teacher)
    analysis = Analysis.objects.get(pk=waiting.analysis_id)
    custody.record(analysis, token, {"engine": "late", "format": 1})
    analysis.refresh_from_db()
    assert (analysis.state, analysis.results.count()) == (Analysis.State.REFUSED, 0)
    assert "taken back" in analysis.fault_text
    settling.settle(waiting.analysis_id)
    assert set(waiting.tries.values_list("outcome", flat=True)) == {"unreadable"}


def test_who_dies_before_the_files_are_gone_leaves_a_note_that_the_next_sweep_works_off(
    week, teacher, recorded, empty_queue
):
    permission.take_back(student=week.horn.player, by=teacher)  # the commit's callbacks do not run in this test
    assert Discarded.objects.count() == len(list(keeping._stored())) > 0
    sweeper.sweep()
    assert list(keeping._stored()) == []
    assert not Discarded.objects.exists()


def test_however_many_there_are_all_of_them_go(monkeypatch):
    monkeypatch.setattr(discarding, "AT_ONCE", 2)
    Discarded.objects.bulk_create(Discarded(name=f"ab/{number}") for number in range(5))
    assert discarding.clear() == 5
    assert not Discarded.objects.exists()


def test_a_note_of_a_file_that_is_gone_already_is_worked_off_too():
    Discarded.objects.create(name="ab/never-there")
    assert discarding.clear() == 1
    assert not Discarded.objects.exists()


def test_permission_taken_back_while_a_recording_comes_in_leaves_nothing_of_it(week, teacher, monkeypatch):
    consent.give(student=week.horn.player, given_by="Jo Larkspur", how="paper", logged_by=teacher)
    save = default_storage.save

    def taken_back_meanwhile(*args, **kwargs):
        name = save(*args, **kwargs)
        consent.withdraw(student=week.horn.player, by=teacher)
        return name

    monkeypatch.setattr(default_storage, "save", taken_back_meanwhile)
    with pytest.raises(Exception, match="Ask at home first"):
        builders.take(week, SOUND)
    assert list(keeping._stored()) == []
    assert not Take.objects.exists()


def test_a_teacher_notes_a_paper_form_and_takes_it_back_in_the_familys_name(client, week, teacher, recorded):
    client.force_login(teacher)
    address = reverse("person", args=[week.horn.player_id])
    client.post(address, {"what": "withdraw"})
    assert not consent.stands(week.horn.player)
    client.post(address, {"what": "consent", "given_by": "Jo Larkspur", "seen": "on"})
    row = week.horn.player.consents.order_by("given_at").last()
    assert (row.how, row.given_by, row.logged_by) == ("paper", "Jo Larkspur", teacher)
