"""Listening to six tones, then yes or not yet; and deciding by hand."""

from __future__ import annotations

import datetime as dt

import pytest
from django.template.defaultfilters import date as date_words
from django.urls import reverse

from assignments import decisions, standings
from assignments.models import Decision, Hearing, Opening
from assignments.queries import deciding as deciding_query
from tests import people, played

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("signed_in")]

DAY = dt.timedelta(days=1)
TONES = (*played.EVERY_NOTE, (58, "p"), (90, "f"), (70, "swell"))


@pytest.fixture
def horn(studio, teacher):
    return people.horn(studio)


@pytest.fixture
def ready(horn, teacher):
    """A student who has met the rule, with six tones to hear."""
    week = played.long_week(horn, teacher)
    played.good_days(week, horn.studio.today() - 2 * DAY, 9, audio=None)
    played.day(week, horn.studio.today() - DAY, TONES)
    return horn


def decide(horn):
    return reverse("decide", args=[horn.pk])


def six(horn, user):
    return deciding_query.deciding(horn, user)


def hear_all(client, horn, user):
    for one in six(horn, user).there:
        answer = client.post(reverse("heard", args=[one.sounding.row.pk]), headers={"X-Requested-With": "fetch"})
        assert answer.status_code == 204


def yes(client, horn, words="The low notes carry you now."):
    return client.post(decide(horn), {"answer": "yes", "stage": "1", "words": words})


def test_six_tones_are_there_to_hear_and_the_rule_in_its_numbers(client, teacher, ready):
    text = client.get(decide(ready)).content.decode()
    assert text.count("data-number=") == 6
    assert "10 of the last 10 counted days on target. 33 of 33 notes have hit at least 3 of their last 5 tries." in text
    assert "Six more to hear before a yes." in text


def test_yes_before_all_were_heard_is_refused_on_the_server(client, teacher, ready):
    answer = yes(client, ready)
    assert answer.status_code == 409
    assert "Hear 6 more before a yes." in answer.content.decode()
    assert not Decision.objects.exists()
    assert not standings.is_open(ready, 1, ready.studio.today())


def test_yes_after_all_were_heard_opens_and_writes_one_dated_opening(client, teacher, ready):
    hear_all(client, ready, teacher)
    assert yes(client, ready).url == reverse("gate", args=[ready.pk])
    (opening,) = Opening.objects.all()
    assert (opening.stage, opening.opened_on) == (1, ready.studio.today())
    assert opening.decision.words == "The low notes carry you now."
    assert standings.is_open(ready, 1, ready.studio.today())


def test_saying_yes_twice_opens_once(client, teacher, ready):
    hear_all(client, ready, teacher)
    yes(client, ready)
    assert yes(client, ready).status_code == 409
    assert Opening.objects.count() == 1


def test_hearing_is_counted_for_the_one_who_listened(client, teacher, studio, ready):
    other = people.teacher(studio, "Ruth Calder").user
    hear_all(client, ready, teacher)
    assert six(ready, teacher).left == 0
    assert six(ready, other).left == 6


def test_hearing_twice_is_one_hearing(client, teacher, ready):
    hear_all(client, ready, teacher)
    hear_all(client, ready, teacher)
    assert Hearing.objects.filter(by=teacher, about_try__isnull=False).count() == 6


def test_without_scripts_hearing_opens_the_recording(client, teacher, ready):
    tried = six(ready, teacher).there[0].sounding.row
    answer = client.post(reverse("heard", args=[tried.pk]))
    assert answer.url == reverse("take_audio", args=[tried.take_id])
    assert Hearing.objects.filter(about_try=tried, by=teacher).exists()


def test_not_yet_needs_no_hearing_and_asks_again_in_a_week(client, teacher, ready):
    client.post(decide(ready), {"answer": "not_yet", "stage": "1", "words": "The swell still jumps."})
    (decision,) = Decision.objects.all()
    assert (decision.kind, decision.words) == ("not_yet", "The swell still jumps.")
    assert not six(ready, teacher).asked
    assert "“Not yet” was said." in client.get(decide(ready)).content.decode()


def test_what_is_played_today_does_not_move_the_six(client, teacher, ready):
    before = [one.sounding.row.pk for one in six(ready, teacher).there]
    played.day(ready.weeks.get(), ready.studio.today(), TONES)
    assert [one.sounding.row.pk for one in six(ready, teacher).there] == before


def test_fewer_than_six_says_which_and_offers_to_ask_for_one(client, teacher, horn):
    week = played.long_week(horn, teacher)
    played.good_days(week, horn.studio.today() - 2 * DAY, 9, audio=None)
    played.day(week, horn.studio.today() - DAY)
    page = six(horn, teacher)
    assert [one.kind for one in page.missing] == ["lowest_soft", "top", "shape"]
    text = client.get(decide(horn)).content.decode()
    assert f"{reverse('week', args=[horn.pk])}?pin=58-p" in text
    hear_all(client, horn, teacher)
    assert yes(client, horn).status_code == 302


def test_with_too_few_recordings_left_there_is_no_yes(client, teacher, horn):
    played.good_days(played.long_week(horn, teacher), horn.studio.today() - DAY, audio=None)
    answer = yes(client, horn)
    assert answer.status_code == 409
    text = answer.content.decode()
    assert "too few recordings" in text
    assert 'data-none="Too few recordings are left for a yes.' in text  # what the page says when those were heard
    assert standings.standing(horn).state == "ready"


def test_where_nothing_is_asked_there_is_no_yes_or_no(client, teacher, horn):
    played.day(played.long_week(horn, teacher), horn.studio.today() - DAY, TONES)
    text = client.get(decide(horn)).content.decode()
    assert "The rule isn’t met now, so nothing is asked." in text
    assert 'value="not_yet"' not in text
    hear_all(client, horn, teacher)
    assert yes(client, horn).status_code == 409


def test_the_next_stage_does_not_ask_at_once(client, teacher, ready):
    hear_all(client, ready, teacher)
    yes(client, ready)
    ladder = standings.ladders([ready], ready.studio.today())[ready.pk]
    assert standings.stage_asked(ladder) == 2
    assert not standings.waits_for_an_ear(ladder, ready.studio.today())
    assert standings.waits_for_an_ear(ladder, ready.studio.today() + 14 * DAY)
    text = client.get(reverse("gate", args=[ready.pk])).content.decode()
    asked_on = date_words(ready.studio.today() + 14 * DAY, "j F")
    assert f"From {asked_on} on you are asked to listen" in text
    assert "Asks you to listen to six tones." not in text


def test_opening_by_hand_needs_a_reason_and_keeps_its_last_day(client, teacher, horn):
    gate = reverse("gate", args=[horn.pk])
    until = horn.studio.today() + 10 * DAY
    sent = {"kind": "open", "stage": "1", "until_on": until.isoformat(), "words": ""}
    answer = client.post(gate, sent)
    assert answer.status_code == 400
    assert "Write a reason. The student reads it." in answer.content.decode()
    assert client.post(gate, {**sent, "words": "For the concert."}).status_code == 302
    assert standings.is_open(horn, 1, until)
    assert not standings.is_open(horn, 1, until + DAY)
    text = client.get(gate).content.decode()
    assert "Marisa opened by hand: Overtones to the third partial." in text
    assert "For the concert." in text


def test_a_pause_holds_and_can_be_ended(client, teacher, horn):
    gate = reverse("gate", args=[horn.pk])
    client.post(gate, {"kind": "pause", "words": "Exams.", "until_on": ""})
    assert standings.standing(horn).state == "paused"
    client.post(gate, {"kind": "resume"})
    assert standings.standing(horn).state == "building"


def test_a_last_day_that_has_passed_is_refused(client, teacher, horn):
    past = horn.studio.today() - DAY
    sent = {"kind": "pause", "words": "Ill.", "until_on": past.isoformat()}
    answer = client.post(reverse("gate", args=[horn.pk]), sent)
    assert answer.status_code == 400
    assert "That day has passed." in answer.content.decode()
    assert not Decision.objects.exists()


def test_opening_by_hand_says_which_high_notes(client, teacher, horn):
    answer = client.post(reverse("gate", args=[horn.pk]), {"kind": "open", "words": "Ready for more."})
    assert answer.status_code == 400
    assert "Say which high notes you mean." in answer.content.decode()


def test_a_higher_stage_opens_above_an_open_one_alone(client, teacher, horn):
    answer = client.post(reverse("gate", args=[horn.pk]), {"kind": "open", "stage": "3", "words": "Why not."})
    assert answer.status_code == 409
    assert "The stage below it is shut." in answer.content.decode()


def test_the_log_keeps_everything_newest_first(client, teacher, horn):
    today = horn.studio.today()
    for ago, kind in ((9, "open"), (4, "shut")):
        decisions.decide(horn=horn, by=teacher, kind=kind, stage=1, words=kind, on=today - ago * DAY)
    text = client.get(reverse("gate", args=[horn.pk])).content.decode()
    assert text.index("Marisa shut for a while") < text.index("Marisa opened by hand")
