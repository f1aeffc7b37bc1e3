"""After: what did I learn? And one tone, and where a recording is."""

from __future__ import annotations

import datetime as dt
import html
import json
import re

import pytest
from django.urls import reverse

from analysis.models import Analysis, Result
from assignments import comments, plans
from assignments.models import Comment, Take
from assignments.queries import after as after_query
from assignments.queries import one_tone as one_tone_query
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


def test_what_could_not_be_heard_says_why_and_its_sound_is_there(client, horn, week):
    plan(week)
    tries = played.day(week, horn.studio.today(), TONES, unreadable=set(TONES[1:]))
    for row in tries[1:]:
        row.reasons = ["other_note"]
        row.save()
    text = shown(client, "after")
    why = "They count neither way and come back. I heard another note first. Check the fingering, then play it again."
    assert text.count(why) == 1
    assert text.index(why) < text.index("Went well")  # most of the day: it comes first
    assert text.count("data-hear ") == 1 + len(TONES)  # what went well, and every tone


def test_in_the_middle_of_the_day_it_goes_on(client, horn, week):
    plan(week)
    played.day(week, horn.studio.today(), TONES[:2], missed={TONES[1]}, code="pitch_bulges_up")
    text = shown(client, "after")
    assert "One tone to go" in text
    assert 'href="/today/play/"' in text
    assert len(re.findall(r'class="[^"]*\bbrass\b', text)) == 1  # the moment to hear: then Go on takes it over
    assert "Done for today" in text


def test_a_stop_for_pain_goes_on_no_more(client, horn, week):
    plans.stop_because_it_hurts(plan(week), teacher_may_know=False)
    assert "What you played today" not in shown(client, "today")
    assert "Play, and" not in shown(client, "after")
    played.day(week, horn.studio.today(), TONES[:2], unreadable={TONES[1]})
    assert "What you played today" in shown(client, "today")
    text = shown(client, "after")
    assert 'href="/today/play/' not in text  # neither what is to go nor what couldn't be heard
    assert "Today counts as practised" in text
    assert "to count the day" not in text


def test_a_level_in_a_sentence_is_seen_as_printed_music_and_said_in_words(client, horn, week):
    plan(week)
    tries = played.day(week, horn.studio.today(), TONES, missed={TONES[1]}, code="too_loud")
    sentence = 'is louder than <span class="level" aria-hidden="true">pp</span><span class="unseen">very soft</span>.'
    assert sentence in shown(client, "one_tone", tries[1].pk)


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


def test_the_tone_to_listen_to_is_heard_with_its_neighbours_where_it_has_some(client, horn, week):
    plan(week)
    today = horn.studio.today()
    tries = played.day(week, today, TONES, missed={TONES[1]})
    assert "Neighbours" not in shown(client, "after")
    beside = played.day(week, today - DAY, ((TONES[1][0] - 1, "mf"), (TONES[1][0] + 1, "mf")))
    heard = json.loads(html.unescape(re.search(r'data-hear-list="([^"]+)"', shown(client, "after"))[1]))
    order = (beside[0], tries[1], beside[1])
    assert [address for address, _from, _to in heard] == [reverse("take_audio", args=[row.take_id]) for row in order]


def test_a_tone_of_today_leads_back_to_what_was_heard_today_another_to_the_range(client, horn, week):
    plan(week)
    (before,) = played.day(week, horn.studio.today() - DAY, TONES[:1])
    (today,) = played.day(week, horn.studio.today(), TONES[:1])
    assert "What you played today" in shown(client, "one_tone", today.pk)
    assert "Back to the range" in shown(client, "one_tone", before.pk)


def test_then_and_now_are_heard_in_turn_the_louder_one_made_as_soft_as_the_other(client, horn, week):
    today = horn.studio.today()
    (then,) = played.day(week, today - 14 * DAY, ((73, "mf"),))
    (now,) = played.day(week, today, ((73, "mf"),))
    result = Result.objects.get(analysis=then.take.analysis_id)
    result.report["tones"][0]["level_db"] += 5.0
    result.save(update_fields=["report"])
    (earlier,) = one_tone_query.page(now).before
    addresses = [address for address, _from_s, _to_s in json.loads(earlier.in_turn_json)]
    assert addresses == [reverse("take_audio", args=[one.take_id]) for one in (then, now)]
    assert json.loads(earlier.in_turn_gains_json) == [-5.0, 0.0]
    assert "Then and now, in turn" in shown(client, "one_tone", now.pk)


def test_a_tone_whose_sound_is_deleted_is_compared_with_nothing(client, horn, week):
    played.day(week, horn.studio.today() - 14 * DAY, ((73, "mf"),))
    (now,) = played.day(week, horn.studio.today(), ((73, "mf"),), audio=None)
    assert "Then and now, in turn" not in shown(client, "one_tone", now.pk)


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
