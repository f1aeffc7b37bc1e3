"""The invented studio that a first start lays: its people, and the quartet that some of them play in."""

from __future__ import annotations

import pytest

from assignments import plans
from assignments.demo import cast
from assignments.models import Chord, Exercise
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
