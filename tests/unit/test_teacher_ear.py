"""Your ear: tones without name or verdict, answers kept, and limits that hold for the weeks to come alone."""

from __future__ import annotations

import datetime as dt
from random import Random

import pytest
from django.urls import reverse

from analysis.core.checks_ends import SLOW_ALONE
from analysis.core.targets import target_for
from assignments import ear, ear_answers, weeks
from assignments.exercises import Slot
from assignments.limits import target_of
from assignments.models import AdoptedLimit, EarAnswer, Try
from assignments.queries import ear as ear_query
from assignments.queries import ear_found as found_query
from assignments.refusals import Refusal
from studio.models import Membership
from tests import builders, people, played
from tests.unit.student_cast import queries, shown

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]
FOUND = ear.Finding("pitch_cents", ear.share(40, 50), 1.5, ear.share(40, 40), ear.share(6, 10))


@pytest.fixture
def teacher(client):
    made = people.teacher(people.studio())
    client.force_login(made.user)
    return made


@pytest.fixture
def horn(teacher):
    return people.horn(teacher.studio, level="intermediate")


@pytest.fixture
def tries(horn, teacher) -> list[Try]:
    """Thirty-three tones of yesterday, the highest not on target."""
    on = horn.studio.today() - dt.timedelta(days=1)
    return played.day(played.long_week(horn, teacher.user), on, missed={(90, "mf")})


def say(client, tone: Try, word: str, status: int = 302):
    answer = client.post(reverse("ear_answer"), {"level": "intermediate", "tone": tone.pk, "answer": word})
    assert answer.status_code == status
    return answer


def test_the_tone_comes_without_name_and_verdict(client, tries, horn) -> None:
    page = shown(client, "ear")
    main = page[page.index("<main") :]
    assert "Would you accept this tone?" in main
    assert "/audio#t=" in main
    for told in (horn.player.user.name.split()[0], "on target", "not yet,", "pitch"):
        assert told not in main


def test_tones_come_in_random_order_and_never_twice(client, tries, teacher) -> None:
    order = []
    for _ in range(5):
        tone = ear_query.page(teacher, "intermediate", Random(7)).tone.row
        say(client, tone, "accept")
        order.append(tone.pk)
    assert len(set(order)) == 5
    assert order != [tone.pk for tone in tries[:5]]


def test_answers_are_kept_and_the_last_one_can_be_taken_back(client, tries, teacher) -> None:
    say(client, tries[0], "accept")
    say(client, tries[1], "not_yet")
    assert list(EarAnswer.objects.order_by("made_at").values_list("about_try", "accepted")) == [
        (tries[0].pk, True),
        (tries[1].pk, False),
    ]
    client.post(reverse("ear_answer"), {"level": "intermediate", "answer": "take_back"})
    assert EarAnswer.objects.get().about_try == tries[0]


def test_only_tones_that_can_be_heard_and_were_judged_are_played(client, horn, teacher) -> None:
    on = horn.studio.today() - dt.timedelta(days=1)
    week = played.long_week(horn, teacher.user)
    played.day(week, on, [(60, "mf")], audio=None)
    (unheard,) = played.day(week, on - dt.timedelta(days=1), [(61, "mf")], unreadable={(61, "mf")})
    assert "No tone to hear yet" in shown(client, "ear", level="intermediate")
    say(client, unheard, "accept", status=404)


def test_another_studios_tones_stay_closed(client, teacher, tries) -> None:
    there = people.teacher(people.studio("Elsewhere"), "Corin Wexcombe")
    client.force_login(there.user)
    say(client, tries[0], "accept", status=404)
    assert EarAnswer.objects.count() == 0


@pytest.mark.parametrize("role", [Membership.Role.ASSISTANT, Membership.Role.STUDENT])
def test_only_those_who_decide_have_an_ear_here(client, teacher, role) -> None:
    client.force_login(people.person("Jory Tamblyn", teacher.studio, role).user)
    shown(client, "ear", status=404)
    shown(client, "ear_found", status=404)


def test_what_is_no_level_and_no_tone_is_not_found(client, teacher) -> None:
    shown(client, "ear_found", level="virtuoso", status=404)
    assert client.post(reverse("ear_answer"), {"tone": "x", "answer": "accept"}).status_code == 404


def test_the_ear_and_the_limits_are_compared(client, tries) -> None:
    """Thirty-two met tones accepted, and the missed one accepted too: 32 of 33, and its 22 cents set the limit."""
    for tone in tries:
        say(client, tone, "accept")
    page = shown(client, "ear_found", level="intermediate")
    assert "32 of 33" in page
    line = next(one for one in found_query.page(_staff(tries), "intermediate").lines if one.measure == "pitch_cents")
    # 33 tones: none may be lost; high F sharp, an end of the range, has 20 cents in the table and lay at 22
    assert line.found.factor == 1.1
    assert line.now == "12.0 cents"
    assert line.offered == "13.2 cents"


def test_the_rise_of_a_start_is_compared_where_it_decides(client, tries) -> None:
    """1.5 times the table's limit is told and decides nothing; 3 times is missed: halves of where it decides."""
    assert ear_answers.DECIDES_FROM == {"rise_s": SLOW_ALONE}
    for tone in tries:
        table = target_for("intermediate", tone.written_midi, "mf", lowest=58, highest=90).rise_s
        late = tone.written_midi == 72
        rise = {"part": "rise_s", "value": (3.0 if late else 1.5) * table, "verdict": "missed", "must": late}
        tone.checks = [*tone.checks, rise]
        tone.save()
        say(client, tone, "not_yet" if late else "accept")
    line = next(one for one in found_query.page(_staff(tries), "intermediate").lines if one.measure == "rise_s")
    assert line.found.factor == 0.75
    assert (line.found.caught.count, line.found.caught.of) == (1, 1)
    assert line.found.agreed.count == line.found.agreed.of == 33


def _staff(tries: list[Try]) -> Membership:
    return Membership.objects.get(studio=tries[0].horn.player.studio, role=Membership.Role.TEACHER)


def test_a_limit_is_taken_with_a_date_and_told_with_a_name(client, tries, teacher) -> None:
    for tone in tries:
        say(client, tone, "accept")
    address = reverse("ear_found") + "?level=intermediate"
    assert client.post(address, {"measure": "pitch_cents"}).status_code == 302
    row = AdoptedLimit.objects.get()
    assert (row.measure, row.factor, row.from_on, row.by) == ("pitch_cents", 1.1, teacher.studio.today(), teacher.user)
    assert row.found == {"accepted": 33, "kept": 33, "others": 0, "caught": 0}
    page = shown(client, "ear_found", level="intermediate")
    assert f"{teacher.user.name}, " in page
    line = next(one for one in found_query.page(teacher, "intermediate").lines if one.measure == "pitch_cents")
    assert not line.may_be_taken  # it is taken already
    client.post(address, {"measure": "pitch_cents", "back": ""})
    assert ear_answers.in_force(teacher.studio, "intermediate", teacher.studio.today()) == {}


def test_too_few_answers_are_refused_in_words(client, tries, teacher) -> None:
    say(client, tries[0], "accept")
    answer = client.post(reverse("ear_found") + "?level=intermediate", {"measure": "pitch_cents"})
    assert answer.status_code == 409
    assert "Hear some more" in answer.content.decode()
    with pytest.raises(Refusal):
        ear_answers.back_to_table("loudness", studio=teacher.studio, level="intermediate", by=teacher.user)


def test_weeks_from_that_day_on_carry_it_and_earlier_ones_do_not(horn, teacher) -> None:
    before = played.long_week(horn, teacher.user)
    ear_answers.adopt(FOUND, studio=teacher.studio, level="intermediate", by=teacher.user)
    begun = builders.week(horn, teacher.user, on=horn.studio.today() - dt.timedelta(days=1))
    after = builders.week(horn, teacher.user)
    before.refresh_from_db()
    assert before.target_changes == begun.target_changes == []
    assert after.target_changes == [{"measure": "pitch_cents", "factor": 1.5, "from": str(teacher.studio.today())}]


def test_no_past_verdict_and_no_set_week_moves(horn, teacher, tries) -> None:
    slot, take = Slot(0, 70, "mf"), tries[0].take
    limit = target_of(take, slot).pitch_cents
    ear_answers.adopt(FOUND, studio=teacher.studio, level="intermediate", by=teacher.user)
    take = type(take).objects.get(pk=take.pk)
    assert target_of(take, slot).pitch_cents == limit == 12.0
    assert [row.outcome for row in Try.objects.order_by("played_at")] == [row.outcome for row in tries]


def test_another_level_and_another_studio_keep_the_table(teacher, horn) -> None:
    ear_answers.adopt(FOUND, studio=teacher.studio, level="advanced", by=teacher.user)
    elsewhere = people.studio("Elsewhere")
    ear_answers.adopt(FOUND, studio=elsewhere, level="intermediate", by=teacher.user)
    assert ear_answers.changes(horn, horn.studio.today()) == []


def test_a_limit_moves_in_proportion_where_the_table_is_wider() -> None:
    """12 cents in general, 20 at the ends of the range, 30 for overtones: each by half as much again."""
    changes = [{"measure": "pitch_cents", "factor": 1.5, "from": "2026-03-01"}]
    ways = ((70, "mf", None), (58, "mf", None), (58, "mf", 3))
    limits = [
        target_for("intermediate", midi, tone, lowest=58, highest=90, partial=partial, changes=changes).pitch_cents
        for midi, tone, partial in ways
    ]
    assert limits == [18.0, 30.0, 45.0]


def test_a_number_for_one_note_stands_above_the_ears_factor() -> None:
    changes = [
        {"measure": "pitch_cents", "value": 8.0, "from": "2026-01-01", "written_midi": 70},
        {"measure": "pitch_cents", "factor": 1.5, "from": "2026-03-01"},
    ]
    assert target_for("intermediate", 70, "mf", lowest=58, highest=90, changes=changes).pitch_cents == 8.0


def test_many_tones_take_as_many_queries_as_one(client, tries) -> None:
    say(client, tries[0], "accept")
    few = queries(lambda: shown(client, "ear_found", level="intermediate"))
    for tone in tries[1:]:
        say(client, tone, "accept")
    assert queries(lambda: shown(client, "ear_found", level="intermediate")) == few


def test_the_screen_is_reached_from_routines_and_from_the_student(client, horn) -> None:
    assert reverse("ear") in shown(client, "routines")
    assert f"{reverse('ear')}?level=intermediate" in shown(client, "student", horn.pk)


def test_the_week_begins_with_the_ears_limit_in_the_pages_own_way(horn, teacher) -> None:
    """Through the function that the page of the week calls."""
    ear_answers.adopt(FOUND, studio=teacher.studio, level=horn.level, by=teacher.user)
    assert weeks.in_force(horn, horn.studio.today()) is None
    week = builders.week(horn, teacher.user)
    assert week.target_changes[0]["factor"] == 1.5
