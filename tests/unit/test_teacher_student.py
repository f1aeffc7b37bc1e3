"""One student since the last lesson: what do we do in this half hour?"""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from assignments import decisions
from assignments.models import Comment
from assignments.queries import student as student_query
from tests import people, played

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("signed_in")]

DAY = dt.timedelta(days=1)
AROUND = ((72, "mf"), (73, "mf"), (74, "mf"))


@pytest.fixture
def horn(studio):
    return people.horn(studio)


@pytest.fixture
def week(horn, teacher):
    return played.long_week(horn, teacher)


def page(horn):
    """As the first of the staff sees it."""
    reader = horn.studio.memberships.filter(role="teacher").select_related("user").first()
    return student_query.since_lesson(horn, horn.studio.today(), reader.user)


def shown(client, horn):
    answer = client.get(reverse("student", args=[horn.pk]))
    assert answer.status_code == 200
    return answer.content.decode()


def test_a_teacher_reads_that_much_could_not_be_heard_and_what_the_student_was_told(client, horn, week):
    today = horn.studio.today()
    tries = played.day(week, today, unreadable={(note, "mf") for note in range(58, 64)})
    assert "couldn’t be heard" not in page(horn).unheard  # six of 33: doors fall shut everywhere
    (more,) = played.day(week, today, ((64, "mf"),), unreadable={(64, "mf")})
    for row in (*tries[:6], more):
        row.reasons = ["other_note"]
        row.save()
    why = "7 of 34 tones couldn’t be heard. The student mostly read: “I heard another note first. Check the fingering"
    assert why in shown(client, horn)


def test_the_first_lesson_says_so(client, teacher, horn):
    text = shown(client, horn)
    assert "the first lesson" in text
    assert "No week is set yet." in text
    assert reverse("week", args=[horn.pk]) in text


def test_a_moment_says_what_happened_where_and_why_it_was_chosen(client, horn, week):
    today = horn.studio.today()
    played.day(week, today - 2 * DAY, AROUND, missed={(73, "mf")}, code="pitch_bulges_up")
    played.day(week, today - DAY, AROUND, missed={(73, "mf")}, code="pitch_bulges_up")
    (view,) = page(horn).moments
    assert view.happened == "The pitch climbs on beats 3 to 5."
    assert view.why == f"The same on {today - 2 * DAY:%A}."
    assert view.here == (3.0, 5.0)
    assert view.now.place == 2
    assert view.strip is not None
    assert "C sharp 5" in view.sentence
    text = shown(client, horn)
    assert f'href="{view.now.address}#t=3.00,5.00"' in text


def test_a_moment_plays_with_the_notes_beside_it(horn, week):
    played.day(week, horn.studio.today() - DAY, AROUND, missed={(73, "mf")})
    (view,) = page(horn).moments
    assert [one.row.written_midi for one in view.neighbours] == [72, 73, 74]


def test_the_same_tone_two_and_four_weeks_ago_is_there_to_compare(horn, week):
    today = horn.studio.today()
    for ago in (30, 15, 1):
        played.day(week, today - ago * DAY, AROUND, missed={(73, "mf")})
    (view,) = page(horn).moments
    assert [(one.weeks, (today - one.sounding.row.on).days) for one in view.before] == [(2, 15), (4, 30)]


def test_numbers_are_there_on_tap_and_nowhere_else(client, horn, week):
    played.day(week, horn.studio.today() - DAY, AROUND, missed={(73, "mf")})
    text = shown(client, horn)
    before, _, inside = text.partition("<summary>Numbers</summary>")
    assert "22.0 cents" in inside
    assert "cents" not in before


def test_what_came_right_is_there_to_hear_too(client, horn, week):
    today = horn.studio.today()
    played.day(week, today - 9 * DAY, AROUND, missed={(73, "mf")})
    played.day(week, today - DAY, AROUND)
    assert [(one.row.written_midi, one.row.on) for one in page(horn).came_right] == [(73, today - DAY)]
    assert "Came right" in shown(client, horn)


def test_a_recording_deleted_by_age_keeps_its_numbers_and_says_why_there_is_no_sound(client, horn, week):
    played.day(week, horn.studio.today() - DAY, AROUND, missed={(73, "mf")}, audio=None)
    text = shown(client, horn)
    assert "The recording was deleted when its time was over." in text
    assert "data-hear" not in text
    assert "22.0 cents" in text


def test_a_pause_is_the_headline(client, teacher, horn, week):
    played.day(week, horn.studio.today() - 20 * DAY, AROUND)
    until = horn.studio.today() + 9 * DAY
    decisions.decide(horn=horn, by=teacher, kind="pause", words="Holidays", until_on=until)
    text = shown(client, horn)
    assert f"Pim Larkspur, paused until {until.day} {until:%B}" in text
    assert "Holidays" in text


def test_the_range_shows_the_last_try_of_each_tone_and_how_near_a_note_is(horn, week):
    today = horn.studio.today()
    played.day(week, today - 2 * DAY, AROUND)
    played.day(week, today - DAY, AROUND, missed={(73, "mf")})
    rows = {row.written_midi: row for row in page(horn).rows}
    assert rows[73].cells["mf"].outcome == "miss"
    assert rows[73].short == "1 of 2"
    assert rows[60].cells == {}
    assert list(rows) == list(range(90, 57, -1))


def test_a_lesson_note_is_kept_with_the_teachers_name(client, teacher, horn):
    client.post(reverse("note", args=[horn.pk]), {"text": "Long air before low notes."})
    (note,) = Comment.objects.all()
    assert (note.text, note.by, note.take) == ("Long air before low notes.", teacher, None)
    assert "Long air before low notes." in shown(client, horn)


def test_a_word_is_pinned_to_a_second_of_a_tone(client, horn, week):
    tried = played.day(week, horn.studio.today() - DAY, AROUND, missed={(73, "mf")})[1]
    sent = {"text": "Warm air here.", "about_try": str(tried.pk), "at_s": "3.0"}
    client.post(reverse("comment", args=[tried.take_id]), sent)
    (comment,) = Comment.objects.all()
    assert (comment.about_try, comment.take, comment.at_s) == (tried, tried.take, 3.0)
    assert "Warm air here." in shown(client, horn)


def test_an_empty_word_is_not_kept_and_says_so(client, horn, week):
    answer = client.post(reverse("note", args=[horn.pk]), {"text": " "})
    assert answer.status_code == 400
    assert "Write a word, or say one." in answer.content.decode()
    assert not Comment.objects.exists()


def test_a_word_cannot_be_pinned_to_a_tone_of_another_take(client, horn, week):
    first, second = played.day(week, horn.studio.today() - DAY, AROUND[:2], missed=set(AROUND))
    sent = {"text": "Where is this?", "about_try": str(second.pk)}
    assert client.post(reverse("comment", args=[first.take_id]), sent).status_code == 404
    assert not Comment.objects.exists()


def test_the_number_of_queries_does_not_grow_with_what_was_played(client, horn, week):
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            shown(client, horn)
        return len(seen)

    today = horn.studio.today()
    for ago in (15, 1):
        played.day(week, today - ago * DAY, AROUND, missed={(73, "mf")})
    queries()  # the first page after signing in also writes down that somebody came
    few = queries()
    for ago in (40, 29, 16, 4, 3, 2):
        played.day(week, today - ago * DAY, missed=set(played.EVERY_NOTE[::3]))
    queries()  # where somebody stands is worked out anew once something was played
    assert queries() == few


def test_the_browser_can_read_the_seconds_in_every_language(client, horn, week):
    played.day(week, horn.studio.today() - DAY, AROUND, missed={(73, "mf")})
    for language in ("en", "de", "fr"):
        text = client.get(reverse("student", args=[horn.pk]), headers={"accept-language": language}).content.decode()
        seconds = re.findall(r'(?:data-from|data-to|name="at_s" [^>]*value)="([^"]*)"', text)
        assert len(seconds) >= 3
        assert all(float(one) >= 0 for one in seconds)


def test_two_moments_stand_open_and_the_others_are_a_line_each(client, horn, week):
    missed = {(midi, "mf") for midi in range(70, 76)}
    played.day(week, horn.studio.today() - DAY, sorted(missed), missed=missed, code="pitch_bulges_up")
    found = page(horn)
    assert (len(found.first_moments), len(found.more_moments)) == (2, len(found.moments) - 2)
    text = shown(client, horn)
    assert "More to hear" in text
    assert all(f'id="moment-{view.key}"' in text for view in found.moments)


def test_there_are_never_more_days_practised_than_there_were(horn, week):
    today = horn.studio.today()
    for ago in range(8):
        played.day(week, today - ago * DAY, AROUND)
    assert page(horn).summary.startswith("Practised on 8 of 8 days")


def test_today_is_no_day_without_practice_before_it_is_over(horn, week):
    played.day(week, horn.studio.today() - DAY, AROUND)
    assert page(horn).summary.startswith("Practised on 1 of 7 days")
