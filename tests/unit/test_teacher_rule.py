"""The gate's rule, changed by a teacher: within its ranges, told before it is taken, from a day on, for all to read."""

from __future__ import annotations

import datetime as dt
import subprocess
import sys

import pytest
from django.conf import settings
from django.urls import reverse

from assignments import gate_rules, rule_changes, rule_words, standings
from assignments.gate_rules import Asked
from assignments.models import GateRule
from assignments.refusals import Refusal
from studio.models import Membership
from tests import builders, people, played

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("signed_in")]

DAY = dt.timedelta(days=1)
USUAL = {
    "hits": 16, "minimum_readable": "", "opens_at": 8, "window_days": 10, "window_span_days": 21, "notes": 2,
    "ear_stages": [1, 2, 3], "notice_at": 6, "shuts_at": 4, "words": "",
}  # fmt: skip


@pytest.fixture
def horn(studio, teacher):
    return people.horn(studio)


def send(client, horn, do="take", **changed):
    address = reverse("student_rule", args=[horn.pk]) if horn else reverse("studio_rule")
    from_on = str(people_today(horn) + DAY)
    return client.post(address, {**USUAL, "from_on": from_on, "do": do, **changed})


def people_today(horn):
    return horn.studio.today() if horn else dt.datetime.now(dt.UTC).date() + DAY


def test_the_preview_is_told_in_plain_words(client, horn):
    text = send(client, horn, "try", opens_at=7).content.decode()
    assert "a student who hits 7 of 10 tones would get through within a term in 5 of 100 cases" in text
    assert "A student who hits 9 of 10 waits about 10 practice days." in text
    assert "in 2 of 100 cases" in text  # the rule that holds, beside it
    assert not GateRule.objects.exists()


def test_with_scripts_only_the_sentences_come_back(client, horn):
    address = reverse("student_rule", args=[horn.pk])
    from_on = str(horn.studio.today())
    sent = {**USUAL, "from_on": from_on, "do": "try"}
    text = client.post(address, sent, headers={"X-Requested-With": "fetch"}).content.decode()
    assert text.lstrip().startswith("<p><b>With this rule")
    assert "<html" not in text


def test_the_web_process_loads_no_numbers_before_a_rule_is_tried():
    code = "import django; django.setup(); import assignments.views.rules, sys; sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], cwd=settings.BASE_DIR, check=False).returncode == 0


def test_a_taken_rule_counts_from_its_day_on_and_is_the_students_own(client, horn, studio, teacher):
    other = people.horn(studio, "Ottilie Fenn")
    assert send(client, horn, opens_at=6, words="Exams are near.").url == reverse("gate", args=[horn.pk])
    (row,) = GateRule.objects.all()
    assert (row.from_on, row.by, row.chosen["opens_at"]) == (horn.studio.today() + DAY, teacher, 6)
    week = played.long_week(horn, teacher)
    played.day(week, studio.today(), audio=None)
    assert standings.standing(horn, 1, studio.today()).rule.opens_at == 8
    played.day(week, studio.today() + DAY, audio=None)
    assert standings.standing(horn, 1, studio.today() + DAY).rule.opens_at == 6
    assert standings.standing(other, 1, studio.today() + DAY).rule.opens_at == 8


def test_past_days_keep_their_verdicts(client, horn, studio, teacher):
    week, today = played.long_week(horn, teacher), studio.today()
    weak = played.EVERY_NOTE[:8]  # 25 of 33: on target at 14 of 20, not at 16
    played.day(week, today - DAY, missed=weak, audio=None)
    send(client, horn, hits=14)
    played.day(week, today + DAY, missed=weak, audio=None)
    days = standings.standing(horn, 1, today + DAY).days
    assert [day.on_target for day in days] == [False, True]


def test_no_rule_reaches_into_a_day_that_was_played(client, horn, studio, teacher):
    played.day(played.long_week(horn, teacher), studio.today(), audio=None)
    assert send(client, horn, from_on=str(studio.today())).status_code == 400
    with pytest.raises(Refusal, match="keep their verdict"):
        rule_changes.agree(studio=studio, horn=horn, by=teacher, chosen={}, from_on=studio.today())
    assert gate_rules.first_day(studio, people.horn(studio, "Nobody Yet")) == studio.today()


def test_the_studios_rule_holds_for_whoever_has_none_of_their_own(client, horn, studio, teacher):
    today = studio.today()
    rule_changes.agree(studio=studio, by=teacher, chosen={"window_days": 7, "opens_at": 6}, from_on=today)
    rule_changes.agree(studio=studio, horn=horn, by=teacher, chosen={"opens_at": 9}, from_on=today)
    far = people.horn(people.studio("Far Quay"), "Yara Dale")
    stood = standings.of_horns([horn, people.horn(studio, "Ottilie Fenn"), far], today)
    assert [(one.rule.window_days, one.rule.opens_at) for one in stood.values()] == [(10, 9), (7, 6), (10, 8)]


def test_going_back_leaves_the_studios_rule_and_then_the_usual_one(client, horn, studio, teacher):
    send(client, None, opens_at=7)
    send(client, horn, opens_at=6)
    tomorrow = studio.today() + 2 * DAY
    assert standings.standing(horn, 1, tomorrow).rule.opens_at == 6
    client.post(reverse("student_rule", args=[horn.pk]), {"do": "back"})
    assert standings.standing(horn, 1, tomorrow).rule.opens_at == 7
    client.post(reverse("studio_rule"), {"do": "back"})
    assert standings.standing(horn, 1, tomorrow).rule.opens_at == 8


def test_of_two_rules_each_holds_from_its_own_first_day_whichever_was_said_last(client, horn, studio):
    today = studio.today()
    send(client, horn, opens_at=6, from_on=str(today + 9 * DAY))
    send(client, horn, opens_at=7, from_on=str(today + DAY))
    asked = [standings.standing(horn, 1, today + ahead * DAY).rule.opens_at for ahead in (0, 1, 8, 9)]
    assert asked == [8, 7, 7, 6]


def test_rules_that_were_to_begin_later_are_called_off_in_one_press(client, horn, studio):
    today, address = studio.today(), reverse("student_rule", args=[horn.pk])
    assert 'value="back"' not in client.get(address).content.decode()
    send(client, horn, opens_at=6, from_on=str(today + 9 * DAY))
    send(client, horn, opens_at=7, from_on=str(today + 4 * DAY))
    text = client.get(address).content.decode()
    assert 'value="back"' in text
    assert "The studio’s rule holds for this student." in text
    client.post(address, {"do": "back"})
    assert [standings.standing(horn, 1, today + ahead * DAY).rule.opens_at for ahead in (0, 4, 9)] == [8, 8, 8]
    assert 'value="back"' not in client.get(address).content.decode()
    assert list(GateRule.objects.filter(chosen__isnull=True).values_list("from_on", flat=True)) == [
        today + 4 * DAY,
        today + 9 * DAY,
    ]


def test_what_holds_now_is_todays_rule_until_the_other_begins(client, horn, studio, teacher):
    played.day(played.long_week(horn, teacher), studio.today(), audio=None)
    send(client, horn, opens_at=6)
    for name in ("student_rule", "gate"):
        text = client.get(reverse(name, args=[horn.pk])).content.decode()
        assert "High notes open with 8 of the last 10 practice days" in text, name


def test_how_many_must_be_heard_is_said_as_a_share_unless_a_number_was_chosen(horn):
    shared, chosen = (rule_words.sentences(Asked(one))[0] for one in ((), (("minimum_readable", 14),)))
    assert "it counts when 3 in 5 of the day’s tones could be heard." in shared
    assert "it counts from 14 tones that could be heard." in chosen


def test_a_rule_speaks_with_the_next_day_that_is_played(horn, studio, teacher):
    week, today = played.long_week(horn, teacher), studio.today()
    played.good_days(week, today - DAY, audio=None)
    rule_changes.agree(studio=studio, by=teacher, chosen={}, ear_stages=[2, 3], from_on=today)
    assert standings.standing(horn, 1, today).state == "ready"
    played.day(week, today, audio=None)
    assert standings.standing(horn, 1, today).state == "open"


def test_a_recording_that_waits_to_be_measured_counts_as_played(horn, studio, teacher):
    builders.take(played.long_week(horn, teacher), b"any bytes")
    assert gate_rules.first_day(studio, horn) == gate_rules.first_day(studio) == studio.today() + DAY
    assert gate_rules.first_day(studio, people.horn(studio, "Nobody Yet")) == studio.today()


def test_the_ear_may_be_asked_at_some_stages_alone(horn, studio, teacher):
    week, today = played.long_week(horn, teacher), studio.today()
    on = today - 12 * DAY
    GateRule.objects.create(studio=studio, horn=horn, chosen={}, ear_stages=[2, 3], from_on=on, by=teacher)
    played.good_days(week, today - DAY, audio=None)
    ladder = standings.ladders([horn], today)[horn.pk]
    assert [ladder[stage].state for stage in (1, 2, 3)] == ["open", "ready", "ready"]


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"window_days": 5, "opens_at": 8}, "It asks for more days on target than it looks at."),
        ({"hits": 5}, "Select a valid choice"),
        ({"opens_at": 11}, "Select a valid choice"),
        ({"shuts_at": 7}, "Select a valid choice"),
    ],
)
def test_a_rule_that_cannot_be_says_why_and_is_not_taken(client, horn, changed, words):
    answer = send(client, horn, **changed)
    assert answer.status_code == 400
    assert words in answer.content.decode()
    assert not GateRule.objects.exists()


@pytest.mark.parametrize("chosen", [{"opens_at": 5}, {"on_target_share": 0.5}, {"window_days": 6, "opens_at": 8}])
def test_the_server_refuses_what_the_form_would_not_offer(horn, studio, teacher, chosen):
    with pytest.raises(Refusal):
        rule_changes.agree(studio=studio, horn=horn, by=teacher, chosen=chosen, from_on=studio.today())


def test_teacher_student_and_family_read_the_same_line(client, horn, studio, teacher):
    home = people.person("Jo Larkspur", studio, Membership.Role.GUARDIAN)
    home.wards.add(horn.player)
    played.long_week(horn, teacher)
    send(client, horn, opens_at=7, words="A gentler start.")
    pages = {
        teacher: reverse("gate", args=[horn.pk]),
        horn.player.user: reverse("high_notes"),
        home.user: reverse("home_month", args=[horn.player_id]),
    }
    for reader, address in pages.items():
        client.force_login(reader)
        text = client.get(address).content.decode()
        assert "Marisa changed the rule for this student from" in text, address
        assert "High notes open with 7 of the last 10 practice days" in text, address
        assert "A gentler start." in text, address
