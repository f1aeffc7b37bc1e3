"""What the ear says of targets that not every tone has: those of swells and steps, and those that are advice."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from assignments import ear, ear_answers
from assignments.exercises import Slot
from assignments.limits import target_of
from assignments.models import Take
from assignments.queries import ear_found as found_query
from tests import builders, people, played
from tests.unit.student_cast import shown

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]


@pytest.fixture
def teacher(client):
    made = people.teacher(people.studio())
    client.force_login(made.user)
    return made


@pytest.fixture
def horn(teacher):
    return people.horn(teacher.studio, level="intermediate")


@pytest.fixture
def tries(horn, teacher):
    """Thirty-three tones of yesterday, the highest not on target."""
    on = horn.studio.today() - dt.timedelta(days=1)
    return played.day(played.long_week(horn, teacher.user), on, missed={(90, "mf")})


def of_shape(part: str, value: float, missed: bool) -> dict[str, object]:
    verdict = "missed" if missed else "met"
    return {"measure": "shape", "part": part, "value": value, "limit": 0.0, "verdict": verdict, "must": True}


def test_swells_and_steps_are_compared_by_their_own_targets(client, horn, teacher) -> None:
    """Thirty-two swells of R² 0.94 and 40 ladders whose smallest step is 1 dB, under the table's 1.2, all accepted."""
    week, today = played.long_week(horn, teacher.user), horn.studio.today()
    swells = played.day(week, today - dt.timedelta(days=2), [(58 + n % 33, "swell") for n in range(32)])
    ladders = played.day(week, today - dt.timedelta(days=1), [(58 + n % 33, "stepped") for n in range(40)])
    for tone in swells:
        tone.checks = [of_shape("straightness", 0.94, missed=False), of_shape("peak_from", 0.46, missed=False)]
    for tone in ladders:
        tone.checks = [of_shape("smallest_step_db", 1.0, missed=True), of_shape("steps_found", 5.0, missed=False)]
    for tone in (*swells, *ladders):
        tone.save()
        ear_answers.answer(tone, by=teacher.user, accepted=True)
    page = found_query.page(teacher, "intermediate")
    lines = {line.measure: line for line in page.lines}
    straight, peak, step = lines["straightness"], lines["peak_from"], lines["smallest_step_db"]
    assert (straight.found.factor, straight.now, straight.offered) == (0.5, "88 in a hundred", "94 in a hundred")
    assert (peak.found.factor, peak.offered) == (0.4, "46 in a hundred")
    assert (step.found.factor, step.now, step.offered) == (1.2, "1.2 dB", "1.0 dB")
    assert (step.found.agreed.count, step.found.agreed.of) == (0, 40)
    assert step.may_be_taken
    assert lines["slide_share"].missing == ear.LEAST_ACCEPTED
    assert [(kind.tally.kind, kind.tally.accepted) for kind in page.kinds] == [("swells", 32), ("steps", 40)]
    assert client.post(reverse("ear_found") + "?level=intermediate", {"measure": "smallest_step_db"}).status_code == 302
    later = Take(horn=horn, exercise=builders.daily(builders.week(horn, teacher.user)), on=today)
    assert target_of(later, Slot(0, 70, "stepped")).smallest_step_db == pytest.approx(1.0)


def test_a_studio_that_plays_no_shapes_sees_no_targets_of_shapes(client, tries, teacher) -> None:
    measures = {line.measure for line in found_query.page(teacher, "intermediate").lines}
    assert measures == set(ear_answers.OF_TONES.values())
    assert "Swells" not in shown(client, "ear")


def test_advice_is_compared_and_decides_nothing(client, tries, teacher) -> None:
    for tone in tries:
        sag = {"part": "sag_cents", "value": 40.0, "verdict": "missed", "must": False}
        tone.checks = [*tone.checks, sag]
        tone.save()
        ear_answers.answer(tone, by=teacher.user, accepted=True)
    page = found_query.page(teacher, "intermediate")
    line = next(line for line in page.lines if line.measure == "sag_cents")
    assert (line.is_advice, line.found.factor, line.found.agreed.count) == (True, 2.0, 0)
    assert page.agreed.startswith("32 of 33")
