"""The agenda of a lesson: proposed from what happened, ticked, changed and ordered by the teacher, and kept."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from assignments import comments, equipment, lessons, plans
from assignments.models import Agenda
from assignments.queries import agenda
from tests import builders, people, played

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("signed_in")]

DAY = dt.timedelta(days=1)


@pytest.fixture
def horn(studio, teacher):
    made = people.horn(studio)
    made.player.lesson_weekday = studio.today().weekday()
    made.player.save()
    return made


def address(horn):
    return reverse("agenda", args=[horn.pk])


def proposed(horn, teacher):
    return [point.text for point in agenda.page(horn, teacher).points]


def send(client, horn, *lines, new="", on=None):
    """``lines``: (text, place, ticked); ``on``: of another day than that of the page as it is now."""
    return client.post(
        address(horn),
        {
            "on": on or str(agenda.page(horn, horn.player.user).on),
            "text": [text for text, _place, _ticked in lines],
            "place": [place for _text, place, _ticked in lines],
            "take": [str(number) for number, (_t, _p, ticked) in enumerate(lines, 1) if ticked],
            "new": new,
        },
    )


def test_what_happened_is_proposed_with_what_hurts_first(horn, teacher):
    today = horn.studio.today()
    week = played.long_week(horn, teacher)
    for ago in (5, 3):
        played.day(week, today - ago * DAY, [(73, "pp")], missed={(73, "pp")})
    plans.stop_because_it_hurts(plans.plan_for(horn, today - DAY), teacher_may_know=True)
    comments.note(horn, by=horn.player.user, text="Why does it squeak?")
    equipment.note(horn, by=teacher, what="reed", words="2½", on=today - 2 * DAY)
    texts = proposed(horn, teacher)
    assert texts[0].startswith("Something hurt this week")
    assert texts[1] == "Pim wrote: “Why does it squeak?”"
    assert texts[2].startswith("C♯5 pp: The pitch climbs")
    assert "The same on" in texts[2]
    assert texts[3].startswith("New reed: 2½ since")


def test_a_met_rule_and_a_week_that_ends_are_named(horn, teacher):
    today = horn.studio.today()
    played.good_days(played.long_week(horn, teacher), today - DAY)
    week = horn.weeks.get()
    week.ends_on = today
    week.save()
    texts = proposed(horn, teacher)
    assert "The rule is met for overtones to 3: hear six tones, then answer." in texts
    assert texts[-1].startswith("The week ends on")


def test_a_first_lesson_has_little_to_propose(client, horn, teacher):
    assert proposed(horn, teacher) == ["Set the first week."]
    builders.week(horn, teacher)
    assert proposed(horn, teacher) == []
    assert "Nothing asks for the lesson by itself." in client.get(address(horn)).content.decode()


def test_it_is_kept_with_the_lesson_in_the_order_of_the_numbers(client, horn, teacher):
    sent = [("Long tones", "3", True), ("Not this", "1", False), ("  Low  B ", "2", True)]
    assert send(client, horn, *sent, new="Sing it").url == address(horn)
    (row,) = Agenda.objects.all()
    assert (row.on, row.by, row.points) == (horn.studio.today(), teacher, ["Low B", "Long tones", "Sing it"])
    send(client, horn, ("Low B", "1", True))
    assert Agenda.objects.get().points == ["Low B"]


def test_what_is_new_since_then_stands_below_and_is_not_ticked(client, horn, teacher):
    builders.week(horn, teacher)
    send(client, horn, ("Low B", "1", True))
    comments.note(horn, by=horn.player.user, text="My reed broke.")
    points = agenda.page(horn, teacher).points
    assert [(point.text, point.chosen) for point in points] == [
        ("Low B", True),
        ("Pim wrote: “My reed broke.”", False),
    ]


def test_a_moved_lesson_has_its_agenda_on_its_own_day(client, horn, teacher):
    today = horn.studio.today()
    lessons.differ(horn.player, by=teacher, on=today, at=None, falls_out=True)
    lessons.differ(horn.player, by=teacher, on=today + 2 * DAY, at=None, falls_out=False)
    send(client, horn, ("Low B", "1", True))
    assert Agenda.objects.get().on == today + 2 * DAY


@pytest.mark.parametrize("days", [3, 9], ids=["earlier", "later"])
def test_a_lesson_that_is_moved_takes_its_kept_agenda_along(client, horn, teacher, days):
    today = horn.studio.today()
    horn.player.lesson_weekday = (today.weekday() + 5) % 7
    horn.player.save()
    send(client, horn, ("Low B", "1", True))
    lessons.differ(horn.player, by=teacher, on=today + 5 * DAY, at=None, falls_out=True)
    lessons.differ(horn.player, by=teacher, on=today + days * DAY, at=None, falls_out=False)
    page = agenda.page(horn, teacher)
    assert (page.on, [point.text for point in page.points][:1], page.earlier) == (today + days * DAY, ["Low B"], ())
    send(client, horn, ("Low C", "1", True))
    assert [(row.on, row.points) for row in Agenda.objects.all()] == [(page.on, ["Low C"])]


def test_the_agenda_of_a_lesson_that_fell_out_waits_for_the_next(horn, teacher):
    today = horn.studio.today()
    horn.player.lesson_weekday = (today.weekday() + 6) % 7
    horn.player.save()
    kept = Agenda.objects.create(horn=horn, on=today - DAY, points=["Breathe low"], by=teacher)
    assert agenda.page(horn, teacher).earlier == (kept,)
    lessons.differ(horn.player, by=teacher, on=today - DAY, at=None, falls_out=True)
    page = agenda.page(horn, teacher)
    assert (page.on, page.kept, page.earlier) == (today + 6 * DAY, kept, ())


def test_an_agenda_of_a_lesson_that_was_held_is_not_taken_along(client, horn, teacher):
    today = horn.studio.today()
    horn.player.lesson_weekday = (today.weekday() + 1) % 7
    horn.player.save()
    builders.week(horn, teacher)
    before = Agenda.objects.create(horn=horn, on=today - 6 * DAY, points=["Breathe low"], by=teacher)
    page = agenda.page(horn, teacher)
    assert (page.kept, page.points, page.earlier) == (None, (), (before,))


def test_a_page_that_was_opened_before_the_lesson_is_kept_with_that_lesson(client, horn):
    """After midnight, or once the lesson was moved."""
    today = horn.studio.today()
    assert f'name="on" value="{today}"' in client.get(address(horn)).content.decode()
    send(client, horn, ("For today", "1", True))
    send(client, horn, ("For last time", "1", True), on=str(today - 7 * DAY))
    assert [(row.on, row.points) for row in Agenda.objects.all()] == [
        (today, ["For today"]),
        (today - 7 * DAY, ["For last time"]),
    ]


@pytest.mark.parametrize("on", ["soon", "2026-02-30", "1999-01-01", "2999-01-01"])
def test_of_no_lesson_near_nothing_is_kept_and_nothing_is_lost(client, horn, on):
    answer = send(client, horn, ("Low B", "1", True), on=on)
    assert answer.status_code == 400
    assert "keep it again" in answer.content.decode()
    assert [point.text for point in answer.context["page"].points] == ["Low B"]
    assert not Agenda.objects.exists()


def test_a_place_of_thousands_of_digits_is_a_late_one(client, horn):
    send(client, horn, ("Last", "9" * 5000, True), ("First\0 of all", "1", True))
    assert Agenda.objects.get().points == ["First of all", "Last"]


def test_agendas_of_lessons_before_stay_to_be_read(client, horn, teacher):
    Agenda.objects.create(horn=horn, on=horn.studio.today() - 7 * DAY, points=["Breathe low"], by=teacher)
    assert "Breathe low" in client.get(address(horn)).content.decode()


def test_too_much_is_said_so_and_nothing_is_lost(client, horn):
    answer = send(client, horn, *[(f"Point {number}", str(number), True) for number in range(1, 22)], new="And this")
    text = answer.content.decode()
    assert answer.status_code == 400
    assert "An agenda holds twenty points." in text
    assert "Point 21" in text
    assert 'value="And this"' in text
    long = send(client, horn, ("x" * 301, "2", True), ("Not this", "1", False))
    assert "longer than three hundred letters" in long.content.decode()
    shown = [(point.text[:9], point.place, point.chosen) for point in long.context["page"].points]
    assert shown == [("x" * 9, "2", True), ("Not this", "1", False)]  # as they were sent
    assert not Agenda.objects.exists()


def test_the_students_page_leads_there(client, horn):
    assert address(horn) in client.get(reverse("student", args=[horn.pk])).content.decode()
