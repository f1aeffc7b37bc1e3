"""Every number as tables: steps, checks, runs, recordings and days beside the tones, and what each column means."""

from __future__ import annotations

import csv
import datetime as dt
import io
import zipfile

import pytest
from django.urls import reverse

from analysis import results
from analysis.core.records import Asked
from analysis.models import Analysis, Result
from analysis.synthesis import ToneSpec
from assignments import number_tables, numbers, paper_days, plans, settling
from assignments.exercises import Slot
from assignments.models import Take
from tests import builders, people, played
from tests.unit.test_heard_as_sounded import heard, human

pytestmark = pytest.mark.django_db


@pytest.fixture
def horn(studio, teacher):
    """A stepped tone that was really measured, a played day, a day on paper, and a run."""
    made = people.horn(studio)
    today = studio.today()
    week = played.long_week(made, teacher)
    played.day(week, today - dt.timedelta(days=2), missed={(60, "mf")})
    paper_days.note(made, by=teacher, days={today - dt.timedelta(days=3)})
    plan = plans.plan_for(made, today)
    plans.keep_sound_check(plan, {"softest_db": -40.0, "loudest_db": -15.0, "noise_db": -70.0})
    stepped, _ = heard(
        [ToneSpec(written_midi=60, shape="stepped", seconds=8, faults=human())], asked=(Asked(60, shape="stepped"),)
    )
    across = {"takes": [], "spots": 2, "level": [[60, -1.5], [61, 0.5]], "level_error_db": 1.2, "colour_error_pct": 5.0,
              "holes": [{"index": 0, "written_midi": 60, "kind": "level", "size": -3.5, "unit": "dB"}]}  # fmt: skip
    analysis = Analysis.objects.create(
        request={}, audio="a/b.wav", sha256="0" * 64, audio_bytes=77, state=Analysis.State.MEASURED
    )
    Result.objects.create(analysis=analysis, engine=stepped.engine, report=results.report(stepped))
    Take.objects.create(
        horn=made, exercise=builders.daily(week), analysis=analysis, on=today, client_key=analysis.pk,
        asked=[Slot(0, 60, "stepped").as_json()], across_spots=across,
        recorder={"autoGainControl": False, "count_in": "click", "spot": "=HYPERLINK(A1)"},
    )  # fmt: skip
    settling.settle(analysis.pk)
    return made


@pytest.fixture
def tables(horn):
    file = io.BytesIO()
    number_tables.zipped(horn.player, file)
    with zipfile.ZipFile(file) as archive:
        return {
            name: list(csv.DictReader(io.StringIO(archive.read(name).decode("utf-8")))) for name in archive.namelist()
        }


def test_steps_and_partials_have_a_line_each(tables):
    steps = [float(row["value_db"]) for row in tables["steps.csv"] if row["what"] == "shape.steps_db"]
    assert len(steps) == 7
    assert all(step == pytest.approx(3.0, abs=0.6) for step in steps)
    partials = [row for row in tables["steps.csv"] if row["what"] == "colour.levels_db"]
    assert [row["place"] for row in partials][:3] == ["1", "2", "3"]


def test_swells_and_steps_are_told_with_their_tone(tables):
    (stepped,) = [row for row in tables["tones.csv"] if row["asked_tone"] == "stepped"]
    assert (stepped["shape.steps_found"], stepped["shape.met"]) == ("8", "1")
    assert float(stepped["shape.range_db"]) == pytest.approx(21.0, abs=1.5)


def test_every_check_stands_with_its_limit(tables):
    missed = [row for row in tables["checks.csv"] if row["verdict"] == "missed"]
    assert [(row["asked_written_midi"], row["part"], row["value"], row["limit"]) for row in missed] == [
        ("60", "pitch_cents", "22.0", "12.0")
    ]


def test_a_run_has_a_line_a_note_and_one_a_hole(tables):
    rows = tables["runs.csv"]
    assert [(row["written_midi"], row["level_db"]) for row in rows[:2]] == [("60", "-1.5"), ("61", "0.5")]
    assert (rows[2]["hole_kind"], rows[2]["hole_size"], rows[2]["hole_unit"], rows[2]["spots"]) == (
        "level", "-3.5", "dB", "2",
    )  # fmt: skip


def test_recordings_tell_how_they_were_caught(tables):
    (caught,) = [row for row in tables["recordings.csv"] if row["bytes"] == "77"]
    assert float(caught["capture.snr_db"]) > 30.0
    assert (caught["audio.codec"], caught["recorder.autoGainControl"], caught["capture.clipped"]) == ("flac", "0", "0")
    assert caught["recorder.count_in"] == "click"
    assert caught["recorder.spot"] == "'=HYPERLINK(A1)"  # a phone may say anything; no spreadsheet reckons with it


def test_days_are_those_that_were_played_opened_or_noted(tables, studio):
    ago = {(studio.today() - dt.date.fromisoformat(row["on"])).days: row for row in tables["days.csv"]}
    assert sorted(ago) == [0, 2, 3]
    assert (ago[2]["readable"], ago[2]["hits"], ago[2]["on_target"]) == ("33", "32", "1")
    assert (ago[3]["on_paper"], ago[3]["readable"]) == ("1", "")
    assert (ago[0]["softest_db"], ago[0]["noise_db"]) == ("-40.0", "-70.0")


def test_every_column_says_what_it_means_and_nothing_else_is_explained(tables):
    said = {(row["table"], row["column"]) for row in tables["columns.csv"]}
    held = {(name, column) for name, rows in tables.items() if name != "columns.csv" for column in rows[0]}
    assert said == held
    assert all(row["meaning"] for row in tables["columns.csv"])
    (error,) = [row["meaning"] for row in tables["columns.csv"] if row["column"] == "uncertainty.pitch_cents"]
    assert error == "one standard deviation of: pitch against its target, cents"


@pytest.mark.parametrize("at_s", [None, [1.5, 2.0]], ids=["nowhere", "a stretch"])
def test_every_column_of_a_shape_and_of_what_spoils_it_is_explained(at_s):
    shape = {"kind": "swell", "met": True, "at_s": at_s}
    flat = dict(numbers.flat({"shape": shape, "hidden": {"shape": "level_control_suspected", "hnr_db": "noise_gate"}}))
    assert (flat["shape.from_s"], flat["shape.to_s"]) == tuple(at_s or ("", ""))
    assert [column for column in flat if not number_tables.meaning(column)] == []
    assert number_tables.meaning("hidden.shape") == "code of what spoils this alone: shape"


def test_the_family_takes_them_as_one_file(client, horn, teacher):
    client.force_login(teacher)
    answer = client.get(reverse("numbers", args=[horn.player_id]))
    assert answer["Content-Type"] == "application/zip"
    with zipfile.ZipFile(io.BytesIO(b"".join(answer.streaming_content))) as archive:
        assert "days.csv" in archive.namelist()


def test_who_has_played_nothing_has_tables_without_lines(studio):
    file = io.BytesIO()
    number_tables.zipped(people.horn(studio, "Ada Fenn").player, file)
    with zipfile.ZipFile(file) as archive:
        assert len(archive.namelist()) == 7
        assert archive.read("days.csv").count(b"\r\n") == 1
