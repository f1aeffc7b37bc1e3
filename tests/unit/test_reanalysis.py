"""Kept takes measured again by another engine: told first, kept beside, and nothing that counted moves."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command

from analysis.core import measure as engine
from analysis.models import Analysis, Result
from analysis.synthesis import ToneSpec, render, write
from analysis.tasks import measure
from assignments import gate, gate_rules, reanalysis, settling
from assignments.exercises import Slot
from assignments.models import JudgedAgain, PlayedDay, Take, Try
from assignments.numbers import _lines
from tests import builders, people
from tests.unit.student_cast import queries, shown

THEN = engine.ENGINE

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]
NOTES = (67, 69, 71)


@pytest.fixture
def teacher():
    return people.teacher(people.studio())


@pytest.fixture
def horn(teacher):
    return people.horn(teacher.studio)


@pytest.fixture
def take(horn, teacher, tmp_path: Path) -> Take:
    """Three good tones, measured and settled by engine 1.0."""
    file = tmp_path / "take.flac"
    write(file, render([ToneSpec(written_midi=note, seconds=2.0) for note in NOTES], "alto", seed=3)[0])
    made = builders.take(builders.week(horn, teacher.user), file, [Slot(n, note, "mf") for n, note in enumerate(NOTES)])
    measure(str(made.analysis_id))
    settling.settle(made.analysis_id)
    made.refresh_from_db()
    return made


@pytest.fixture
def sharper_engine(monkeypatch):
    """Engine 2.0, which hears the middle note 60 cents high and finds one tone more at the beginning."""
    read = engine.read_tone

    def other(index, found, name, *more):
        tone = read(index, found, name, *more)
        return replace(tone, pitch_cents=60.0) if tone.written_midi == 69 else tone

    monkeypatch.setattr(engine, "ENGINE", "2.0")
    monkeypatch.setattr(engine, "read_tone", other)


def said(*arguments: str) -> str:
    out = StringIO()
    call_command("reanalyse", *arguments, stdout=out)
    return out.getvalue()


def test_what_would_change_is_told_and_nothing_is_written(take, sharper_engine) -> None:
    told = said("--report")
    assert "Engine 2.0: 1 kept takes measured again, 1 would differ." in told
    assert "Tones: 1 of 3 would differ." in told
    assert "on target -> not yet: 1" in told
    assert "Nothing was written." in told
    assert (Result.objects.count(), JudgedAgain.objects.count()) == (1, 0)


def test_the_new_measurement_is_kept_beside_the_old_and_what_counted_stays(take, sharper_engine) -> None:
    before = (list(Try.objects.values()), list(PlayedDay.objects.values()))
    said()
    assert sorted(take.analysis.results.values_list("engine", flat=True)) == [THEN, "2.0"]
    assert list(JudgedAgain.objects.order_by("about_try__slot").values_list("engine", "outcome")) == [
        ("2.0", "hit"),
        ("2.0", "miss"),
        ("2.0", "hit"),
    ]
    assert (list(Try.objects.values()), list(PlayedDay.objects.values())) == before


def test_a_second_run_finds_nothing_left_to_do(take, sharper_engine) -> None:
    said()
    assert "2.0: 0 kept takes" in said()
    assert JudgedAgain.objects.count() == 3


def test_the_engine_that_counted_is_not_run_again(take) -> None:
    assert "0 kept takes" in said()


def test_a_take_whose_recording_was_deleted_is_left_alone(take, sharper_engine) -> None:
    Analysis.objects.update(audio="")
    assert "0 kept takes" in said()


def test_a_take_that_nobody_settled_yet_waits_for_its_own_verdict(take, sharper_engine) -> None:
    Take.objects.update(settled_at=None)
    assert "0 kept takes" in said()


def test_a_damaged_file_is_counted_and_the_others_go_on(take, horn, sharper_engine) -> None:
    broken = Path(take.analysis.audio.path)
    broken.write_bytes(b"no sound at all")
    told = said()
    assert "0 kept takes measured again" in told
    assert "1 could not be measured any more" in told
    assert Result.objects.count() == 1


def test_batches_and_a_most_end_where_they_should(take, horn, monkeypatch) -> None:
    monkeypatch.setattr(engine, "ENGINE", "2.0")
    sound = Path(take.analysis.audio.path)
    for _ in range(2):
        more = builders.take(take.exercise.week, sound, [Slot(n, note, "mf") for n, note in enumerate(NOTES)])
        Analysis.objects.filter(pk=more.analysis_id).update(state="measured")
        Take.objects.filter(pk=more.pk).update(settled_at=dt.datetime.now(dt.UTC))
    assert reanalysis.again(write=True, most=2, batch=1).takes == 2
    assert reanalysis.again(write=True, batch=1).takes == 1


def test_a_day_that_would_come_to_something_else_is_named(take, horn, sharper_engine, monkeypatch) -> None:
    """Three tones are enough for a day here, and three of three must hit."""
    rule = gate.rule_from({"minimum_readable": 3, "planned": 3, "on_target_share": 1.0})
    always = [gate.RuleFrom(dt.date.min, rule)]
    monkeypatch.setattr(gate_rules, "timeline", lambda horn, agreed, weeks, stage: always)
    told = said("--report")
    assert "Days: 1 would come to something else." in told
    assert f"{take.on} {horn.player.user.name}: on target -> not on target" in told


def test_a_deleted_take_takes_its_verdicts_along(take, sharper_engine) -> None:
    said()
    take.delete()
    assert JudgedAgain.objects.count() == 0


def test_a_teacher_sees_both_versions_and_the_student_what_counted(take, teacher, horn, client, sharper_engine) -> None:
    said()
    middle = take.tries.get(written_midi=69)
    client.force_login(teacher.user)
    for name, key in (("one_tone", middle.pk), ("take", take.pk)):
        page = shown(client, name, key)
        assert "Measured again" in page
        assert page.index(f"{THEN} (counts)") < page.index(">2.0<")
    client.force_login(horn.player.user)
    for name, key in (("one_tone", middle.pk), ("take", take.pk)):
        assert "Measured again" not in shown(client, name, key)


def test_the_versions_of_many_tones_take_as_many_queries_as_of_one(take, teacher, client, sharper_engine) -> None:
    said()
    client.force_login(teacher.user)
    many = queries(lambda: shown(client, "take", take.pk))
    take.tries.exclude(slot=0).delete()
    assert queries(lambda: shown(client, "take", take.pk)) == many


def test_pictures_and_tables_stay_with_the_engine_that_counted(take, teacher, client, sharper_engine) -> None:
    said()
    cents = {line["asked_written_midi"]: line["pitch_cents"] for line in _lines(take.horn.player)}
    assert abs(cents[69]) < 5
