"""Range, evenness and high notes: what stands, what is short, and what the high notes wait for."""

from __future__ import annotations

import datetime as dt

import pytest

from analysis.models import Result
from assignments import decisions, plans
from assignments.models import Decision, GateRule, Take
from assignments.queries import evenness as evenness_query
from assignments.queries import high_notes as high_notes_query
from assignments.queries import range as range_query
from tests import played
from tests.unit.student_cast import *  # noqa: F403  # the cast
from tests.unit.student_cast import plan, queries, shown

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)


def ready(week) -> None:
    played.good_days(week, week.horn.studio.today() - DAY)


def test_an_empty_range_has_a_row_for_every_note_of_the_horn(client, horn, week):
    plan(week)
    page = range_query.page(horn, horn.studio.today())
    assert [row.written_midi for row in page.rows] == list(range(90, 57, -1))
    text = shown(client, "range")
    assert "One tone, and the first block is laid" in text
    assert text.count("today") > 3  # the three tones of today's set are marked


def test_every_played_cell_leads_to_its_last_sound(client, horn, week):
    today = horn.studio.today()
    played.day(week, today - DAY, ((73, "pp"),))
    (last,) = played.day(week, today, ((73, "pp"),), missed={(73, "pp")})
    page = range_query.page(horn, today)
    cell = next(row for row in page.rows if row.written_midi == 73).cells["pp"]
    assert (cell.outcome, cell.href) == ("miss", f"/tones/{last.pk}/")


def test_the_range_says_how_many_notes_are_short(client, horn, week):
    ready(week)
    assert "Every note stands" in shown(client, "range")


def test_the_range_of_a_long_past_needs_no_more_queries(horn, week):
    played.day(week, horn.studio.today() - DAY)
    few = queries(lambda: range_query.page(horn, horn.studio.today()))
    ready(week)
    assert queries(lambda: range_query.page(horn, horn.studio.today())) == few


def test_building_says_how_much_ground_is_laid(client, horn, week):
    played.day(week, horn.studio.today() - DAY)
    text = shown(client, "high_notes")
    assert "Laying the ground: 1 of 10 days" in text
    assert "Then Marisa listens to six of your tones and decides." in text


def test_when_the_rule_is_met_the_teacher_listens_next(client, horn, week):
    ready(week)
    text = shown(client, "high_notes")
    assert "The rule is met. Marisa listens next." in text
    assert "You need do nothing." in text


def test_a_yes_opens_and_shows_who_said_it(client, horn, week, teacher):
    ready(week)
    assert "What the high notes wait for" in shown(client, "today")
    decisions.decide(horn=horn, by=teacher.user, kind=Decision.Kind.CONFIRM, stage=1, words="Lovely even ground.")
    assert "What the high notes wait for" not in shown(client, "today")
    text = shown(client, "high_notes")
    assert "Open." in text
    assert "Lovely even ground." in text
    assert "Marisa has listened and said yes." in text


def test_once_who_set_the_week_has_left_the_page_speaks_of_your_teacher(client, horn, week, teacher):
    ready(week)
    teacher.ends_on = horn.studio.today() - DAY
    teacher.save()
    text = shown(client, "high_notes")
    assert "The rule is met. Your teacher listens next." in text
    assert "your teacher listens next" not in text


def test_where_the_rule_opened_without_an_ear_nobody_is_said_to_have_listened(client, horn, week):
    yesterday = horn.studio.today() - DAY
    GateRule.objects.create(studio=horn.studio, chosen={}, ear_stages=[2, 3], from_on=week.starts_on)
    GateRule.objects.create(studio=horn.studio, chosen={}, from_on=yesterday)
    played.good_days(week, yesterday, count=12)
    text = shown(client, "high_notes")
    assert "Open. Start with overtones" in text
    assert "has listened and said yes" not in text


def test_what_somebody_decided_who_is_gone_is_not_laid_to_whoever_sets_the_weeks(client, horn, week, teacher):
    decisions.decide(horn=horn, by=teacher.user, kind=Decision.Kind.SHUT, stage=1, words="A sore lip.")
    Decision.objects.update(by=None)
    assert "Your teacher shut it for now." in shown(client, "high_notes")


def test_a_pause_counts_nothing_against_the_student(client, horn, week, teacher):
    decisions.decide(
        horn=horn,
        by=teacher.user,
        kind=Decision.Kind.PAUSE,
        until_on=horn.studio.today() + 7 * DAY,
        words="Chicken pox.",
    )
    text = shown(client, "high_notes")
    assert "On a pause" in text
    assert "Nothing counts against you." in text
    assert text[text.index("On a pause until") :][:60].split("</")[0] in shown(client, "today")


def test_high_notes_carry_their_caution(client, horn, week):
    assert "High notes are not won by biting" in shown(client, "high_notes")


def test_high_notes_need_a_fixed_number_of_queries(horn, week):
    few = queries(lambda: high_notes_query.page(horn, horn.studio.today()))
    ready(week)
    assert queries(lambda: high_notes_query.page(horn, horn.studio.today())) == few


def test_evenness_without_a_run_says_how_to_begin(client, horn, week):
    text = shown(client, "evenness")
    assert "Do neighbours match?" in text
    assert "Play the run" in text


def test_evenness_without_a_run_in_any_week_says_who_sets_it(client, horn, week):
    week.exercises.filter(kind="evenness_run").delete()
    text = shown(client, "evenness")
    assert "Your teacher puts it into a week." in text
    assert "Play the run" not in text


def run(week, *, odd: dict[int, float]) -> None:
    """An up-and-down run as measuring leaves it; ``odd``: notes that stand out, by dB."""
    exercise = week.exercises.get(kind="evenness_run")
    asked = plans.slots_beside(exercise)
    notes = [slot.written_midi for slot in asked]
    tones = [
        {
            **played.report(note, "mf")["tones"][0],
            "index": place,
            "asked_index": place,
            "start_s": 3.0 * place,
            "end_s": 3.0 * place + 2.0,
            "level_db": -26.0 + odd.get(note, 0.0),
        }
        for place, note in enumerate(notes)
    ]
    holes = [
        {"index": notes.index(note), "written_midi": note, "kind": "level", "size": size, "unit": "dB"}
        for note, size in odd.items()
    ]
    report = {**played.report(58, "mf"), "tones": tones, "evenness": {"holes": holes, "level_error_db": 1.0}}
    (tried,) = played.day(week, week.horn.studio.today(), ((58, "mf"),))
    Take.objects.filter(pk=tried.take_id).update(exercise=exercise, asked=[slot.as_json() for slot in asked])
    Result.objects.filter(analysis=tried.take.analysis_id).update(report=report)


def test_the_worst_hole_is_heard_among_its_neighbours(client, horn, week):
    run(week, odd={73: -8.0})
    text = shown(client, "evenness")
    assert "One hole, low to high" in text
    assert "sounds softer than the notes beside it." in text
    assert "It may be the room." in text
    assert "Two more spots of the phone" in text
    (odd,) = evenness_query.page(horn).odd
    assert [stretch[1] for stretch in odd.five] == [
        38.85,
        41.85,
        44.85,
        47.85,
        50.85,
    ]  # B4, C5, C♯5, D5, E♭5, a breath early


def test_a_run_that_passes_over_a_note_draws_each_of_the_others_in_its_place(client, horn, week):
    week.excluded_written_midi = [60]
    week.save()
    run(week, odd={73: -8.0})
    assert "One hole, low to high" in shown(client, "evenness")
    (odd,) = evenness_query.page(horn).odd
    assert odd.alone == (odd.five[2][0], 41.85, 44.3)  # one place earlier than in a run with every note


def test_a_note_that_nobody_asked_for_is_no_hole_of_the_run(client, horn, week):
    run(week, odd={73: -8.0})
    result = Result.objects.get(analysis__take__exercise__kind="evenness_run")
    (hole,) = result.report["evenness"]["holes"]
    result.report["evenness"]["holes"] = [{**hole, "written_midi": 95}, hole]  # cracked over the keys in between
    result.save()
    assert "One hole, low to high" in shown(client, "evenness")


def test_a_run_on_a_horn_that_was_put_right_since_keeps_its_notes(client, horn, week):
    run(week, odd={90: -8.0})
    horn.highest_keyed_written_midi = 89  # it has no F♯ key after all
    horn.save()
    assert "One hole, low to high" in shown(client, "evenness")
    assert len(evenness_query.page(horn).odd[0].five) == 3


def test_an_even_run_says_so(client, horn, week):
    run(week, odd={})
    assert "Even, as far as one spot can tell" in shown(client, "evenness")
