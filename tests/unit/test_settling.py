"""From what was heard to what counts: real sound, measured in this process by the worker's own function."""

from __future__ import annotations

import datetime as dt
import uuid
from pathlib import Path

import pytest
from django.conf import settings

from analysis import custody
from analysis.models import Analysis
from analysis.synthesis import Faults, ToneSpec, render, write
from analysis.tasks import measure
from assignments import decisions, openings, plans, settling, standings
from assignments.exercises import Slot
from assignments.models import Opening, Take, Try
from tests import builders, people

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]


@pytest.fixture
def week():
    studio = people.studio()
    return builders.week(people.horn(studio), people.teacher(studio).user)


@pytest.fixture
def played(week, tmp_path: Path):
    def play(*specs: ToneSpec, slots: list[Slot]) -> Take:
        file = tmp_path / "take.flac"
        write(file, render(specs, "alto", seed=3)[0], "flac")
        take = builders.take(week, file, slots)
        measure(str(take.analysis_id))
        settling.settle(take.analysis_id)
        take.refresh_from_db()
        return take

    return play


def outcomes(take: Take) -> list[tuple[int, str, str]]:
    return [(row.written_midi, row.tone, row.outcome) for row in take.tries.order_by("slot")]


def test_each_asked_tone_becomes_a_try_with_its_verdict(played):
    take = played(
        ToneSpec(written_midi=67, dynamic="mf", seconds=5.0),
        ToneSpec(written_midi=70, dynamic="mf", seconds=5.0, faults=Faults(cents=-60.0)),
        ToneSpec(written_midi=72, shape="swell", seconds=7.0),
        slots=[Slot(0, 67, "mf"), Slot(1, 70, "mf"), Slot(2, 72, "swell")],
    )
    assert outcomes(take) == [(67, "mf", "hit"), (70, "mf", "miss"), (72, "swell", "hit")]
    low = take.tries.get(written_midi=70)
    assert [check["code"] for check in low.checks if check["verdict"] == "missed"] == ["pitch_low"]


def test_a_tone_that_was_not_played_is_neither_hit_nor_miss(played):
    take = played(ToneSpec(written_midi=67, dynamic="mf"), slots=[Slot(0, 67, "mf"), Slot(1, 74, "mf")])
    assert outcomes(take) == [(67, "mf", "hit"), (74, "mf", "unreadable")]
    assert take.tries.get(slot=1).reasons == ["not_heard"]
    day = standings.standing(take.horn).days[-1]
    assert (day.readable, day.hits) == (1, 1)


def test_another_note_in_place_of_the_only_one_is_told_as_such_and_counts_neither_way(played):
    take = played(ToneSpec(written_midi=67, dynamic="mf"), slots=[Slot(0, 68, "mf")])
    assert outcomes(take) == [(68, "mf", "unreadable")]
    assert take.tries.get().reasons == ["other_note"]


def test_settling_twice_counts_once(played):
    take = played(ToneSpec(written_midi=67, dynamic="mf"), slots=[Slot(0, 67, "mf")])
    settling.settle(take.analysis_id)
    assert Try.objects.count() == 1


def test_a_file_that_is_no_sound_costs_nothing_and_says_what_to_do(week):
    take = builders.take(week, b"this is a shopping list", [Slot(0, 67, "mf")])
    measure(str(take.analysis_id))
    settling.settle(take.analysis_id)
    take.analysis.refresh_from_db()
    assert take.analysis.state == Analysis.State.REFUSED
    assert take.analysis.fault_text
    assert outcomes(take) == [(67, "mf", "unreadable")]


def test_a_result_of_a_lost_claim_is_thrown_away(week):
    take = builders.take(week, b"anything", [Slot(0, 67, "mf")])
    lost = custody.claim(str(take.analysis_id))
    Analysis.objects.update(lease_until="2000-01-01T00:00:00Z")
    custody.hand_back_lapsed()
    current = custody.claim(str(take.analysis_id))
    custody.record(take.analysis, lost, {"engine": "slow"})
    assert not take.analysis.results.exists()
    custody.record(take.analysis, current, {"engine": "quick"})
    assert take.analysis.results.get().engine == "quick"


def test_after_bounded_tries_a_take_is_given_up_in_words(week):
    take = builders.take(week, b"anything", [Slot(0, 67, "mf")])
    for _ in range(custody.MOST_LOST):
        assert custody.claim(str(take.analysis_id))
        Analysis.objects.update(lease_until="2000-01-01T00:00:00Z")
        custody.hand_back_lapsed()
    take.analysis.refresh_from_db()
    assert take.analysis.state == Analysis.State.FAILED
    assert "Our fault" in take.analysis.fault_text
    assert custody.claim(str(take.analysis_id)) is None


def good_days(week, how_many: int) -> dt.date:
    """Days on which every planned tone hit, written as the settled tries of one take a day. Returns the last."""
    today = week.horn.studio.today()
    for days_ago in range(how_many, 0, -1):
        on = today - dt.timedelta(days=days_ago)
        plan = plans.plan_for(week.horn, on)
        take = builders.take(week, b"played on that day", plans.slots(plan), on=today)
        Try.objects.bulk_create(
            Try(take=take, horn=week.horn, on=on, played_at=take.received_at, slot=slot.slot, outcome="hit",
                written_midi=slot.written_midi, tone=slot.tone, lane=slot.lane)
            for slot in plans.slots(plan)
        )  # fmt: skip
        standings.fold(week.horn, on)
    return on


def test_when_the_teacher_has_said_yes_one_opening_is_written_however_often_it_is_looked_at(week):
    week.starts_on = week.horn.studio.today() - dt.timedelta(days=16)
    week.save()
    good_days(week, 14)
    assert standings.standing(week.horn).state == "ready"
    decisions.decide(horn=week.horn, by=week.set_by, kind="confirm", stage=1)
    for _ in range(3):
        openings.look(week.horn)
    opening = Opening.objects.get()
    assert (opening.stage, opening.opened_on) == (1, week.horn.studio.today())
    assert opening.decision.by == week.set_by
    assert standings.is_open(week.horn, 1, week.horn.studio.today())


def test_a_claim_is_kept_while_measuring_goes_on_and_lapses_soon_after_its_worker(week):
    take = builders.take(week, b"anything", [Slot(0, 67, "mf")])
    token = custody.claim(str(take.analysis_id))
    Analysis.objects.update(lease_until="2000-01-01T00:00:00Z")
    custody.renew(take.analysis, token)
    assert custody.hand_back_lapsed() == 0
    custody.renew(take.analysis, uuid.uuid4())  # somebody else's token holds nothing
    Analysis.objects.update(lease_until="2000-01-01T00:00:00Z")
    custody.renew(take.analysis, uuid.uuid4())
    assert custody.hand_back_lapsed() == 1
    assert custody.LEASE.total_seconds() + settings.SWEEP_EVERY_S < 60
