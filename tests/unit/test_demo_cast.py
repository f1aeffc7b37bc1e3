"""The invented studio that a first start lays: its people, and the quartet that some of them play in."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.tasks import measure
from assignments import plans, routines
from assignments.demo import beside, cast
from assignments.exercises import kinds, slots_of
from assignments.models import Chord, Exercise, Take
from assignments.queries import evenness
from assignments.tasks import settle
from studio.models import Horn

pytestmark = pytest.mark.django_db


@pytest.fixture
def laid(settings, tmp_path) -> None:
    settings.DEMO_SIGN_INS_FILE = tmp_path / "sign-ins.txt"
    cast.make_people()


def test_its_quartet_reads_one_sounding_note_four_ways(laid):
    chord = Chord.objects.get()
    assert {part.sounding_midi for part in chord.parts.all()} == {58}
    assert [part.written_midi for part in chord.parts.all()] == [60, 67, 72, 79]
    assert chord.for_on > chord.ensemble.studio.today()


def test_whoever_the_story_lets_play_in_it_sits_there_and_has_it_in_the_day(laid):
    (quartet,) = cast.together()
    assert set(quartet.played) < set(quartet.seats)
    for name in quartet.played:
        horn = Horn.objects.get(player__user__username=name)
        plans.plan_for(horn, horn.studio.today())
        assert Exercise.objects.get(part__horn=horn).week.horn == horn


def test_what_they_play_beside_the_daily_tones_is_in_their_routine_and_strays_on_notes_that_it_asks(laid):
    routine_of = {player.user_name: player.routine for player in cast.players()}
    for row in cast.beside():
        horn = Horn.objects.get(player__user__username=row.user_name)
        routine = next(one for one in routines.ready_made() if one.name == routine_of[row.user_name])
        assert row.kind in {block["kind"] for block in routine.blocks}
        slots = slots_of(kinds()[row.kind], horn.written_range)
        assert {int(midi) for midi in row.hole_db} <= {slot.written_midi for slot in slots}
        assert {int(place) for place in row.cents} <= {slot.slot for slot in slots}


@pytest.mark.usefixtures("own_store")
def test_the_run_of_the_story_has_the_hole_that_the_story_says(laid, monkeypatch):
    monkeypatch.setattr(beside, "wait_for", _measure_here)
    (run,) = [row for row in cast.beside() if row.kind == "evenness_run"]
    monkeypatch.setattr(beside, "beside", lambda: [replace(run, days_ago=run.days_ago[-1:])])
    monkeypatch.setattr(beside, "together", list)
    monkeypatch.setattr(beside, "RUN_TONE_S", 1.6)
    monkeypatch.setattr(beside, "RUN_BREATH_S", 0.8)
    assert beside.play_beside() == 1
    page = evenness.page(Horn.objects.get(player__user__username=run.user_name))
    assert [odd.written_midi for odd in page.odd] == [int(midi) for midi in run.hole_db]


def _measure_here(sent: list[Take]) -> None:
    for take in sent:
        measure(str(take.analysis_id))
        settle(str(take.analysis_id))
