"""Dates as iCalendar: what the RFC asks for, who reads what, and that an ended address is none."""

from __future__ import annotations

import datetime as dt
import zoneinfo

import pytest
from django.test import Client
from django.urls import reverse
from icalendar import Calendar

from assignments import calendars, lessons
from assignments.models import CalendarAddress
from studio.models import Membership
from tests import builders, people

pytestmark = pytest.mark.django_db


@pytest.fixture
def horn(studio):
    made = people.horn(studio)
    made.player.lesson_weekday, made.player.lesson_at = 2, dt.time(16, 30)
    made.player.save()
    return made


def events(user) -> list:
    return list(Calendar.from_ical(calendars.feed(user)).walk("VEVENT"))


def test_the_feed_is_what_rfc_5545_asks_for(horn, teacher):
    builders.week(horn, teacher)
    horn.player.user.name = "Zoë-Charlotte Wintergarten-Åkermann von der langen Brücke am Hafen"
    horn.player.user.save()
    content = calendars.feed(teacher)
    lines = content.decode("utf-8").split("\r\n")
    assert lines[0] == "BEGIN:VCALENDAR"  # 3.4
    assert lines[-2:] == ["END:VCALENDAR", ""]
    assert b"\n" not in content.replace(b"\r\n", b"")  # 3.1: lines end in CR LF
    assert max(len(line.encode()) for line in lines) <= 75  # 3.1: folded by octets
    assert lines.count("VERSION:2.0") == 1  # 3.6
    assert sum(line.startswith("PRODID:") for line in lines) == 1
    found = list(Calendar.from_ical(content).walk("VEVENT"))
    assert len(found) > 10
    uids = [str(event["uid"]) for event in found]
    assert len(uids) == len(set(uids))  # 3.8.4.7
    for event in found:
        for name in ("uid", "dtstamp", "dtstart", "dtend", "summary"):  # 3.6.1: required, and not more than once
            assert not isinstance(event[name], list), name
        assert event["dtstamp"].dt.utcoffset() == dt.timedelta(0)  # 3.8.7.2: UTC
        assert event["dtend"].dt > event["dtstart"].dt  # 3.8.2.2
        assert type(event["dtend"].dt) is type(event["dtstart"].dt)
        if isinstance(event["dtstart"].dt, dt.datetime):
            assert event["dtstart"].dt.utcoffset() == dt.timedelta(0)  # no VTIMEZONE is needed


def test_the_hour_of_a_lesson_stays_the_studios_own_through_summer_time(horn):
    begins = {event["dtstart"].dt for event in events(horn.player.user)}
    lisbon = {one.astimezone(zoneinfo.ZoneInfo("Europe/Lisbon")).time() for one in begins}
    assert lisbon == {dt.time(16, 30)}


def test_a_lesson_that_falls_out_is_gone_and_an_extra_one_is_there(horn, teacher):
    today = horn.studio.today()
    usual = lessons.upcoming(horn.player, today)
    lessons.differ(horn.player, by=teacher, on=usual.on, at=None, falls_out=True)
    extra = usual.on + dt.timedelta(days=1)
    lessons.differ(horn.player, by=teacher, on=extra, at=dt.time(9), falls_out=False)
    assert lessons.upcoming(horn.player, today) == lessons.Lesson(extra, dt.time(9))
    days = {event["dtstart"].dt.date() for event in events(horn.player.user)}
    assert usual.on not in days
    assert extra in days
    lessons.differ(horn.player, by=teacher, on=usual.on, at=dt.time(18), falls_out=False)
    assert lessons.upcoming(horn.player, today) == lessons.Lesson(usual.on, dt.time(18))


def test_each_reads_their_own_and_nobody_anybody_elses(horn, studio, teacher):
    other = people.horn(studio, "Ottilie Fenn")
    other.player.lesson_weekday = 4
    other.player.save()
    guardian = people.person("Jo Larkspur", studio, Membership.Role.GUARDIAN)
    guardian.wards.add(horn.player)
    assert {str(event["summary"]) for event in events(horn.player.user)} == {"Saxophone lesson"}
    assert {str(event["summary"]) for event in events(guardian.user)} == {"Lesson: Pim"}
    assert {str(event["summary"]) for event in events(teacher)} == {"Lesson: Pim", "Lesson: Ottilie"}
    horn.player.teachers.add(Membership.objects.get(user=teacher))
    assert {str(event["summary"]) for event in events(teacher)} == {"Lesson: Pim"}
    stranger = people.teacher(people.studio("Far Quay"), "Sela Brand").user
    assert events(stranger) == []


def test_the_last_day_of_a_week_is_a_whole_day_that_nobody_is_busy_by(horn, teacher):
    week = builders.week(horn, teacher)
    (event,) = [one for one in events(horn.player.user) if str(one["uid"]).startswith("week-")]
    assert event["dtstart"].dt == week.ends_on
    assert event["dtend"].dt == week.ends_on + dt.timedelta(days=1)
    assert event["transp"] == "TRANSPARENT"


def test_an_address_is_shown_once_read_without_signing_in_and_ended(horn, client):
    client.force_login(horn.player.user)
    page = reverse("calendar_address")
    shown = client.post(page, {"what": "make"}).content.decode()
    address = shown.split("<code>http://testserver")[1].split("</code>")[0]
    assert address not in client.get(page).content.decode()
    secret = address.split("/")[2].removesuffix(".ics")
    assert secret not in CalendarAddress.objects.get().secret_hash
    answer = Client().get(address)
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    assert Client().get(address.replace(secret, secret[::-1])).status_code == 404
    client.post(page, {"what": "make"})
    assert Client().get(address).status_code == 404
    client.post(page, {"what": "end"})
    assert not CalendarAddress.objects.exists()
