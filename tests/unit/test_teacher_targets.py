"""Targets moved for one student: for a note and a tone, from a day on; what was played keeps its verdict."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from analysis.core.targets import rows, target_for
from assignments import ear, ear_answers, limits, targets
from assignments.exercises import Slot
from assignments.models import TargetChange
from assignments.queries import targets as targets_query
from assignments.refusals import Refusal
from tests import builders, people, played

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("signed_in")]

DAY = dt.timedelta(days=1)


@pytest.fixture
def horn(studio, teacher):
    return people.horn(studio, level="intermediate")


def send(client, horn, **sent):
    body = {"measure": "pitch_cents", "limit": "25", "written_midi": "", "tone": "", **sent}
    return client.post(reverse("student_targets", args=[horn.pk]), body)


def limit_of(tried, note=70, tone="mf"):
    take = type(tried.take).objects.get(pk=tried.take_id)
    return limits.target_of(take, Slot(0, note, tone)).pitch_cents


def test_every_number_of_the_table_may_be_moved():
    assert set(targets.MEASURES) == {row.measure for row in rows()}


def test_a_change_counts_from_the_next_day_when_today_was_played(client, horn, teacher, studio):
    week, today = played.long_week(horn, teacher), studio.today()
    (before,) = played.day(week, today, [(70, "mf")])
    assert send(client, horn).status_code == 302
    (after,) = played.day(week, today + DAY, [(70, "mf")])
    assert (limit_of(before), limit_of(after)) == (12.0, 25.0)
    assert TargetChange.objects.get().from_on == today + DAY


def test_it_counts_today_when_nothing_was_played_yet_and_in_every_week_set_later(client, horn, teacher, studio):
    send(client, horn)
    week = played.long_week(horn, teacher)
    (tried,) = played.day(week, studio.today(), [(70, "mf")])
    assert limit_of(tried) == 25.0


def test_a_note_and_a_tone_may_have_a_limit_of_their_own(client, horn, teacher, studio):
    send(client, horn)
    send(client, horn, limit="40", written_midi="73", tone="pp")
    (tried,) = played.day(played.long_week(horn, teacher), studio.today(), [(70, "mf")])
    assert [limit_of(tried, *which) for which in ((73, "pp"), (73, "p"), (72, "pp"))] == [40.0, 25.0, 25.0]


def test_taking_a_notes_limit_back_leaves_the_students_and_then_the_tables(client, horn, teacher, studio):
    send(client, horn)
    send(client, horn, limit="40", written_midi="73")
    for row, expected in ((TargetChange.objects.get(written_midi=73), 25.0), (TargetChange.objects.first(), 12.0)):
        answer = client.post(reverse("student_targets", args=[horn.pk]), {"back": str(row.pk)})
        assert answer.status_code == 302
        assert targets.held(horn, studio.today(), 73, "mf").pitch_cents == expected


def test_what_is_said_for_a_student_stands_above_a_limit_by_ear_for_the_level(client, horn, teacher, studio):
    send(client, horn)
    found = ear.Finding("pitch_cents", ear.share(30, 30), 1.5, ear.share(30, 30), ear.share(0, 0))
    ear_answers.adopt(found, studio=studio, level="intermediate", by=teacher)
    other = people.horn(studio, "Ottilie Fenn", level="intermediate")
    assert [targets.held(one, studio.today()).pitch_cents for one in (horn, other)] == [25.0, 18.0]


def test_milliseconds_are_asked_for_where_the_table_has_seconds(client, horn, studio):
    send(client, horn, measure="settle_s", limit="250")
    assert TargetChange.objects.get().value == 0.25
    text = client.get(reverse("student_targets", args=[horn.pk])).content.decode()
    assert "250 ms" in text


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        ({"limit": "200"}, "Between 2 and 140 cents it means something."),
        ({"measure": "peak_from", "limit": "62"}, "nothing could lie between"),
        ({"measure": "note_offset_cents"}, "Select a valid choice"),
        ({"written_midi": "20"}, "Select a valid choice"),
        ({"limit": ""}, "Fill this in."),
    ],
)
def test_a_limit_that_limits_nothing_is_refused(client, horn, sent, words):
    answer = send(client, horn, **sent)
    assert answer.status_code == 400
    assert words in answer.content.decode()
    assert not TargetChange.objects.exists()


def test_limits_that_cross_anywhere_are_refused(horn, teacher):
    targets.move(horn, by=teacher, measure="peak_from", value=0.55, tone="swell")
    with pytest.raises(Refusal, match="nothing could lie between"):
        targets.move(horn, by=teacher, measure="peak_to", value=0.5)
    with pytest.raises(Refusal, match="nothing could lie between"):
        targets.move(horn, by=teacher, measure="peak_to", value=0.5, written_midi=73)
    assert TargetChange.objects.count() == 1


def test_what_was_made_room_for_is_not_taken_away(horn, teacher):
    table = targets.held(horn, horn.studio.today(), tone="swell")
    targets.move(horn, by=teacher, measure="peak_to", value=0.9)
    targets.move(horn, by=teacher, measure="peak_from", value=table.peak_to + 0.05, written_midi=73, tone="swell")
    with pytest.raises(Refusal, match="nothing could lie between"):
        targets.move(horn, by=teacher, measure="peak_to", value=None)
    assert TargetChange.objects.filter(value=None).count() == 0


def test_a_recording_that_waits_keeps_the_limits_it_was_played_by(horn, teacher, studio):
    builders.take(played.long_week(horn, teacher), b"any bytes")
    assert targets.move(horn, by=teacher, measure="pitch_cents", value=25.0).from_on == studio.today() + DAY


def test_a_change_and_a_week_wait_for_each_other_at_the_horns_row(horn, teacher):
    routine = builders.routine()
    for write in (
        lambda: builders.week(horn, teacher, routine=routine),
        lambda: targets.move(horn, by=teacher, measure="pitch_cents", value=25.0),
    ):
        with CaptureQueriesContext(connection) as asked:
            write()
        order = [one["sql"] for one in asked]
        begun = next(place for place, sql in enumerate(order) if sql.startswith("SAVEPOINT"))
        first = next(sql for sql in order[begun:] if not sql.startswith("SAVEPOINT"))
        assert 'FROM "studio_horn"' in first  # for update, where the database knows that
        assert not any("targetchange" in sql for sql in order[:begun])


def test_the_page_tells_what_the_running_week_is_held_against(client, horn, teacher, studio):
    builders.week(horn, teacher)
    found = ear.Finding("pitch_cents", ear.share(30, 30), 1.5, ear.share(30, 30), ear.share(0, 0))
    ear_answers.adopt(found, studio=studio, level="intermediate", by=teacher)
    pitch = next(line for line in targets_query.page(horn).lines if line.measure.key == "pitch_cents")
    assert pitch.now == "12"


def test_the_units_are_found_for_translation():
    text = Path(targets.__file__).read_text(encoding="utf-8")
    units = {str(one.unit) for one in targets.MEASURES.values()}
    assert all(f'gettext_lazy("{unit}")' in text for unit in units)


@pytest.mark.parametrize("sent", [{"measure": "pitch"}, {"measure": "pitch_cents", "tone": "loud"},
                                  {"measure": "pitch_cents", "written_midi": 20}])  # fmt: skip
def test_the_server_refuses_what_the_form_would_not_offer(horn, teacher, sent):
    with pytest.raises(Refusal):
        targets.move(horn, by=teacher, value=20.0, **sent)


def test_another_students_change_is_not_there_to_take_back(client, horn, studio, teacher):
    other = people.horn(studio, "Ottilie Fenn")
    row = targets.move(other, by=teacher, measure="pitch_cents", value=25.0)
    for back in (str(row.pk), "nonsense"):
        assert client.post(reverse("student_targets", args=[horn.pk]), {"back": back}).status_code == 404


def test_a_week_that_is_long_over_is_left_as_it_was(horn, teacher, studio):
    old = builders.week(horn, teacher, on=studio.today() - 60 * DAY)
    targets.move(horn, by=teacher, measure="pitch_cents", value=25.0)
    old.refresh_from_db()
    assert old.target_changes == []


def test_a_factor_for_the_level_lies_below_a_value_for_the_student():
    said = [
        {"measure": "rise_s", "value": 0.2, "from": "2026-03-01"},
        {"measure": "rise_s", "factor": 1.5, "from": "2026-03-09"},
    ]
    assert target_for("intermediate", 70, "mf", lowest=58, highest=90, changes=said).rise_s == 0.2
