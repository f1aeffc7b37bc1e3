"""The planner's promise: how long a note, and each tone of it, may wait. Whatever the student does."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assignments.planner import TONES, Waits
from tests.unit.planner_days import LOWEST, Cell, Student, ceil, examples, plan


@pytest.mark.parametrize(
    ("notes", "tones", "slots", "note_days", "tone_days"),
    [
        (33, 11, 20, 3, 31),
        (33, 11, 40, 2, 16),
        (33, 11, 60, 1, 11),
        (25, 11, 20, 3, 23),
        (20, 11, 20, 2, 19),
        (20, 4, 20, 2, 7),
    ],
)
def test_the_promise_in_practice_days_is_told(
    notes: int, tones: int, slots: int, note_days: int, tone_days: int
) -> None:
    found = plan(notes=notes, slots=slots, tones=TONES[:tones])
    assert found.bounds == Waits(note_days, tone_days)


def random_pins(chance: Random, student: Student, most: int) -> list[Cell]:
    return [
        (LOWEST + chance.randrange(student.notes), chance.choice(student.tones)) for _ in range(chance.randint(0, most))
    ]


def live(student: Student, chance: Random, *, slots: int, cut: float, missed: float, free: float, pins: int) -> None:
    """Practise until so many slots were played; the days are never eight apart."""
    while student.slots_played < slots:
        planned = student.plan(random_pins(chance, student, pins)).tones
        length = chance.randint(1, len(planned)) if chance.random() < cut else len(planned)
        for tone in planned[:length]:
            student.practise([tone])
            if chance.random() < free:
                student.play_freely((LOWEST + chance.randrange(student.notes), chance.choice(student.tones)))
        student.next_day(skip=chance.randint(1, 6) if chance.random() < missed else 0)
    student.stop()


@examples(20)
@given(seed=st.integers(0, 2**32), notes=st.integers(20, 34), slots=st.sampled_from([20, 20, 33, 40, 60]))
def test_no_note_and_no_tone_waits_longer_than_promised_whatever_happens(seed: int, notes: int, slots: int) -> None:
    chance = Random(seed)
    student = Student(notes, slots, seed=seed, outcome=lambda cell: chance.choice(["hit", "hit", "miss", "unreadable"]))
    live(student, chance, slots=ceil(5 * notes * 11, 3) + 200, cut=0.4, missed=0.3, free=0.15, pins=6)
    assert student.widest_note <= ceil(5 * notes, 3)
    assert student.widest_tone <= ceil(5 * notes * 11, 3)


@examples(60)
@given(seed=st.integers(0, 2**32), notes=st.integers(1, 12), tones=st.integers(1, 11), slots=st.integers(1, 24))
def test_the_promise_holds_for_small_tables_and_short_days_too(seed: int, notes: int, tones: int, slots: int) -> None:
    chance = Random(seed)
    student = Student(notes, slots, TONES[:tones], outcome=lambda cell: chance.choice(["hit", "miss", "unreadable"]))
    live(student, chance, slots=2 * ceil(5 * notes * tones, 3), cut=0.4, missed=0.3, free=0.2, pins=4)
    assert student.widest_note <= ceil(5 * notes, 3)
    assert student.widest_tone <= ceil(5 * notes * tones, 3)


@examples(10)
@given(seed=st.integers(0, 2**32), notes=st.integers(20, 34), slots=st.sampled_from([20, 40, 60]))
def test_with_full_sessions_the_oldest_never_exceeds_the_promise(seed: int, notes: int, slots: int) -> None:
    chance = Random(seed)
    student = Student(notes, slots, seed=seed, outcome=lambda cell: chance.choice(["hit", "miss", "unreadable"]))
    while student.slots_played < 750:
        found = student.plan(random_pins(chance, student, 5))
        assert found.oldest.note_days <= found.bounds.note_days
        assert found.oldest.tone_days <= found.bounds.tone_days
        student.practise(found.tones)
        student.next_day(skip=chance.randint(0, 6))


def test_a_note_practised_daily_in_the_focus_lane_does_not_starve_its_other_tones() -> None:
    """The round must move on coverage plays alone: here one tone of low B flat is picked every single day."""
    student = Student()
    widest = 0
    last_played = dict.fromkeys(TONES, 0)
    for number in range(80):
        planned = student.plan(pins=[(LOWEST, "mf")]).tones
        for tone in planned:
            if tone.written_midi == LOWEST:
                widest = max(widest, number - last_played[tone.tone])
                last_played[tone.tone] = number
        student.practise(planned)
        student.next_day()
    assert max(widest, *(80 - number for number in last_played.values())) <= 31


def test_notes_that_can_never_be_read_hold_up_nobody() -> None:
    student = Student(outcome=lambda cell: "unreadable" if cell[0] < LOWEST + 5 else "hit")
    live(student, Random(1), slots=900, cut=0, missed=0, free=0, pins=0)
    assert student.widest_note <= 55
    assert student.widest_tone <= 605


def test_the_oldest_counts_practice_days_and_not_calendar_days() -> None:
    student = Student()
    assert student.plan().oldest == Waits(1, 1)
    for skip in (0, 5, 2):
        student.practise(student.plan().tones[:1])
        student.next_day(skip)
    assert student.plan().oldest == Waits(4, 4)  # three practice days, and notes never played yet


def test_the_oldest_falls_back_to_the_last_play_in_either_lane() -> None:
    student = Student(notes=3, slots=5, tones=["mf"])
    student.practise(student.plan().tones)
    student.next_day()
    assert student.plan().oldest == Waits(1, 1)
    student.play_freely((LOWEST, "mf"))
    student.next_day()
    assert student.plan().oldest == Waits(2, 2)
