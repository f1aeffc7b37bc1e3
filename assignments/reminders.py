"""“Five minutes now?” One note a day at the time a family chose: silent at night, and after three unanswered."""

from __future__ import annotations

import datetime as dt
import hashlib
import logging
import zoneinfo

from django.conf import settings
from django.core import signing
from django.core.mail import EmailMessage, get_connection
from django.core.mail.backends.base import BaseEmailBackend
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.translation import gettext as _

from assignments import standings, weeks
from assignments.exercises import slots_of_budget
from assignments.models import DayPlan, PaperDay, Reminder, Take, Week
from studio import consent, throttle
from studio.access import is_of_family
from studio.models import Horn, Membership, User

log = logging.getLogger(__name__)

DAY_BEGINS, DAY_ENDS = dt.time(7), dt.time(21)  # where the student is; outside these nobody is reminded
ASKED_AGAIN = throttle.WITHIN  # sooner no second letter asks whether an address is right
LATE_AT_MOST = dt.timedelta(hours=1)  # what couldn't be sent by then is not sent that day
MOST_UNANSWERED = 3
LETTER = "assignments.reminders.stop"  # what the links in a letter are signed for


def choose(player: Membership, *, by: User, at: dt.time, time_zone: str, email: str, language: str) -> Reminder:
    """From now on, daily at ``at``. One that had fallen silent speaks again; a new address is asked first."""
    chosen = {"at": at, "time_zone": time_zone, "email": email, "language": language, "chosen_by": by}
    fresh = {"chosen_at": timezone.now(), "last_sent_on": None, "last_sent_at": None, "unanswered": 0}
    known = Reminder.objects.filter(player=player, email=email).first()
    if known is None:
        fresh |= {"asked_at": None, "confirmed_at": None}
    elif known.asked_at and known.asked_at < timezone.now() - ASKED_AGAIN:
        fresh |= {"asked_at": None}  # the letter went astray
    return Reminder.objects.update_or_create(player=player, defaults={**chosen, **fresh})[0]


def confirm(reminder: Reminder) -> None:
    """Whoever reads that address wants the notes."""
    Reminder.objects.filter(pk=reminder.pk, email=reminder.email, confirmed_at=None).update(confirmed_at=timezone.now())


def stop(player: Membership) -> None:
    Reminder.objects.filter(player=player).delete()


def is_silent(reminder: Reminder) -> bool:
    return reminder.unanswered >= MOST_UNANSWERED


def letter_key(reminder: Reminder) -> str:
    """What the links in a letter confirm and end it with: whoever reads that address needn't sign in."""
    return signing.dumps([str(reminder.pk), _hash(reminder.email)], salt=LETTER)


def of_letter_key(key: str) -> Reminder | None:
    """Whose letter it came in; None: that one has ended, or goes to another address. Raises BadSignature."""
    pk, address = signing.loads(key, salt=LETTER)
    reminder = Reminder.objects.filter(pk=pk).select_related("player").first()
    return reminder if reminder and _hash(reminder.email) == address else None


def _hash(email: str) -> str:
    """The address itself would stand in the logs of every proxy."""
    return hashlib.sha256(email.encode()).hexdigest()[:16]


def send_due() -> int:
    """Send what is due now. Returns how many letters went out; a mail server that is away is asked again later.

    To an address that nobody confirmed goes one letter that asks, and none after it. Without a mail server nothing is
    sent, and nothing counts as sent.
    """
    if not settings.MAIL:
        return 0
    now = timezone.now()
    every = Reminder.objects.select_related("player__user", "player__studio", "chosen_by")
    awake = every.filter(unanswered__lt=MOST_UNANSWERED).exclude(confirmed_at=None)
    due = [*every.filter(asked_at=None, confirmed_at=None), *(one for one in awake if _is_due(one, now))]
    line = get_connection() if due else None
    sent = 0
    for reminder in due:
        try:
            sent += (_send if reminder.confirmed_at else _ask)(reminder, now, line)
        except OSError as trouble:  # and every error of a mail server: the others would wait for it as long
            log.warning("A reminder couldn't be sent: %s", type(trouble).__name__)
            break
    return sent


def _ask(reminder: Reminder, now: dt.datetime, line: BaseEmailBackend | None) -> bool:
    """Is the address right? Written down before it is sent, as a note is."""
    if not _is_still_wanted(reminder):
        stop(reminder.player)
        return False
    player, there = str(reminder.player_id), f"{reminder.player_id} {reminder.email}"
    if throttle.is_spent(player, throttle.LETTER) or throttle.is_spent(there, throttle.SAME_LETTER):
        return False  # later: whoever chooses to and fro between addresses sends strangers no letter a round
    unasked = Reminder.objects.filter(pk=reminder.pk, email=reminder.email, confirmed_at=None)
    if not unasked.filter(asked_at=None).update(asked_at=now):
        return False  # another machine was first, or the family has just chosen anew
    try:
        _question(reminder, line).send()
    except OSError:
        unasked.filter(asked_at=now).update(asked_at=None)
        raise
    throttle.note(player, throttle.LETTER)
    throttle.note(there, throttle.SAME_LETTER)
    return True


def _local(reminder: Reminder, now: dt.datetime) -> dt.datetime:
    return now.astimezone(zoneinfo.ZoneInfo(reminder.time_zone))


def _is_due(reminder: Reminder, now: dt.datetime) -> bool:
    local = _local(reminder, now)
    since = local.replace(tzinfo=None) - dt.datetime.combine(local.date(), reminder.at)
    in_time = dt.timedelta(0) <= since < LATE_AT_MOST and DAY_BEGINS <= local.time() < DAY_ENDS
    return in_time and reminder.last_sent_on != local.date()


def _send(reminder: Reminder, now: dt.datetime, line: BaseEmailBackend | None) -> bool:
    """Written down before it is sent: a note that comes twice is worse than one that doesn't come."""
    if not _is_still_wanted(reminder):
        stop(reminder.player)
        return False
    week = _week_to_play(reminder.player)
    if week is None:
        return False
    before = {name: getattr(reminder, name) for name in ("last_sent_on", "last_sent_at", "unanswered")}
    unanswered = reminder.unanswered + 1 if reminder.last_sent_at and not _played_since(reminder) else 0
    after = {"last_sent_on": _local(reminder, now).date(), "last_sent_at": now, "unanswered": unanswered}
    if not Reminder.objects.filter(pk=reminder.pk, **before).update(**after):
        return False  # another machine was first, or the family has just chosen anew
    if unanswered >= MOST_UNANSWERED:
        return False
    try:
        _note(reminder, week, line).send()
    except OSError:
        Reminder.objects.filter(pk=reminder.pk, **after).update(**before)
        raise
    return True


def _is_still_wanted(reminder: Reminder) -> bool:
    """Whether whoever chose it still decides for the student, and the student is still here."""
    player, by = reminder.player, reminder.chosen_by
    is_here = player.ends_on is None or player.ends_on >= player.studio.today()
    return is_here and by is not None and by.is_active and is_of_family(by, player.pk)


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
    takes = Take.objects.filter(horn__player=player, on=on, in_lesson=False)
    stopped = DayPlan.objects.filter(horn__player=player, on=on).exclude(stopped_hurting_at=None)
    return takes.exists() or stopped.exists()


def _played_since(reminder: Reminder) -> bool:
    """By the instant: the student's day and the studio's may be two."""
    player, sent_at = reminder.player, reminder.last_sent_at
    if Take.objects.filter(horn__player=player, received_at__gte=sent_at, in_lesson=False).exists():
        return True
    sent_on = timezone.localdate(sent_at, zoneinfo.ZoneInfo(player.studio.time_zone))
    return PaperDay.objects.filter(horn__player=player, on__gte=sent_on).exists()


def _address(name: str, *args: object) -> str:
    return settings.ADDRESS + reverse(name, args=args)


def _question(reminder: Reminder, line: BaseEmailBackend | None) -> EmailMessage:
    """No word of whom it is about: it may reach a stranger."""
    with translation.override(reminder.language):
        words = {"yes": _address("reminder_confirm", letter_key(reminder))}
        body = render_to_string("assignments/mail/is_it_you.txt", words)
        return EmailMessage(_("Is this address right?"), body, to=[reminder.email], connection=line)


def _note(reminder: Reminder, week: Week, line: BaseEmailBackend | None) -> EmailMessage:
    player = reminder.player
    stop_at = _address("reminder_stop", letter_key(reminder))
    # RFC 8058: the reader's own mail program offers to end it.
    headers = {"List-Unsubscribe": f"<{stop_at}>", "List-Unsubscribe-Post": "List-Unsubscribe=One-Click"}
    with translation.override(reminder.language):
        words = {
            "name": player.user.get_short_name(),
            "minutes": week.budget_minutes,
            "tones": slots_of_budget(week.budget_minutes),
            "today": _address("today"),
            "choose": _address("home_reminder", player.pk),
            "stop": stop_at,
        }
        body = render_to_string("assignments/mail/reminder.txt", words)
        return EmailMessage(_("Five minutes now?"), body, to=[reminder.email], connection=line, headers=headers)
