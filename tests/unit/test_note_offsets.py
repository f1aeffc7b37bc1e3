"""This horn's own notes: learned robustly, proposed, confirmed by the teacher, and then measured against."""

from __future__ import annotations

import datetime as dt
import random

import pytest
from django.urls import reverse

from assignments import equipment, note_offsets, targets, weeks
from assignments.models import TargetChange, Try
from assignments.note_offsets import Lie, Reading, learned
from tests import people, played

DAY = dt.timedelta(days=1)
FIRST = dt.date(2026, 3, 2)
LOW, HIGH = 60, 71


def readings(lies: dict[int, float], *, all_notes: float = 0.0, takes: int = 8, spread: float = 3.0) -> list[Reading]:
    chance = random.Random(5)
    return [
        Reading(FIRST + day * DAY, midi, all_notes + lies.get(midi, 0.0) + chance.gauss(0.0, spread))
        for day in range(takes)
        for midi in range(LOW, HIGH + 1)
    ]


def test_a_note_that_lies_off_is_found_within_its_error():
    (low, high) = learned(readings({62: -14.0, 69: 12.0}), {})
    assert (low.written_midi, high.written_midi) == (62, 69)
    assert low.cents == pytest.approx(-14.0, abs=4.0)
    assert high.cents == pytest.approx(12.0, abs=4.0)
    assert (low.takes, low.days) == (8, 8)


def test_what_every_note_shares_is_the_players_to_tune():
    assert learned(readings({}, all_notes=18.0), {}) == ()
    (only,) = learned(readings({62: -14.0}, all_notes=18.0), {})
    assert only.cents == pytest.approx(-14.0, abs=4.0)


def test_wild_readings_move_nothing():
    wild = [one for one in readings({62: -14.0}) if one.on != FIRST]
    wild += [Reading(FIRST, midi, 90.0 if midi % 2 else -90.0) for midi in range(LOW, HIGH + 1)]
    assert [lie.written_midi for lie in learned(wild, {})] == [62]


def test_too_few_takes_days_or_notes_and_what_is_unsure_propose_nothing():
    many = readings({62: -14.0})
    assert learned([one for one in many if one.on < FIRST + 5 * DAY], {}) == ()  # five takes
    assert learned([Reading(FIRST, one.written_midi, one.pitch_cents) for one in many], {}) == ()  # one day
    assert learned([one for one in many if one.written_midi < LOW + 7], {}) == ()  # seven notes
    assert [lie for lie in learned(readings({62: -9.0}, spread=30.0), {}) if lie.error_cents * 2 > abs(lie.cents)] == []
    assert learned(readings({62: -60.0}), {}) == ()  # no horn does that: something to look into
    assert learned(readings({62: -3.0}, spread=0.5), {}) == ()  # nobody hears it


def test_what_is_confirmed_already_is_not_proposed_again():
    assert learned(readings({62: -14.0}), {62: -14.0}) == ()
    (back,) = learned(readings({62: -14.0}), {62: 10.0})
    assert back.held == 10.0


@pytest.fixture
def horn(studio, teacher):
    made = people.horn(studio)
    week = played.long_week(made, teacher)
    for ago in range(8, 0, -1):
        played.day(week, studio.today() - ago * DAY, [(midi, "mf") for midi in range(LOW, HIGH + 1)])
    for row in Try.objects.filter(horn=made):
        row.soft_reading = {"pitch_cents": -14.0 if row.written_midi == 62 else 1.0}
        row.save(update_fields=["soft_reading"])
    return made


@pytest.mark.django_db
def test_the_teachers_yes_moves_what_the_pitch_is_measured_from(horn, teacher, client):
    client.force_login(teacher)
    page = reverse("note_lies", args=[horn.pk])
    assert "15 cents low" in client.get(page).content.decode()
    assert targets.held(horn, horn.studio.today(), 62, "mf").note_offset_cents == 0.0  # a proposal changes nothing
    assert client.post(page, {"notes": "62"}).status_code == 302
    row = TargetChange.objects.get()
    assert (row.measure, row.value, row.written_midi, row.by) == ("note_offset_cents", -15.0, 62, teacher)
    assert targets.held(horn, row.from_on, 62, "mf").note_offset_cents == -15.0
    assert targets.held(horn, row.from_on - DAY, 62, "mf").note_offset_cents == 0.0  # past days keep their verdicts
    assert targets.held(horn, row.from_on, 63, "mf").note_offset_cents == 0.0
    assert weeks.in_force(horn, row.from_on).target_changes[-1]["value"] == -15.0
    assert "Nothing to propose" in client.get(page).content.decode()
    assert client.get(reverse("student_targets", args=[horn.pk])).status_code == 200
    client.post(page, {"back": "62"})
    assert targets.held(horn, row.from_on, 62, "mf").note_offset_cents == 0.0


@pytest.mark.django_db
@pytest.mark.parametrize("sent", [{}, {"notes": "63"}, {"notes": "x"}, {"back": "62"}])
def test_what_isnt_proposed_or_held_is_refused(horn, teacher, client, sent):
    client.force_login(teacher)
    answer = client.post(reverse("note_lies", args=[horn.pk]), sent)
    assert answer.status_code == 409
    assert not TargetChange.objects.exists()


@pytest.mark.django_db
def test_another_mouthpiece_begins_anew(horn, teacher):
    assert [lie.written_midi for lie in note_offsets.proposed(horn)] == [62]
    equipment.note(horn, by=teacher, what="reed", words="", on=horn.studio.today())
    assert note_offsets.proposed(horn) != ()
    equipment.note(horn, by=teacher, what="mouthpiece", words="", on=horn.studio.today() - 2 * DAY)
    assert note_offsets.proposed(horn) == ()


def test_a_lie_is_said_in_whole_cents():
    assert Lie(62, -14.6, 1.0, 8, 8, 0.0).rounded == -15.0
