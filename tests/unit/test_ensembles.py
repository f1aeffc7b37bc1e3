"""An ensemble: who sits there, what they are asked for, where it stands in each one's day, and what it counts for."""

from __future__ import annotations

import pytest

from analysis.synthesis import Faults, ToneSpec, render, write
from analysis.tasks import measure
from assignments import belongings, ensembles, parts, plans, routines, settling, takes, weeks
from assignments.exercises import Slot
from assignments.models import Chord, Ensemble, Exercise, Part, PlayedDay, Try
from assignments.queries import at_home
from assignments.queries import today as today_query
from assignments.refusals import Refusal
from studio.models import Horn, Membership
from tests import builders, people
from tests.unit.ensemble_cast import *  # noqa: F403  # the cast
from tests.unit.ensemble_cast import DAY, NAMES, mine, send, unison
from tests.unit.student_cast import queries, shown

pytestmark = pytest.mark.django_db


def test_each_reads_their_own_written_note_for_one_sounding(quartet):
    assert [part.written_midi for part in unison(quartet).parts.all()] == [60, 67, 72, 79]  # C4, G4, C5, G5


def test_it_stands_in_the_day_of_everybody_who_has_a_week(quartet, horns, teacher):
    week = builders.week(horns[1], teacher)
    unison(quartet)
    plan = plans.plan_for(horns[1], week.starts_on)
    (work,) = [one for one in today_query.page(horns[1], plan.on).other_work if one.exercise.part]
    assert work.title == "With your section"
    assert "Harbour Quartet" in work.summary
    assert "play written G4" in work.summary
    assert not Exercise.objects.filter(part__horn=horns[0]).exists()


def test_whoever_opened_the_day_before_has_it_too_and_a_second_look_adds_nothing(quartet, horns, teacher):
    week = builders.week(horns[1], teacher)
    plans.plan_for(horns[1], week.starts_on)
    unison(quartet)
    parts.lay(week, week.starts_on)
    assert mine(horns[1]).week == week


def test_a_new_week_has_it_again_and_what_was_sent_of_it_hangs_together(quartet, horns, teacher):
    first = builders.week(horns[1], teacher)
    chord = unison(quartet)
    plans.plan_for(horns[1], first.starts_on)
    second = builders.week(horns[1], teacher)
    plans.plan_for(horns[1], first.starts_on + DAY)
    assert set(Exercise.objects.filter(part__chord=chord).values_list("week", flat=True)) == {first.pk, second.pk}


def test_after_its_day_it_is_gone_and_refused(quartet, horns, teacher):
    builders.week(horns[1], teacher, on=quartet.studio.today() - DAY)
    unison(quartet, days=0)
    plan = plans.plan_for(horns[1], quartet.studio.today())
    assert today_query.page(horns[1], plan.on).other_work[-1].exercise.part
    chord = Chord.objects.get()
    Chord.objects.update(for_on=plan.on - DAY)
    assert not any(one.exercise.part for one in today_query.page(horns[1], plan.on).other_work)
    with pytest.raises(Refusal) as refused:
        send(mine(horns[1]), plan.on)
    assert refused.value.code == "part_over"
    assert send(mine(horns[1]), chord.for_on - DAY)  # played before, and waited on the phone


@pytest.mark.parametrize("end", ["take_back", "close"])
def test_taken_back_or_closed_it_stands_in_nobodys_day_and_what_waits_on_a_phone_still_comes(
    quartet, horns, teacher, end
):
    week = builders.week(horns[1], teacher)
    chord = unison(quartet)
    plan = plans.plan_for(horns[1], week.starts_on)
    ensembles.take_back(chord) if end == "take_back" else ensembles.close(quartet)
    assert not any(one.exercise.part for one in today_query.page(horns[1], plan.on).other_work)
    exercise = mine(horns[1])
    assert send(exercise, plan.on)
    with pytest.raises(Refusal):
        takes.may_record(horns[1], exercise, plan.on + DAY)


def test_a_tone_of_it_is_measured_against_the_common_reference_and_counts_for_nothing(
    studio, quartet, horns, teacher, own_store, tmp_path
):
    studio.a4_hz = 442.0
    studio.save()
    week = builders.week(horns[1], teacher)
    quartet.refresh_from_db()
    unison(quartet)
    plans.plan_for(horns[1], week.starts_on)
    file = tmp_path / "take.flac"
    write(
        file,
        render([ToneSpec(written_midi=67, seconds=5.0, faults=Faults(cents=0.0))], "alto", 442.0, seed=3)[0],
        "flac",
    )
    take = send(mine(horns[1]), week.starts_on, file.read_bytes())
    assert take.analysis.request["a4_hz"] == 442.0
    measure(str(take.analysis_id))
    settling.settle(take.analysis_id)
    tried = Try.objects.get()
    assert (tried.outcome, tried.counts, tried.written_midi) == ("hit", False, 67)
    assert not PlayedDay.objects.exclude(counted=b"").exists()


def test_no_routine_holds_it(studio):
    with pytest.raises(Refusal):
        routines.keep(studio=studio, name="Ours", summary="", block_kinds=["daily_tones", parts.KIND], tones=["mf"])


@pytest.mark.parametrize(
    ("notes", "says"),
    [
        (
            [46, 58, 58, 58],
            "“B♭2” is too low for Saskia’s soprano, which begins at G♯3. The nearest octave is B♭3, written C4.",
        ),
        (
            [58, 58, 58, 82],
            "“B♭5” is too high for Jonah’s baritone, whose keys end at A4. The nearest octave is B♭3, written G5.",
        ),
    ],
)
def test_a_note_outside_of_a_normal_range_is_refused_with_the_seat_and_the_nearest_octave(quartet, notes, says):
    with pytest.raises(Refusal) as refused:
        unison(quartet, notes=notes)
    assert refused.value.text == says
    assert not Chord.objects.exists()


def test_a_horn_without_the_high_key_is_asked_for_nothing_above_it(studio, teacher, quartet):
    short = people.horn(studio, "Wilma Quince", "alto", highest_keyed_written_midi=89)
    pair = ensembles.keep(studio=studio, by=teacher, name="Pair", horns=[short, ensembles.sitting(quartet)[1]])
    assert [one.horn for one in ensembles.obstacles([(horn, 81) for horn in ensembles.sitting(pair)])] == [short]


def test_notes_that_are_not_of_the_chord_make_it_one_of_your_own(quartet):
    assert unison(quartet, notes=[58, 58, 58, 60 - 12]).quality == "own"
    assert unison(quartet, quality="major", notes=[70, 62, 53, 46], sounding=46).quality == "major"


@pytest.mark.parametrize("days", [-1, 400])
def test_a_day_that_is_past_or_far_off_is_refused(quartet, days):
    with pytest.raises(Refusal):
        unison(quartet, days=days)


def test_a_closed_one_is_asked_for_nothing_until_it_is_opened_again(quartet):
    ensembles.close(quartet)
    with pytest.raises(Refusal):
        unison(quartet)
    ensembles.open_again(quartet)
    assert unison(quartet)


def test_one_player_sits_once_and_nobody_sits_alone(studio, teacher, horns, second_horn):
    for seats in ([horns[0]], [horns[0], horns[0]], [horns[0], horns[1], second_horn], []):
        with pytest.raises(Refusal):
            ensembles.keep(studio=studio, by=teacher, name="Solo", horns=seats)
    assert not Ensemble.objects.exists()


def test_new_seats_change_nothing_that_was_set_before(quartet, studio, teacher, horns):
    chord = unison(quartet)
    ensembles.keep(studio=studio, by=teacher, name="Harbour Trio", horns=horns[:3], ensemble=quartet)
    assert chord.parts.count() == 4
    assert unison(quartet).parts.count() == 3


def test_who_has_left_or_put_the_horn_away_is_not_asked(quartet, horns):
    Membership.objects.filter(pk=horns[0].player_id).update(ends_on=quartet.studio.today() - DAY)
    Horn.objects.filter(pk=horns[1].pk).update(put_away_on=quartet.studio.today())
    assert ensembles.sitting(quartet) == horns[2:]


def test_deleting_one_student_leaves_the_others_their_section(quartet, horns):
    chord = unison(quartet)
    horns[0].delete()
    assert [part.horn for part in chord.parts.all()] == horns[1:]
    assert Part.objects.count() == 3


def test_a_student_reads_instruments_and_no_names(client, quartet, horns, teacher):
    week = builders.week(horns[1], teacher)
    unison(quartet)
    plans.plan_for(horns[1], week.starts_on)
    client.force_login(horns[1].player.user)
    page = shown(client, "exercise", mine(horns[1]).pk)
    assert "Harbour Quartet" in page
    assert "soprano · <b>alto (you)</b> · tenor · baritone" in page
    pages = page + shown(client, "today")
    assert [name for name in NAMES.values() if name != "Pim Larkspur" and name.split()[0] in pages] == []


def test_at_home_stands_the_childs_own_note_and_nobody_else(quartet, horns):
    assert at_home.month(horns[1].player).together == ("Harbour Quartet: nothing is set.",)
    unison(quartet)
    (line,) = at_home.month(horns[1].player).together
    assert line.startswith("Harbour Quartet, ")
    assert line.endswith("play written G4.")


def test_a_copy_holds_ones_own_seat_and_part_and_nobody_elses(quartet, horns):
    unison(quartet)
    rows = belongings.of(horns[1].player)
    assert [row.horn for name in ("seats", "parts") for row in rows[name]] == [horns[1], horns[1]]
    assert {user.name for user in rows["people"]} == {"Pim Larkspur", "Marisa Oakhanger"}


def test_a_chord_of_which_somebody_played_two_horns_is_copied_once(quartet, horns, second_horn):
    chord = unison(quartet)
    Part.objects.create(chord=chord, horn=second_horn, position=9, sounding_midi=58)  # from when that could be set
    assert list(belongings.of(horns[0].player)["chords"]) == [chord]


def test_nobody_records_another_ones_part(client, quartet, horns, teacher):
    for horn in horns[:2]:
        plans.plan_for(horn, builders.week(horn, teacher).starts_on)
    unison(quartet)
    client.force_login(horns[1].player.user)
    shown(client, "exercise", mine(horns[0]).pk, status=404)


def test_today_takes_as_many_queries_with_a_part_as_without(quartet, horns, teacher):
    week = builders.week(horns[1], teacher)
    plans.plan_for(horns[1], week.starts_on)
    without = queries(lambda: today_query.page(horns[1], week.starts_on))
    unison(quartet)
    assert queries(lambda: today_query.page(horns[1], week.starts_on)) == without


def test_a_slot_says_what_travels_with_the_recording(quartet, horns):
    part = unison(quartet).parts.get(horn=horns[3])
    assert parts.slots(part) == (Slot(0, 79, "mf"),)


def test_weeks_that_are_copied_leave_the_part_where_it_was(quartet, horns, teacher):
    unison(quartet)
    week = builders.week(horns[1], teacher)
    plans.plan_for(horns[1], week.starts_on)
    kinds_of_last = [row.kind for row in weeks.latest(horns[1]).exercises.all()]
    assert parts.KIND in kinds_of_last
    again = builders.week(horns[1], teacher, block_kinds=kinds_of_last)
    assert not again.exercises.exclude(part=None).exists()
