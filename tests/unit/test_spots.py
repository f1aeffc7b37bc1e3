"""Runs from several places of the phone: which count together, what they say, and how the page tells it."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from dataclasses import replace

import pytest
from django.urls import reverse
from django.utils import timezone

from analysis import results
from analysis.core import evenness as even
from analysis.core.records import Colour, Measurement, Tone
from analysis.models import Result
from assignments import plans, spots
from assignments.models import Take
from assignments.queries import evenness as evenness_query
from assignments.settling import settle
from tests import played
from tests.unit.made import tone
from tests.unit.student_cast import *  # noqa: F403  # the cast
from tests.unit.student_cast import queries, shown

pytestmark = pytest.mark.django_db
NOTES = range(58, 91)


def tones(room: Mapping[int, float]) -> tuple[Tone, ...]:
    """An even run on the way up, to which one place of the phone adds ``room`` (dB by note)."""
    return tuple(
        tone(
            index=place,
            asked_index=place,
            written_midi=note,
            start_s=3.0 * place,
            end_s=3.0 * place + 2.0,
            level_db=-26.0 + room.get(note, 0.0),
            colour=Colour(centroid_hz=1200.0, partials_db=-30.0 + room.get(note, 0.0)),
        )
        for place, note in enumerate(NOTES)
    )


def run(week, room: Mapping[int, float] | None = None, *, moved: bool = False, days_ago: int = 0) -> Take:
    """One run, measured and settled; ``moved``: the student said that the phone lies elsewhere than before."""
    on = week.horn.studio.today() - dt.timedelta(days=days_ago)
    (tried,) = played.day(week, on, ((58, "mf"),))
    empty = results.measurement({**played.report(58, "mf")})
    heard: Measurement = replace(empty, tones=tones(room or {}))
    heard = replace(heard, evenness=even.read(heard.tones, direct_over_room_db=6.0))
    Result.objects.filter(analysis=tried.take.analysis_id).update(report=results.report(heard))
    exercise = week.exercises.get(kind="evenness_run")
    Take.objects.filter(pk=tried.take_id).update(
        exercise=exercise,
        asked=[slot.as_json() for slot in plans.slots_beside(exercise)],
        recorder={"spot": "moved"} if moved else {},
        received_at=timezone.now() - dt.timedelta(days=days_ago),
    )
    return Take.objects.get(pk=tried.take_id)


def across(week) -> dict:
    spots.look(week.horn)
    return Take.objects.filter(across_spots__isnull=False).latest("received_at").across_spots


def test_runs_in_one_spot_count_as_one_however_many(week):
    for days_ago in (3, 2, 1):
        newest = run(week, days_ago=days_ago)
    found = across(week)
    assert (found["spots"], found["takes"]) == (1, [str(newest.pk)])


def test_the_newest_run_of_each_of_three_spots_counts(week):
    """Four spots, twice in the second: the oldest spot is left out, and the older run of the second."""
    run(week, days_ago=9)
    run(week, days_ago=8, moved=True)
    second = run(week, days_ago=7)
    third = run(week, days_ago=6, moved=True)
    fourth = run(week, days_ago=5, moved=True)
    assert across(week)["takes"] == [str(one.pk) for one in (fourth, third, second)]


def test_runs_of_long_ago_do_not_count_with_those_of_today(week):
    run(week, days_ago=40)
    run(week, moved=True)
    assert across(week)["spots"] == 1


def test_what_one_place_of_the_phone_made_is_gone_with_three(week):
    """6 dB at C sharp in one place alone: a hole of that run, none of three."""
    odd = {73: -6.0}
    run(week, days_ago=3)
    run(week, days_ago=2, moved=True)
    run(week, odd, days_ago=1, moved=True)
    found = across(week)
    assert found["spots"] == 3
    assert found["holes"] == []
    assert abs(dict(found["level"])[73]) < 0.5


def test_what_the_horn_does_stays_in_every_spot(week):
    for days_ago in (3, 2, 1):
        run(week, {73: -8.0}, days_ago=days_ago, moved=True)
    found = across(week)
    assert [(hole["written_midi"], hole["kind"]) for hole in found["holes"]] == [(73, "level")]
    assert dict(found["level"])[73] == pytest.approx(-8.0, abs=1.0)


def test_three_spots_make_the_error_two_thirds(week):
    """The median of three independent takes: 0.67 of one (standard deviation of the median of three normals)."""
    alone = run(week, days_ago=3)
    one = across(week)["level_error_db"]
    assert alone.pk
    run(week, days_ago=2, moved=True)
    assert across(week)["level_error_db"] == one
    run(week, days_ago=1, moved=True)
    assert across(week)["level_error_db"] == pytest.approx(0.67 * one, rel=0.01)


def test_settling_a_run_looks_at_the_spots(week):
    take = run(week)
    Take.objects.filter(pk=take.pk).update(settled_at=None, asked=[])
    settle(take.analysis_id)
    take.refresh_from_db()
    assert take.across_spots["spots"] == 1


def test_the_page_says_how_many_spots_are_in_it_and_draws_a_bar_a_note(client, horn, week):
    run(week, {69: -8.0}, days_ago=2)
    run(week, {69: -8.0}, days_ago=1, moved=True)
    spots.look(horn)
    text = shown(client, "evenness")
    assert "in two spots of the phone" in text
    assert "One more spot of the phone" in text
    assert "under the line lies A 4" in evenness_query.page(horn).profile_sentence
    assert "under the line lies A4" in evenness_query.page(horn).profile_words
    assert "for sure" not in text
    assert evenness_query.page(horn).profile.errors.count("M") == 33


def test_what_the_room_may_explain_is_named_to_both_until_three_spots_settle_it(client, teacher, horn, week):
    run(week, {73: -6.5}, days_ago=3)
    spots.look(horn)
    assert evenness_query.page(horn).unsure_words == "May be the room, may be the horn: C♯5 softer."
    to_student = shown(client, "evenness")
    client.force_login(teacher.user)
    to_teacher = client.get(reverse("student_evenness", args=[horn.pk])).content.decode()
    for text in (to_student, to_teacher):
        assert "May be the room, may be the horn" in text
    for days_ago in (2, 1):
        run(week, {73: -6.5}, days_ago=days_ago, moved=True)
    spots.look(horn)
    assert evenness_query.page(horn).unsure == ()


def test_bars_get_shorter_with_three_spots(client, horn, week):
    run(week, days_ago=3)
    spots.look(horn)
    one = _bar(horn)
    for days_ago in (2, 1):
        run(week, days_ago=days_ago, moved=True)
    spots.look(horn)
    assert _bar(horn) == pytest.approx(0.67 * one, rel=0.02)
    text = shown(client, "evenness")
    assert "Measured from three spots." in text
    assert "None stands out for sure." in text


def _bar(horn) -> float:
    """The height of the first note's bar."""
    first = evenness_query.page(horn).profile.errors.split("M")[1]
    top, bottom = first.split(" ")[1].split("V")
    return float(bottom) - float(top)


def test_the_page_takes_as_many_queries_for_three_spots_as_for_one(horn, week):
    run(week, days_ago=3)
    spots.look(horn)
    few = queries(lambda: evenness_query.page(horn))
    for days_ago in (2, 1):
        run(week, days_ago=days_ago, moved=True)
    spots.look(horn)
    assert queries(lambda: evenness_query.page(horn)) == few


def test_before_a_run_the_student_says_whether_the_phone_was_moved(client, horn, week):
    page = week.exercises.get(kind="evenness_run")
    assert "I moved the phone" not in shown(client, "exercise", page.pk)  # there is no run to compare with
    run(week, days_ago=1)
    text = shown(client, "exercise", page.pk)
    assert "I moved the phone" in text
    assert "Same spot as last time" in text
    assert '"spot": "moved"' in shown(client, "exercise", page.pk, play="1", spot="moved")
    assert '"spot": ""' in shown(client, "exercise", page.pk, play="1", spot="nonsense")


def test_a_chosen_file_can_say_it_too(client, horn, week, tmp_path, settings):
    settings.MEDIA_ROOT = tmp_path
    page = week.exercises.get(kind="evenness_run")
    form = shown(client, "take_file", page.pk)
    key = form.split('name="client_key" value="')[1].split('"')[0]
    recording = tmp_path / "run.m4a"
    recording.write_bytes(b"any bytes")
    with recording.open("rb") as sound:
        sent = {"client_key": key, "slots": [0, 1], "moved": "on", "chosen": sound}
        assert client.post(reverse("take_file", args=[page.pk]), sent).status_code == 302
    assert Take.objects.get().recorder == {"spot": "moved"}
    assert json.dumps(Take.objects.get().recorder)


def test_the_teacher_sees_the_same_and_the_runs_before(client, teacher, horn, week):
    run(week, {73: -9.0}, days_ago=9)
    spots.look(horn)
    run(week, {73: -9.0}, days_ago=1, moved=True)
    spots.look(horn)
    client.force_login(teacher.user)
    text = client.get(reverse("student_evenness", args=[horn.pk])).content.decode()
    assert "One hole, low to high" in text
    assert "dB softer or louder than its neighbours would have shown." in text
    assert "Hear all five" in text
    (earlier,) = evenness_query.page(horn).earlier
    assert earlier.words == "Stood out: C♯5. One spot of the phone."
    assert "One spot of the phone." in text
    assert (
        reverse("student_evenness", args=[horn.pk]) in client.get(reverse("student", args=[horn.pk])).content.decode()
    )


def test_the_teachers_page_before_the_first_run(client, teacher, horn, week):
    client.force_login(teacher.user)
    assert (
        "No up-and-down run was heard yet." in client.get(reverse("student_evenness", args=[horn.pk])).content.decode()
    )


def test_no_hole_in_one_spot_is_not_yet_called_even(client, horn, week):
    """At 6 dB over the room one spot lets 5.6 dB pass, three let 3.8."""
    run(week, days_ago=3)
    spots.look(horn)
    assert evenness_query.page(horn).headline == "Even, as far as one spot can tell"
    assert evenness_query.page(horn).would_show.startswith("A note 6 dB")
    for days_ago in (2, 1):
        run(week, days_ago=days_ago, moved=True)
    spots.look(horn)
    assert evenness_query.page(horn).headline == "Even, as far as three spots can tell"
    assert replace(evenness_query.page(horn), error_db=0.7).headline == "Even from low to high"
