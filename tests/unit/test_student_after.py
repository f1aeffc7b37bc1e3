"""After: what did I learn? And one tone, and where a recording is."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.urls import reverse

from analysis.models import Analysis
from assignments import comments
from assignments.models import Comment, Take
from assignments.queries import after as after_query
from tests import people, played
from tests.unit.student_cast import *  # noqa: F403  # the cast
from tests.unit.student_cast import TONES, plan, queries, shown

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)


def test_three_things_each_with_its_sound(client, horn, week):
    plan(week)
    played.day(week, horn.studio.today(), TONES, missed={TONES[1]}, code="pitch_bulges_up")
    text = shown(client, "after")
    assert "That’s today’s three" in text
    assert "Went well" in text
    assert "The pitch climbs on beats 3 to 5. Keep the lip still, let the air do it." in text
    assert "#t=3.0,5.0" in text
    assert text.index("Went well") < text.index("Listen to this") < text.index("Tomorrow")


def test_a_page_of_a_student_shows_no_cents_and_no_marks(client, horn, week):
    plan(week)
    tries = played.day(week, horn.studio.today(), TONES, missed={TONES[1]})
    for text in (shown(client, "after"), shown(client, "one_tone", tries[1].pk), shown(client, "range")):
        visible = re.sub(r"<[^>]+>", " ", text)
        assert not re.search(r"\bcents?\b|\bdB\b|%|\bwrong\b|\bfail", visible)


def test_what_could_not_be_heard_costs_nothing_and_can_be_played_again(client, horn, week):
    plan(week)
    played.day(week, horn.studio.today(), TONES, unreadable={TONES[2]})
    text = shown(client, "after")
    assert "I couldn’t hear 1 of the 3. It counts neither way and comes back." in text
    assert "?slots=2" in text


def test_when_nothing_could_be_heard_it_says_what_to_change(client, horn, week):
    plan(week)
    played.day(week, horn.studio.today(), TONES, unreadable=set(TONES))
    text = shown(client, "after")
    assert "I couldn’t hear them properly" in text
    assert "the day is not counted" in text


def test_while_measuring_it_looks_again_by_itself(client, horn, week):
    plan(week)
    tries = played.day(week, horn.studio.today(), TONES)
    waiting = tries[2].take
    waiting.tries.all().delete()
    Take.objects.filter(pk=waiting.pk).update(settled_at=None)
    Analysis.objects.filter(pk=waiting.analysis_id).update(state="running")
    text = shown(client, "after")
    assert "data-watch" in text
    assert "I’m still listening to 1 tone." in text


def test_nothing_to_mend_is_a_rest(client, horn, week):
    plan(week)
    played.day(week, horn.studio.today(), TONES)
    assert "Nothing needs mending today." in shown(client, "after")


def test_more_tones_need_no_more_queries(horn, week):
    plan(week)
    played.day(week, horn.studio.today(), TONES[:1])
    one = queries(lambda: after_query.page(horn, horn.studio.today()))
    played.day(week, horn.studio.today(), TONES)
    assert queries(lambda: after_query.page(horn, horn.studio.today())) == one


def test_one_tone_is_heard_with_its_neighbours_and_its_past(client, horn, week):
    today = horn.studio.today()
    played.day(week, today - 14 * DAY, ((73, "mf"),))
    tries = played.day(week, today, ((72, "mf"), (73, "mf"), (74, "mf")), missed={(73, "mf")})
    text = shown(client, "one_tone", tries[1].pk)
    assert "Neighbours" in text
    assert "2 weeks ago: on target" in text
    assert "Not yet." in text


def test_a_student_may_say_how_a_tone_felt(client, horn, week):
    (tried,) = played.day(week, horn.studio.today(), TONES[:1])
    client.post(reverse("one_tone", args=[tried.pk]), {"text": "It felt tight."})
    said = Comment.objects.get()
    assert (said.about_try, said.take, said.by) == (tried, tried.take, horn.player.user)


def test_a_teacher_sees_the_tone_without_the_students_ground(client, horn, week, teacher):
    (tried,) = played.day(week, horn.studio.today(), TONES[:1])
    client.force_login(teacher.user)
    text = shown(client, "one_tone", tried.pk)
    assert "High notes" not in text
    client.post(reverse("one_tone", args=[tried.pk]), {"text": "Not from here."})
    assert not Comment.objects.exists()


def test_a_tone_of_somebody_else_isnt_there(client, studio, horn, week):
    (tried,) = played.day(week, horn.studio.today(), TONES[:1])
    client.force_login(people.horn(studio, "Ola Tidewell").player.user)
    shown(client, "one_tone", tried.pk, status=404)
    shown(client, "take", tried.take_id, status=404)


def test_a_deleted_sound_leaves_its_words(client, horn, week):
    (tried,) = played.day(week, horn.studio.today(), TONES[:1], audio=None)
    text = shown(client, "one_tone", tried.pk)
    assert "The sound was deleted when its time was over." in text
    assert "data-hear" not in text


def test_the_lesson_page_plays_the_marked_second(client, horn, week, teacher):
    (tried,) = played.day(week, horn.studio.today(), TONES[:1])
    comments.note(horn, by=teacher.user, text="Here. Warm air.", about=tried, at_s=4.0)
    text = shown(client, "lesson")
    assert "Here. Warm air." in text
    assert "Marisa" in text
    assert "#t=3.0,7.0" in text


@pytest.mark.parametrize(
    ("state", "words"), [("refused", "I couldn’t use that one"), ("failed", "Our fault, not yours")]
)
def test_a_recording_that_cannot_be_used_says_why(client, horn, week, state, words):
    (tried,) = played.day(week, horn.studio.today(), TONES[:1], unreadable={TONES[0]})
    Analysis.objects.filter(pk=tried.take.analysis_id).update(state=state, fault_text="Record again, please.")
    text = shown(client, "take", tried.take_id)
    assert words in text
    assert "Record again, please." in text
