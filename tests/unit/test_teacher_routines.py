"""Routines: ready-made ones, a studio's own, and how soon everything comes round in them."""

from __future__ import annotations

import pytest
from django.urls import reverse

from assignments import routines
from assignments.exercises import TONE_WORDS, kinds
from assignments.models import Routine, Week
from assignments.queries import routines as routines_query
from assignments.queries.week import DEFAULT_ROUTINE
from tests import builders, people

pytestmark = pytest.mark.django_db


@pytest.fixture
def teacher(studio, client):
    user = people.teacher(studio).user
    client.force_login(user)
    return user


FORM = {"name": "Long and soft", "summary": "For Mondays", "blocks": ["daily_tones"], "tones": ["pp", "mf"]}


def test_every_ready_made_routine_is_made_of_known_blocks_with_the_foundation_first():
    for row in routines.table().values():
        stages = [kinds()[block["kind"]].stage for block in row["blocks"]]
        assert stages == sorted(stages)
        assert row["blocks"][0]["kind"] == "daily_tones"
        assert set(row["blocks"][0].get("tones", [])) <= set(TONE_WORDS)


def test_the_routine_that_a_first_week_begins_with_is_there():
    assert DEFAULT_ROUTINE in {row["name"] for row in routines.table().values()}


def test_ready_made_routines_are_written_once_and_follow_the_table():
    first = routines.ready_made()
    Routine.objects.filter(pk=first[0].pk).update(name="An older name")
    assert [row.pk for row in routines.ready_made()] == [row.pk for row in first]
    assert Routine.objects.count() == len(first)
    assert Routine.objects.get(pk=first[0].pk).name == first[0].name


def test_looking_at_routines_writes_nothing(client, studio, teacher):
    assert client.get(reverse("routines")).status_code == 200
    assert not Routine.objects.exists()


def test_each_says_how_soon_every_tone_comes_round(client, teacher):
    text = client.get(reverse("routines")).content.decode()
    assert "Every tone comes round within 31 practice days at 5 minutes a day, 16 at 10, 11 at 15." in text


def test_the_numbers_are_the_planners_own_for_a_small_routine():
    found = [routines_query.round_of(("mf", "f"), minutes) for minutes in (5, 10, 15)]
    assert [(one.note_days, one.tone_days) for one in found] == [(3, 6), (2, 3), (1, 2)]


def test_too_few_tones_for_a_day_says_so():
    assert routines_query.round_of(("mf",), 5).tone_days == 3
    few = routines_query.round_of(("mf",), 15)
    assert few.sentence == "There aren’t enough different tones for 15 minutes."
    assert "Add a level or a shape." in routines_query.feasible([few])


def test_a_routine_of_ones_own_is_kept_in_order(client, studio, teacher):
    sent = {**FORM, "blocks": ["overtones_third", "evenness_run", "daily_tones"], "tones": ["mf", "pp"]}
    assert client.post(reverse("new_routine"), sent).url == reverse("routines")
    (made,) = studio.routines.all()
    assert made.blocks == [
        {"kind": "daily_tones", "tones": ["pp", "mf"]},
        {"kind": "evenness_run"},
        {"kind": "overtones_third"},
    ]
    assert "Long and soft" in client.get(reverse("routines")).content.decode()


@pytest.mark.parametrize(
    "changes",
    [{"blocks": ["overtones_third"]}, {"tones": []}, {"name": ""}, {"tones": ["loudest"]}, {"blocks": ["handstand"]}],
    ids=["no foundation", "no tones", "no name", "no such tone", "no such block"],
)
def test_a_routine_that_cannot_stand_is_sent_back(client, studio, teacher, changes):
    assert client.post(reverse("new_routine"), {**FORM, **changes}).status_code == 400
    assert not studio.routines.exists()


def test_a_copy_begins_with_what_the_other_holds_but_for_its_name(client, teacher):
    soft = next(pk for pk, row in routines.table().items() if row["name"] == "The soft end")
    text = client.get(reverse("new_routine"), {"from": str(soft)}).content.decode()
    assert 'value="swell" checked' in text
    assert 'value="fff" checked' not in text
    assert 'value="The soft end"' not in text


def test_ones_own_can_be_changed_and_taken_away_and_set_weeks_stay(client, studio, teacher):
    client.post(reverse("new_routine"), FORM)
    own = studio.routines.get()
    week = builders.week(people.horn(studio), teacher, routine=own)
    client.post(reverse("routine", args=[own.pk]), {**FORM, "tones": ["f"]})
    own.refresh_from_db()
    assert routines.daily_tones(own) == ("f",)
    assert builders.daily(week).tones == ["pp", "mf"]
    client.post(reverse("routine", args=[own.pk]), {"remove": "1"})
    assert not studio.routines.exists()
    assert Week.objects.get().routine is None


def test_a_ready_made_one_cannot_be_changed_nor_another_studios(client, studio, teacher):
    ready_made = routines.ready_made()[0]
    theirs = Routine.objects.create(studio=people.studio("Far Quay"), name="Theirs", blocks=[{"kind": "daily_tones"}])
    for routine in (ready_made, theirs):
        assert client.post(reverse("routine", args=[routine.pk]), FORM).status_code == 404
        routine.refresh_from_db()
        assert routine.name != FORM["name"]
