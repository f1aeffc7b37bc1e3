"""Dates for somebody's own calendar: lessons and the last days of weeks, as iCalendar (RFC 5545) at a secret address.

The address is the key: whoever has it reads the dates and nothing else. Its hash alone is kept, so that it is shown
once; a new one ends the old.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import secrets
import zoneinfo
from collections.abc import Iterable, Iterator, Sequence

from django.utils import timezone
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from icalendar import Calendar, Event

from assignments import lessons
from assignments.models import CalendarAddress, LessonDay, Week
from studio.access import STAFF, Role, memberships, wards
from studio.models import Membership, User

BACK, AHEAD = dt.timedelta(weeks=4), dt.timedelta(weeks=13)  # how far a feed looks: a term
LESSON = dt.timedelta(minutes=30)  # common practice; the rows know only when one begins
SECRET_BYTES = 32
MAKER = "-//Footing//Lessons and weeks//EN"


def make(user: User) -> str:
    """A new secret; an older address of the same person is none any more."""
    secret = secrets.token_urlsafe(SECRET_BYTES)
    row = {"secret_hash": _hash(secret), "language": get_language() or "en", "made_at": timezone.now()}
    CalendarAddress.objects.update_or_create(user=user, defaults=row)
    return secret


def revoke(user: User) -> None:
    CalendarAddress.objects.filter(user=user).delete()


def reader_of(secret: str) -> CalendarAddress | None:
    """Whose address it is, while that person may still sign in."""
    rows = CalendarAddress.objects.filter(secret_hash=_hash(secret), user__is_active=True)
    return rows.select_related("user").first()


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


def feed(user: User) -> bytes:
    """Everything that ``user`` may know of: own dates, those of wards, those of students in the studio. 6 queries."""
    calendar = Calendar()
    calendar.add("prodid", MAKER)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    own = list(memberships(user, (Role.STUDENT,)))
    others = [*wards(user), *_taught(user)]
    players = {player.pk: player for player in (*own, *others)}
    for event in _events(list(players.values()), {player.pk for player in own}):
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def _taught(user: User) -> Iterable[Membership]:
    """A teacher's own students; everybody's in the studio, where nobody is named."""
    staff = list(memberships(user, STAFF))
    students = Membership.objects.filter(role=Role.STUDENT).select_related("user", "studio").order_by("pk")
    named = students.filter(teachers__in=staff).distinct()
    return named if named.exists() else students.filter(studio__in=[row.studio_id for row in staff])


def _events(players: Sequence[Membership], own: set[object]) -> Iterator[Event]:
    differing: dict[object, list[LessonDay]] = {}
    for row in LessonDay.objects.filter(player__in=players):
        differing.setdefault(row.player_id, []).append(row)
    for player in players:
        today, name = player.studio.today(), "" if player.pk in own else player.user.get_short_name()
        last = min(today + AHEAD, player.ends_on or today + AHEAD)
        for lesson in lessons.between(player, today - BACK, last, differing.get(player.pk, ())):
            yield _lesson(player, lesson, name)
    weeks = Week.objects.filter(horn__player__in=players, horn__put_away_on=None).select_related("horn__player__user")
    for week in weeks.filter(ends_on__gte=timezone.now().date() - BACK).order_by("ends_on", "pk"):
        yield _last_day(week, "" if week.horn.player_id in own else week.horn.player.user.get_short_name())


def _lesson(player: Membership, lesson: lessons.Lesson, name: str) -> Event:
    title = _("Lesson: %(name)s") % {"name": name} if name else _("Saxophone lesson")
    event = _event(f"lesson-{player.pk}-{lesson.on}", title, player.joined_on)
    if lesson.at is None:
        return _whole_day(event, lesson.on)
    zone = zoneinfo.ZoneInfo(player.studio.time_zone)
    begins = dt.datetime.combine(lesson.on, lesson.at, zone).astimezone(dt.UTC)
    event.add("dtstart", begins)
    event.add("dtend", begins + LESSON)
    return event


def _last_day(week: Week, name: str) -> Event:
    title = _("Last day of this week’s tones")
    event = _event(f"week-{week.pk}", f"{title}: {name}" if name else title, week.set_at)
    event.add("transp", "TRANSPARENT")  # nobody is busy by it
    return _whole_day(event, week.ends_on)


def _whole_day(event: Event, on: dt.date) -> Event:
    event.add("dtstart", on)
    event.add("dtend", on + dt.timedelta(days=1))
    return event


def _event(uid: str, title: str, made: dt.date) -> Event:
    """``made``: what the stamp says; the same row gives the same event, whenever it is asked for."""
    stamp = made if isinstance(made, dt.datetime) else dt.datetime.combine(made, dt.time(), dt.UTC)
    event = Event()
    event.add("uid", f"{uid}@footing")
    event.add("dtstamp", stamp.astimezone(dt.UTC))
    event.add("summary", title)
    return event
