"""Sunday: the week for several students at once, last week's again, and a pause for all."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.db import connection
from django.template.defaultfilters import date as date_words
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from assignments import decisions, routines, standings, weeks
from assignments.models import Decision, Week
from tests import builders, people, played

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("signed_in")]

DAY = dt.timedelta(days=1)
OVERTONES = next(pk for pk, row in routines.table().items() if row["name"] == "Ground, then overtones")
ADDRESS = "many_weeks"


@pytest.fixture
def horns(studio, teacher):
    return [people.horn(studio, name) for name in ("Ada Fenn", "Bo Vane", "Cy Larkspur")]


def send(client, whom, what, **sent):
    today = whom[0].studio.today()
    body = {"what": what, "horns": [str(horn.pk) for horn in whom], "starts_on": str(today), "routine": str(OVERTONES),
            "budget_minutes": "10", "focus": "", "words": "", "until_on": "", "reason": "", **sent}  # fmt: skip
    return client.post(reverse(ADDRESS), body, follow=True)


def test_one_week_is_given_to_all_until_each_ones_next_lesson(client, horns, studio):
    today = studio.today()
    horns[0].player.lesson_weekday = (today + 3 * DAY).weekday()
    horns[0].player.save()
    text = send(client, horns, "new", focus="soft starts").content.decode()
    assert "Given to 3 students" in text
    assert [week.focus for week in Week.objects.all()] == ["soft starts"] * 3
    assert [weeks.latest(horn).ends_on - today for horn in horns] == [2 * DAY, 6 * DAY, 6 * DAY]
    assert {row.kind for row in weeks.latest(horns[0]).exercises.all()} == {"daily_tones", "evenness_run"}


def test_each_gets_the_blocks_that_are_open_for_them(client, horns, teacher):
    decisions.decide(horn=horns[1], by=teacher, kind="open", stage=1, words="For the concert.")
    send(client, horns, "new")
    stages = [max(row.stage for row in weeks.latest(horn).exercises.all()) for horn in horns]
    assert stages == [0, 1, 0]


PICK = {"written_midi": 73, "tone": "pp"}


def with_picks(teacher, horn, *picks, **fields):
    return builders.week(horn, teacher, on=horn.studio.today() - 7 * DAY, pins=list(picks), **fields)


def test_one_for_all_leaves_each_their_own_picks(client, horns, teacher):
    with_picks(teacher, horns[0], PICK)
    send(client, horns, "new")
    assert [weeks.latest(horn).pins for horn in horns] == [[PICK], [], []]


def test_the_picks_of_one_are_handed_on_to_whoever_has_those_notes(client, horns, teacher, studio):
    with_picks(teacher, horns[0], PICK, {"written_midi": 90, "tone": "mf"})
    without_key = people.horn(studio, "Di Moor", highest_keyed_written_midi=89)
    in_repair = with_picks(teacher, horns[1], excluded_written_midi=[73]).horn
    begun = client.get(reverse(ADDRESS), {"from": str(horns[0].pk)}).content.decode()
    assert 'value="73-pp" checked' in begun
    send(client, [without_key, in_repair, horns[2]], "new", picks="these", pins=["73-pp", "90-mf"])
    assert weeks.latest(without_key).pins == [PICK]
    assert weeks.latest(in_repair).pins == [{"written_midi": 90, "tone": "mf"}]
    assert weeks.latest(horns[2]).pins == [PICK, {"written_midi": 90, "tone": "mf"}]


def test_what_is_unticked_or_not_asked_by_the_routine_is_no_pick(client, horns, teacher):
    with_picks(teacher, horns[0], PICK)
    send(client, horns[:1], "new", picks="none", pins=["73-pp"])
    assert weeks.latest(horns[0]).pins == []
    first_ground = next(pk for pk, row in routines.table().items() if row["name"] == "First ground")
    send(client, horns[1:2], "new", picks="these", pins=["73-pp", "73-mf"], routine=str(first_ground))
    assert weeks.latest(horns[1]).pins == [{"written_midi": 73, "tone": "mf"}]


def test_last_week_is_copied_with_its_picks_and_without_what_has_shut_since(client, horns, teacher, studio):
    decisions.decide(horn=horns[0], by=teacher, kind="open", stage=1, words="For the concert.")
    for horn in horns:
        builders.week(
            horn, teacher, on=studio.today() - 7 * DAY, focus=f"for {horn}", budget_minutes=15,
            pins=[{"written_midi": 73, "tone": "pp"}], excluded_written_midi=[58],
        )  # fmt: skip
    decisions.decide(horn=horns[0], by=teacher, kind="shut", stage=1, words="Over.")
    send(client, horns, "again")
    for horn in horns:
        week = weeks.latest(horn)
        assert week.starts_on == studio.today()
        assert (week.focus, week.budget_minutes, week.excluded_written_midi) == (f"for {horn}", 15, [58])
        assert week.pins == [{"written_midi": 73, "tone": "pp"}]
        assert {row.stage for row in week.exercises.all()} == {0}


def test_whoever_has_no_week_to_copy_is_named_and_the_others_get_theirs(client, horns, teacher, studio):
    builders.week(horns[1], teacher, on=studio.today() - 7 * DAY)
    text = send(client, horns, "again").content.decode()
    assert "Given to 1 student" in text
    assert text.count("There is no week to copy.") == 2
    assert Week.objects.filter(horn=horns[1]).count() == 2


def test_holidays_begin_and_end_on_their_days_for_all(client, horns, studio):
    today = studio.today()
    send(client, horns, "pause", starts_on=str(today + 5 * DAY), until_on=str(today + 9 * DAY), reason="Holidays.")
    states = [standings.standing(horns[2], 1, today + ahead * DAY).state for ahead in (0, 4, 5, 9, 10)]
    assert states == ["building", "building", "paused", "paused", "building"]


@pytest.mark.parametrize(("ends", "stays"), [(None, True), (12, True), (9, True), (7, False)])
def test_whoever_is_on_a_longer_pause_keeps_it_and_is_named(client, horns, teacher, studio, ends, stays):
    today = studio.today()
    until = today + ends * DAY if ends else None
    decisions.decide(horn=horns[0], by=teacher, kind="pause", words="Ill.", until_on=until)
    sent = {"starts_on": str(today + 5 * DAY), "until_on": str(today + 9 * DAY), "reason": "Holidays."}
    text = send(client, horns, "pause", **sent).content.decode()
    assert f"Given to {2 if stays else 3} students" in text
    assert text.count("It was left as it is.") == stays
    after = standings.standing(horns[0], 1, today + 10 * DAY).state
    assert after == ("paused" if ends in (None, 12) else "building")


def test_ending_todays_pause_leaves_the_planned_holidays(client, horns, teacher, studio):
    today = studio.today()
    decisions.decide(horn=horns[0], by=teacher, kind="pause", words="Ill.", until_on=today + DAY)
    send(client, horns, "pause", starts_on=str(today + 5 * DAY), until_on=str(today + 9 * DAY), reason="Holidays.")
    decisions.decide(horn=horns[0], by=teacher, kind="resume")
    states = [standings.standing(horns[0], 1, today + ahead * DAY).state for ahead in (0, 6, 10)]
    assert states == ["building", "paused", "building"]
    decisions.decide(horn=horns[0], by=teacher, kind="resume")
    assert standings.standing(horns[0], 1, today + 6 * DAY).state == "building"


def test_a_pause_that_was_planned_can_be_called_off(client, horns, teacher, studio):
    today = studio.today()
    send(client, horns, "pause", starts_on=str(today + 5 * DAY), reason="Holidays.")
    decisions.decide(horn=horns[0], by=teacher, kind="resume")
    assert standings.standing(horns[0], 1, today + 6 * DAY).state == "building"
    assert standings.standing(horns[1], 1, today + 6 * DAY).state == "paused"


def test_one_students_pause_may_begin_later_and_nothing_else_may(client, horns, studio):
    gate = reverse("gate", args=[horns[0].pk])
    later = str(studio.today() + 3 * DAY)
    assert client.post(gate, {"kind": "pause", "words": "In repair.", "on": later}).status_code == 302
    assert Decision.objects.get().on == studio.today() + 3 * DAY
    for sent in ({"kind": "shut", "stage": "1", "on": later}, {"kind": "pause", "on": str(studio.today() - DAY)}):
        assert client.post(gate, {"words": "Why.", **sent}).status_code == 400


@pytest.mark.parametrize(
    ("what", "sent", "words"),
    [
        ("again", {"whom": []}, "Choose at least one student."),
        ("again", {"starts_on": "2020-01-01"}, "That day has passed."),
        ("new", {"routine": ""}, "Choose a routine and how long a day."),
        ("new", {"routine": "00000000-0000-4000-8000-000000000000"}, "That routine isn’t there any more."),
        ("pause", {}, "Write a reason."),
        ("everything", {}, ""),
        ("", {}, "Press the button of what you mean."),
        ("again", {"starts_on": "2026-02-31"}, "Enter a valid date."),
        ("again", {"starts_on": "9999-12-31"}, "That day lies too far off."),
        ("pause", {"until_on": "9999-12-31", "reason": "Holidays."}, "That day lies too far off."),
    ],
)
def test_what_is_missing_is_said_and_nothing_is_given(client, horns, what, sent, words):
    answer = send(client, horns, what, **({"horns": sent["whom"]} if "whom" in sent else sent))
    assert answer.status_code == 400
    assert words in answer.content.decode()
    assert not Week.objects.exists()
    assert not Decision.objects.exists()


def test_a_student_of_another_studio_is_not_given_anything(client, horns):
    far = people.horn(people.studio("Far Quay"), "Yara Dale")
    assert send(client, [horns[0], far], "new").status_code == 400
    assert not Week.objects.exists()


def test_those_whose_week_is_over_are_ticked_first(client, horns, teacher):
    played.long_week(horns[0], teacher)
    text = client.get(reverse(ADDRESS)).content.decode()
    ticked = [f'value="{horn.pk}" checked' in text for horn in horns]
    assert ticked == [False, True, True]
    assert "2 students have no week that still runs." in text


def test_one_students_week_may_be_begun_with(client, horns, teacher):
    builders.week(horns[0], teacher, focus="even swells")
    text = client.get(reverse(ADDRESS), {"from": str(horns[0].pk)}).content.decode()
    assert 'value="even swells"' in text


def test_each_keeps_the_tempo_of_last_week_unless_one_is_chosen(client, horns, teacher):
    builders.week(horns[0], teacher, beats_per_minute=72)
    send(client, horns, "new")
    assert [weeks.latest(horn).beats_per_minute for horn in horns] == [72, 60, 60]
    send(client, horns, "new", beats_per_minute="54")
    assert [weeks.latest(horn).beats_per_minute for horn in horns] == [54, 54, 54]
    text = client.get(reverse(ADDRESS), {"from": str(horns[0].pk)}).content.decode()
    assert '<option value="54" selected' in text


def test_what_was_given_is_told_once_and_reloading_gives_nothing(client, horns):
    answer = send(client, horns, "new")
    assert answer.redirect_chain == [(reverse(ADDRESS), 302)]
    assert "Given to 3 students" in answer.content.decode()
    assert "Given to" not in client.get(reverse(ADDRESS)).content.decode()


def test_a_week_that_ends_today_still_runs_in_the_headline_and_in_the_ticks(client, horns, teacher, studio):
    builders.week(horns[0], teacher, on=studio.today() - 6 * DAY)
    text = client.get(reverse(ADDRESS)).content.decode()
    assert "2 students have no week that still runs." in text
    assert len(re.findall(r'name="horns" value="[^"]+" checked', text)) == 2


def test_the_page_says_until_when_each_ones_week_would_last(client, horns, studio):
    horns[0].player.lesson_weekday = (studio.today() + 3 * DAY).weekday()
    horns[0].player.save()
    text = client.get(reverse(ADDRESS)).content.decode()
    assert f"a new one: until {date_words(studio.today() + 2 * DAY, 'D j M')}" in text


def test_the_page_costs_the_same_for_many(client, horns, teacher, studio):
    def cost():
        with CaptureQueriesContext(connection) as asked:
            client.get(reverse(ADDRESS))
        return len(asked)

    few = cost()
    for number in range(12):
        people.horn(studio, f"Student{number} Tern")
    assert cost() == few


def test_an_empty_studio_is_asked_to_invite_somebody(client, teacher):
    assert reverse("student_codes") in client.get(reverse(ADDRESS)).content.decode()
