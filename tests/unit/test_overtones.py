"""Overtone against normal fingering: what is asked on which horn, what is said and told; and when it is enough."""

from __future__ import annotations

import datetime as dt
import json

import pytest
from django.urls import reverse

from analysis import results
from analysis.core.records import Asked
from analysis.core.tables import instruments
from analysis.models import Analysis, Result
from analysis.synthesis import ToneSpec
from assignments import decisions, plans, portions, settling, weeks
from assignments.exercises import kinds, slots_of
from assignments.models import Take
from assignments.queries import overtones
from assignments.refusals import Refusal
from studio.models import Horn
from tests import builders, people
from tests.unit.test_heard_as_sounded import heard, human

pytestmark = pytest.mark.django_db

ROUTINE = [{"kind": "daily_tones"}, {"kind": "overtone_beside_third"}, {"kind": "overtones_third"}]
BESIDE = kinds()["overtone_beside_third"]
ABOVE = kinds()["above_the_keys"]


def builds_of(horn):
    return [(horn.lowest_written, horn.highest_written), *((low, high) for _name, low, high in horn.options)]


def asked(kind, written_range, left_out=()):
    return [(slot.written_midi, slot.partial) for slot in slots_of(kinds()[kind], written_range, left_out)]


def test_each_partial_is_followed_by_the_same_note_as_it_is_always_fingered():
    assert asked("overtone_beside_third", (58, 90)) == [
        (58, 2), (70, None), (58, 3), (77, None), (59, 2), (71, None), (59, 3), (78, None),
        (60, 2), (72, None), (60, 3), (79, None),
    ]  # fmt: skip
    sixth = asked("overtone_beside_sixth", (58, 90))
    assert sixth[:6] == [(58, 4), (82, None), (58, 5), (86, None), (58, 6), (89, None)]


def test_what_the_horn_does_not_finger_is_not_asked():
    no_f_sharp = asked("overtone_beside_sixth", (58, 89))
    assert (59, 5) in no_f_sharp
    assert (59, 6) not in no_f_sharp  # F sharp 6 has no key there
    assert asked("overtones_third", (59, 90)) == [(59, 2), (59, 3), (60, 2), (60, 3)]  # a horn without low B flat
    assert (58, 2) not in asked("overtones_third", (58, 90), left_out=[58])  # a low B flat in repair
    assert (58, 3) not in asked("overtone_beside_third", (58, 90), left_out=[77])


def test_a_run_passes_over_what_is_left_out_on_both_ways():
    assert [midi for midi, _partial in asked("evenness_run", (58, 62), left_out=[60])] == [58, 59, 61, 62, 61, 59, 58]
    assert [midi for midi, _partial in asked("evenness_run", (58, 61), left_out=[61])] == [58, 59, 60, 59, 58]


@pytest.mark.parametrize(
    ("written_range", "first"), [((58, 90), 91), ((58, 89), 90), ((57, 90), 91), ((58, 91), 92)],
    ids=["usual", "no F sharp key", "low A", "high G"],
)  # fmt: skip
def test_the_first_note_above_the_keys_is_that_of_the_horn(written_range, first):
    assert asked("above_the_keys", written_range) == [(first, None), (first + 1, None), (first + 2, None)]


BUILDS = [(name, low, high) for name, horn in instruments().items() for low, high in builds_of(horn)]


@pytest.mark.parametrize(("instrument", "low", "high"), BUILDS)
def test_what_lies_above_the_keys_is_heard_on_every_horn_as_it_is_built(instrument, low, high):
    slots = slots_of(ABOVE, (low, high))
    specs = [ToneSpec(written_midi=slot.written_midi, seconds=2.0, faults=human()) for slot in slots]
    measurement, _ = heard(specs, instrument, asked=tuple(slot.asked() for slot in slots))
    assert [(tone.written_midi, tone.readable) for tone in measurement.tones] == [
        (slot.written_midi, True) for slot in slots
    ]


@pytest.fixture
def exercise(studio, teacher):
    """Overtones are open by hand, and the pairs are set."""
    horn = people.horn(studio)
    decisions.decide(horn=horn, by=teacher, kind="open", stage=1, words="For the concert.")
    return builders.week(horn, teacher, routine=builders.routine(ROUTINE)).exercises.get(kind=BESIDE.key)


def play(exercise, specs, places):
    """A recording of these pairs, measured from sounds, and settled."""
    horn, today = exercise.week.horn, exercise.week.horn.studio.today()
    slots = [slot for slot in plans.slots_beside(exercise) if slot.slot in places]
    measurement, _ = heard(specs, asked=tuple(slot.asked() for slot in slots))
    analysis = Analysis.objects.create(
        request={}, audio="a/b.wav", sha256="0" * 64, audio_bytes=1, state=Analysis.State.MEASURED
    )
    Result.objects.create(analysis=analysis, engine=measurement.engine, report=results.report(measurement))
    take = Take.objects.create(
        horn=horn, exercise=exercise, analysis=analysis, on=today, client_key=analysis.pk,
        asked=[slot.as_json() for slot in slots],
    )  # fmt: skip
    settling.settle(analysis.pk)
    return take


def overtone(partial, **faults):
    return ToneSpec(written_midi=58, partial=partial, faults=human(**faults))


def fingered(written_midi, **faults):
    return ToneSpec(written_midi=written_midi, faults=human(**faults))


def test_pairs_are_told_in_words_and_to_a_teacher_in_numbers(client, exercise, teacher):
    play(exercise, [overtone(2, cents=18, colour_db=5), fingered(70), overtone(3), fingered(77)], range(4))
    horn = exercise.week.horn
    page = overtones.page(horn)
    assert [one.pair.words for one in page.partials] == [
        "The overtone is higher than the fingered note. The overtone is brighter.",
        "Both have the same pitch. They sound alike.",
    ]
    assert page.headline == "1 of 2 pairs have the same pitch"
    client.force_login(horn.player.user)
    own = client.get(reverse("overtones")).content.decode()
    assert "The overtone is brighter." in own
    assert "cents" not in own
    client.force_login(teacher)
    text = client.get(reverse("student_overtones", args=[horn.pk])).content.decode()
    assert "overtone, against the exact partial" in text
    assert "+18" in text


def test_both_are_played_in_turn_the_louder_one_softer(exercise):
    play(exercise, [overtone(2, level_db=6), fingered(70)], range(2))
    (one,) = overtones.page(exercise.week.horn).partials
    addresses = [address for address, _from, _to in json.loads(one.pair.list_json)]
    assert addresses == [one.pair.overtone.address] * 2
    softer, same = json.loads(one.pair.gains_json)
    assert (softer, same) == (pytest.approx(-6.0, abs=0.5), 0)


def test_another_partial_is_named_and_its_pitch_is_not_judged(exercise):
    take = play(exercise, [overtone(2, cents=40), fingered(77)], (2, 3))
    tried = take.tries.get(slot=0)
    assert (tried.outcome, [check["code"] for check in tried.checks]) == ("miss", ["other_partial"])
    (one,) = overtones.page(exercise.week.horn).partials
    assert one.pair.words.startswith("Partial 2 spoke. Partial 3 is the one to find")
    assert one.pair.found is None


def test_the_newest_pair_stands_and_those_before_it_are_told(exercise):
    play(exercise, [overtone(2, cents=30), fingered(70)], range(2))
    play(exercise, [overtone(2, cents=12), fingered(70)], range(2))
    (one,) = overtones.page(exercise.week.horn).partials
    assert one.pair.apart_cents.value == pytest.approx(12, abs=1)
    ((_on, words),) = one.before_words
    assert words in ("+29.9 cents apart", "+30.0 cents apart", "+30.1 cents apart")


def test_nothing_heard_yet_says_what_to_do(client, exercise, django_assert_max_num_queries):
    horn = exercise.week.horn
    client.force_login(horn.player.user)
    assert "Sound an overtone" in client.get(reverse("overtones")).content.decode()
    with django_assert_max_num_queries(6):
        overtones.page(horn)


def test_where_no_pair_is_set_it_says_what_that_waits_for(client, studio, teacher):
    horn = people.horn(studio)
    client.force_login(horn.player.user)
    assert "Your teacher sets it once overtones are open." in client.get(reverse("overtones")).content.decode()
    decisions.decide(horn=horn, by=teacher, kind="open", stage=1, words="For the concert.")
    text = client.get(reverse("overtones")).content.decode()
    assert "Overtones are open. Your teacher puts these pairs into a week." in text


# --- small portions, and stopping ---


def look(client, exercise):
    client.force_login(exercise.week.horn.player.user)
    return client.get(reverse("exercise", args=[exercise.pk])).content.decode()


def test_low_notes_come_first(client, exercise):
    assert "low notes first" in look(client, exercise)


def test_high_notes_end_after_a_small_portion_and_what_was_played_is_kept(client, exercise):
    horn, today = exercise.week.horn, exercise.week.horn.studio.today()
    portions.may_begin(horn, exercise, today)
    specs = [overtone(2), fingered(70)] * 4
    for _ in range(2):
        play(exercise, specs, range(8))
    soprano = Horn.objects.create(player=horn.player, kind="soprano", in_use_since_on=horn.in_use_since_on)
    assert portions.played_today(horn, today) == portions.played_today(soprano, today) == 16
    with pytest.raises(Refusal, match="enough high notes for today"):
        portions.may_begin(horn, exercise, today)
    assert "enough high notes" in look(client, exercise)
    assert client.get(reverse("exercise", args=[exercise.pk]) + "?play=1").status_code == 409
    daily = builders.daily(exercise.week)
    portions.may_begin(horn, daily, today)


def test_after_stopping_because_it_hurts_nothing_more_is_begun_that_day(client, exercise):
    horn, today = exercise.week.horn, exercise.week.horn.studio.today()
    plans.stop_because_it_hurts(plans.plan_for(horn, today), teacher_may_know=True)
    assert "You stopped because something hurt." in look(client, exercise)


def test_after_two_such_days_in_a_week_high_notes_rest(client, exercise):
    horn, today = exercise.week.horn, exercise.week.horn.studio.today()
    for ago in (1, 3):
        plan = plans.plan_for(horn, today)
        plan.pk, plan.on, plan._state.adding = None, today - dt.timedelta(days=ago), True
        plan.save()
        plans.stop_because_it_hurts(plan, teacher_may_know=False)
    assert "High notes rest." in look(client, exercise)


# --- back to the ground ---


def test_when_the_gate_shuts_the_day_falls_back_to_the_ground(client, exercise, teacher):
    horn = exercise.week.horn
    decisions.decide(horn=horn, by=teacher, kind="shut", stage=1, words="Back to the ground for a while.")
    plan = plans.plan_for(horn, horn.studio.today())
    assert {slot.partial for slot in plans.slots(plan)} == {None}
    assert max(slot.written_midi for slot in plans.slots(plan)) <= horn.highest_keyed_written_midi
    with pytest.raises(Refusal, match="still shut"):
        portions.may_begin(horn, exercise, plan.on)
    client.force_login(horn.player.user)
    today = client.get(reverse("today")).content.decode()
    assert today.count("Still shut") == 2  # the pairs, and the overtones
    assert "Back to the ground for a while." in client.get(reverse("high_notes")).content.decode()
    again = weeks.set_week(
        horn=horn, by=teacher, routine=exercise.week.routine, starts_on=plan.on, ends_on=plan.on + dt.timedelta(days=6)
    )
    assert [one.kind for one in again.exercises.all()] == ["daily_tones"]


def test_every_kind_asks_tones_that_the_sound_can_be_asked_for():
    for kind in kinds().values():
        for slot in slots_of(kind, (58, 90)):
            how = {"shape": slot.tone} if kind.key == "long_swells" else {"dynamic": "mf"}
            assert slot.asked() == Asked(slot.written_midi, slot.partial, **how)
