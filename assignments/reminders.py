"""“Five minutes now?” One note a day at the time a family chose: silent at night, and after three unanswered."""

from __future__ import annotations

import datetime as dt
import logging
import zoneinfo

from django.conf import settings
from django.core.mail import EmailMessage, get_connection
from django.core.mail.backends.base import BaseEmailBackend
from django.db.models import Q
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.translation import gettext as _

from assignments import standings, weeks
from assignments.exercises import slots_of_budget
from assignments.models import DayPlan, PaperDay, Reminder, Take, Week
from studio import consent
from studio.models import Horn, Membership, User

log = logging.getLogger(__name__)

DAY_BEGINS, DAY_ENDS = dt.time(7), dt.time(21)  # where the student is; outside these nobody is reminded
LATE_AT_MOST = dt.timedelta(hours=1)  # what couldn't be sent by then is not sent that day
MOST_UNANSWERED = 3


def choose(player: Membership, *, by: User, at: dt.time, time_zone: str, email: str, language: str) -> Reminder:
    """From now on, daily at ``at``. One that had fallen silent speaks again."""
    chosen = {"at": at, "time_zone": time_zone, "email": email, "language": language, "chosen_by": by}
    fresh = {"chosen_at": timezone.now(), "last_sent_on": None, "unanswered": 0}
    return Reminder.objects.update_or_create(player=player, defaults={**chosen, **fresh})[0]


def stop(player: Membership) -> None:
    Reminder.objects.filter(player=player).delete()


def is_silent(reminder: Reminder) -> bool:
    return reminder.unanswered >= MOST_UNANSWERED


def send_due() -> int:
    """Send what is due now. Returns how many notes went out; a mail server that is away is asked again later."""
    now = timezone.now()
    awake = Reminder.objects.filter(unanswered__lt=MOST_UNANSWERED)
    due = [one for one in awake.select_related("player__user", "player__studio") if _is_due(one, now)]
    line = get_connection() if due else None
    return sum(_send(one, now, line) for one in due)


def _local(reminder: Reminder, now: dt.datetime) -> dt.datetime:
    return now.astimezone(zoneinfo.ZoneInfo(reminder.time_zone))


def _is_due(reminder: Reminder, now: dt.datetime) -> bool:
    local = _local(reminder, now)
    since = local.replace(tzinfo=None) - dt.datetime.combine(local.date(), reminder.at)
    in_time = dt.timedelta(0) <= since < LATE_AT_MOST and DAY_BEGINS <= local.time() < DAY_ENDS
    return in_time and reminder.last_sent_on != local.date()


def _send(reminder: Reminder, now: dt.datetime, line: BaseEmailBackend | None) -> bool:
    """Written down before it is sent: a note that comes twice is worse than one that doesn't come."""
    week = _week_to_play(reminder.player)
    if week is None:
        return False
    before = (reminder.last_sent_on, reminder.unanswered)
    reminder.unanswered = reminder.unanswered + 1 if before[0] and not _played_since(reminder) else 0
    reminder.last_sent_on = _local(reminder, now).date()
    reminder.save(update_fields=["unanswered", "last_sent_on"])
    if is_silent(reminder):
        return False
    try:
        _note(reminder, week, line).send()
    except OSError as trouble:  # and every error of a mail server
        log.warning("A reminder couldn't be sent: %s", type(trouble).__name__)
        reminder.last_sent_on, reminder.unanswered = before
        reminder.save(update_fields=["unanswered", "last_sent_on"])
        return False
    return True


def _week_to_play(player: Membership) -> Week | None:
    """What there is to play and not played yet; None on a pause, without permission, and after stopping for pain."""
    on = player.studio.today()
    if not consent.stands(player) or _has_played(player, on):
        return None
    for horn in Horn.objects.filter(player=player, put_away_on=None).order_by("in_use_since_on"):
        week = weeks.in_force(horn, on)
        if week is not None and standings.standing(horn, on=on).state != "paused":
            return week
    return None


def _has_played(player: Membership, on: dt.date) -> bool:
    takes = Take.objects.filter(horn__player=player, on=on)
    stopped = DayPlan.objects.filter(horn__player=player, on=on).exclude(stopped_hurting_at=None)
    return takes.exists() or stopped.exists()


def _played_since(reminder: Reminder) -> bool:
    mine = Q(horn__player=reminder.player, on__gte=reminder.last_sent_on)
    return any(rows.filter(mine).exists() for rows in (Take.objects, PaperDay.objects))


def _note(reminder: Reminder, week: Week, line: BaseEmailBackend | None) -> EmailMessage:
    player = reminder.player
    with translation.override(reminder.language):
        words = {
            "name": player.user.get_short_name(),
            "minutes": week.budget_minutes,
            "tones": slots_of_budget(week.budget_minutes),
            "today": settings.ADDRESS + reverse("today"),
            "choose": settings.ADDRESS + reverse("home_reminder", args=[player.pk]),
        }
        body = render_to_string("assignments/mail/reminder.txt", words)
        return EmailMessage(_("Five minutes now?"), body, to=[reminder.email], connection=line)
