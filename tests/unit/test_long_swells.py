"""Swells of sixteen beats: what is asked, how it is shown, and that they are heard as they were played."""

from __future__ import annotations

import datetime as dt
import json
import re
import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from analysis import results
from analysis.models import Analysis, Result
from analysis.synthesis import ToneSpec
from assignments import plans, portions, settling
from assignments.exercises import kinds, slots_of
from assignments.models import DayPlan, Take
from assignments.queries import where
from tests import builders, people, played
from tests.unit.test_heard_as_sounded import heard, human

LONG = kinds()["long_swells"]


def test_each_note_is_asked_up_and_back_then_down_and_back():
    asked = [(slot.written_midi, slot.tone) for slot in slots_of(LONG, (58, 90))]
    assert asked[:4] == [(67, "swell"), (67, "reverse_swell"), (72, "swell"), (72, "reverse_swell")]
    assert len(asked) == 8


def test_a_note_that_is_left_out_or_not_on_the_horn_is_not_asked():
    assert 72 not in {slot.written_midi for slot in slots_of(LONG, (58, 90), left_out=[72])}
    assert {slot.written_midi for slot in slots_of(LONG, (67, 72))} == {67, 72}


@pytest.fixture
def exercise(db):
    studio = people.studio()
    routine = builders.routine([{"kind": "daily_tones"}, {"kind": "long_swells"}])
    week = builders.week(people.horn(studio), people.teacher(studio).user, routine=routine)
    return week.exercises.get(kind="long_swells")


def test_the_page_counts_sixteen_beats_and_rests_after_half_as_many_tones(client, exercise):
    client.force_login(exercise.week.horn.player.user)
    address = reverse("exercise", args=[exercise.pk])
    assert "Long swells" in client.get(address).content.decode()
    text = client.get(address, {"play": "1"}).content.decode()
    assert "16 beats of tone, 4 beats to breathe." in text
    assert 'data-beats="16"' in text
    work = json.loads(re.search(r'id="work" type="application/json">(.*?)</script>', text).group(1))
    assert work["whole"]
    assert {tone["beats"] for tone in work["tones"]} == {16}
    assert work["rest_after"] == 10  # one of them is the work of two


def test_where_every_note_of_it_is_left_out_the_page_says_so_and_nothing_is_taken_in(client, exercise):
    exercise.week.excluded_written_midi = list(LONG.written_midi)
    exercise.week.save()
    client.force_login(exercise.week.horn.player.user)
    for asked in ({}, {"play": "1"}):
        answer = client.get(reverse("exercise", args=[exercise.pk]), asked)
        assert answer.status_code == 409
        assert "Every note of this is left out for now." in answer.content.decode()
    file = SimpleUploadedFile("memo.m4a", b"any bytes", "audio/mp4")
    sent = {"client_key": uuid.uuid4(), "exercise": exercise.pk, "audio": file}
    answer = client.post(reverse("api-takes"), sent)
    assert (answer.status_code, answer.json()["code"], Take.objects.count()) == (400, "no_such_tone", 0)


def test_after_a_quarter_of_an_hour_of_tones_no_set_is_begun(client, exercise):
    horn, week = exercise.week.horn, exercise.week
    today = horn.studio.today()
    client.force_login(horn.player.user)
    address = reverse("exercise", args=[exercise.pk])
    played.day(week, today, [(60 + place, "mf") for place in range(20)] + [(60 + place, "p") for place in range(20)])
    Take.objects.filter(pk=played.day(week, today, [(58, "f")])[0].take_id).update(
        exercise=exercise, asked=[slot.as_json() for slot in plans.slots_beside(exercise)] + [{}]
    )
    assert portions.slots_today(horn, today) == 58  # nine of them were of twice the length
    assert client.get(address, {"play": "1"}).status_code == 200
    played.day(week, today, [(62, "f"), (63, "f")])
    refused = client.get(address, {"play": "1"})
    assert (refused.status_code, "a quarter of an hour of tones today" in refused.content.decode()) == (409, True)
    portions.may_begin(horn, builders.daily(week), today)  # the day's own tones are never refused


def test_after_two_days_of_pain_in_a_week_long_sets_rest(client, exercise):
    today = exercise.week.horn.studio.today()
    for ago in (1, 3):
        tones = [{"written_midi": 67, "tone": "mf", "lane": "coverage", "why": "oldest"}]
        hurt = DayPlan.objects.create(
            horn=exercise.week.horn, week=exercise.week, on=today - dt.timedelta(days=ago), tones=tones
        )
        plans.stop_because_it_hurts(hurt, teacher_may_know=False)
    client.force_login(exercise.week.horn.player.user)
    assert "Long sets rest." in client.get(reverse("exercise", args=[exercise.pk])).content.decode()


def test_they_are_heard_as_they_were_played_and_drawn_over_sixteen_beats(exercise):
    slots = plans.slots_beside(exercise)[:3]
    peaks = (0.5, 0.5, 0.25)
    specs = [
        ToneSpec(
            written_midi=slot.written_midi, shape=slot.tone, seconds=15.6, gap_s=4.4, peak_at=peak, faults=human()
        )
        for slot, peak in zip(slots, peaks, strict=True)
    ]  # fmt: skip
    measurement, _ = heard(specs, asked=tuple(slot.asked() for slot in slots))
    horn = exercise.week.horn
    analysis = Analysis.objects.create(
        request={}, audio="a/b.wav", sha256="0" * 64, audio_bytes=1, state=Analysis.State.MEASURED
    )
    Result.objects.create(analysis=analysis, engine=measurement.engine, report=results.report(measurement))
    take = Take.objects.create(
        horn=horn, exercise=exercise, analysis=analysis, on=horn.studio.today(), client_key=analysis.pk,
        asked=[slot.as_json() for slot in slots],
    )  # fmt: skip
    settling.settle(analysis.pk)
    tones = where.page(Take.objects.get(pk=take.pk)).tones
    assert [one.row.outcome for one in tones] == ["hit", "hit", "miss"]
    assert tones[2].said.happened == "The turn comes early."
    assert {one.strip.beats for one in tones} == {16}
    assert not any(one.row.counts for one in tones)  # for neither gate nor planner
