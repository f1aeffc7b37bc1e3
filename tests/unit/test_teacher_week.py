"""Setting a week: what is set, what waits, and what is refused on the server."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from assignments import decisions, routines
from assignments.models import Routine, Week
from tests import people, played

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("signed_in")]

DAY = dt.timedelta(days=1)
BY_NAME = {row["name"]: pk for pk, row in routines.table().items()}
OVERTONES = BY_NAME["Ground, then overtones"]


@pytest.fixture
def horn(studio, teacher):
    return people.horn(studio)


def address(horn):
    return reverse("week", args=[horn.pk])


def form(horn, **changes):
    on = horn.studio.today()
    return {
        "routine": str(OVERTONES),
        "blocks": ["daily_tones", "evenness_run"],
        "budget_minutes": "10",
        "focus": "clean starts",
        "words": "Air first, then the tongue lets go.",
        "starts_on": on.isoformat(),
        "ends_on": (on + 6 * DAY).isoformat(),
        "pins": ["73-pp"],
        **changes,
    }


def open_by_hand(horn, teacher, stage=1):
    decisions.decide(horn=horn, by=teacher, kind="open", stage=stage, words="For the concert.")


def test_a_week_is_set_with_all_that_was_chosen(client, teacher, horn):
    assert client.post(address(horn), form(horn)).url == reverse("student", args=[horn.pk])
    (week,) = Week.objects.all()
    assert (week.budget_minutes, week.focus, week.words) == (10, "clean starts", "Air first, then the tongue lets go.")
    assert (week.set_by, week.routine.name) == (teacher, "Ground, then overtones")
    assert week.pins == [{"written_midi": 73, "tone": "pp"}]
    assert [exercise.kind for exercise in week.exercises.all()] == ["daily_tones", "evenness_run"]


def test_shut_blocks_are_shown_with_their_reason_and_cannot_be_ticked(client, horn):
    text = client.get(address(horn)).content.decode()
    assert "Shut: Overtones to the third partial" in text
    assert "0 of 8 days on target" in text
    assert 'value="overtones_third"' not in text
    assert f"{reverse('gate', args=[horn.pk])}?stage=1#by-hand" in text


def test_where_nothing_but_days_is_missing_the_reason_says_so(client, teacher, horn):
    played.good_days(played.long_week(horn, teacher), horn.studio.today() - DAY, count=9)
    text = client.get(address(horn), {"routine": str(OVERTONES)}).content.decode()
    assert "One counted day is missing" in text
    assert "Waits: ," not in text


def test_a_shut_block_is_refused_on_the_server_when_the_page_is_passed_by(client, horn):
    answer = client.post(address(horn), form(horn, blocks=["daily_tones", "overtones_third"]))
    assert answer.status_code == 403
    assert "is shut until the foundation stands" in answer.content.decode()
    assert not Week.objects.exists()


def test_a_refused_form_keeps_what_was_filled_in(client, horn):
    answer = client.post(address(horn), form(horn, blocks=["daily_tones", "overtones_third"]))
    text = answer.content.decode()
    assert "Air first, then the tongue lets go." in text
    assert 'value="73-pp" checked' in text
    assert 'value="10" checked' in text


def test_once_its_gate_is_open_an_extension_block_is_set_above_the_foundation(client, teacher, horn):
    open_by_hand(horn, teacher)
    assert 'value="overtones_third"' in client.get(address(horn)).content.decode()
    client.post(address(horn), form(horn, blocks=["overtones_third", "daily_tones"]))
    assert [exercise.kind for exercise in Week.objects.get().exercises.all()] == ["daily_tones", "overtones_third"]


def test_a_week_without_its_foundation_is_refused(client, teacher, horn):
    open_by_hand(horn, teacher)
    assert client.post(address(horn), form(horn, blocks=["overtones_third"])).status_code == 400
    answer = client.post(address(horn), form(horn, blocks=[]))
    assert "A week stands on its daily tones." in answer.content.decode()
    assert not Week.objects.exists()


@pytest.mark.parametrize(
    "changes",
    [
        {"ends_on": "2020-01-01"},
        {"budget_minutes": "7"},
        {"starts_on": "soon"},
        {"ends_on": "9999-12-31"},
        {"starts_on": "9999-12-31", "ends_on": "9999-12-31"},
        {"pins": ["40-pp"]},
        {"pins": ["73-loud"]},
        {"routine": "none"},
        {"left_out": [str(note) for note in range(58, 91)]},
        {"blocks": ["daily_tones", "handstand"]},
    ],
    ids=[
        "ends before it starts",
        "seven minutes",
        "no date",
        "ends in another age",
        "another age",
        "no such note",
        "no such tone",
        "no routine",
        "no note left",
        "no such block",
    ],
)
def test_what_makes_no_sense_is_sent_back_and_nothing_is_set(client, horn, changes):
    assert client.post(address(horn), form(horn, **changes)).status_code == 400
    assert not Week.objects.exists()


def test_a_routine_that_is_gone_says_so(client, horn):
    answer = client.post(address(horn), form(horn, routine="5b0f6a52-6c7f-4a6e-9c1b-000000000000"))
    assert answer.status_code == 404
    assert "That routine isn’t there any more." in answer.content.decode()


def test_a_routine_of_another_studio_is_not_on_offer(client, horn):
    theirs = Routine.objects.create(studio=people.studio("Far Quay"), name="Theirs", blocks=[{"kind": "daily_tones"}])
    assert client.post(address(horn), form(horn, routine=str(theirs.pk))).status_code == 404
    assert "Theirs" not in client.get(address(horn)).content.decode()


def test_the_next_week_begins_with_the_last_ones_choices(client, horn):
    client.post(address(horn), form(horn, blocks=["daily_tones"], left_out=["90"]))
    text = client.get(address(horn)).content.decode()
    assert "Copied from the week of" in text
    assert "Air first, then the tongue lets go." in text
    assert 'value="73-pp" checked' in text
    assert 'value="90" checked' in text
    assert 'name="blocks" value="evenness_run" checked' not in text


def test_another_routine_can_be_tried_before_it_is_given(client, horn):
    text = client.get(address(horn), {"routine": str(BY_NAME["The soft end"])}).content.decode()
    assert "evenness_run" not in text
    assert 'value="73-fff"' not in text
    assert 'value="73-ppp"' in text


def test_a_tone_can_be_asked_for_by_its_address(client, horn):
    assert 'value="58-p" checked' in client.get(address(horn), {"pin": "58-p"}).content.decode()
    assert client.get(address(horn), {"pin": "nonsense", "routine": "nonsense"}).status_code == 200


def test_each_budget_says_how_soon_everything_comes_round(client, horn):
    text = client.get(address(horn)).content.decode()
    assert "At 5 minutes every note comes round within 3 practice days, every tone within 31." in text
    assert "At 10 minutes every note comes round within 2 practice days, every tone within 16." in text
    assert "At 15 minutes every note comes round every practice day, every tone within 11." in text


def test_a_smaller_range_comes_round_sooner(client, horn):
    client.post(address(horn), form(horn, left_out=[str(note) for note in (*range(58, 62), *range(87, 91))]))
    assert (
        "At 5 minutes every note comes round within 3 practice days, every tone within 23."
        in client.get(address(horn)).content.decode()
    )


def test_the_week_ends_the_day_before_the_next_lesson(client, horn):
    on = horn.studio.today()
    horn.player.lesson_weekday = (on + 3 * DAY).weekday()
    horn.player.save()
    assert f'value="{(on + 2 * DAY).isoformat()}"' in client.get(address(horn)).content.decode()


def test_the_marks_of_what_was_played_stand_beside_the_picks(client, teacher, horn):
    played.day(played.long_week(horn, teacher), horn.studio.today() - DAY, missed={(73, "mf")})
    text = client.get(address(horn)).content.decode()
    row = text.partition('value="73-mf"')[2].partition("</label>")[0]
    assert "not yet" in row
