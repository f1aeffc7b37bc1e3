"""“Five minutes now?” One note a day at the time a family chose: silent at night, and after three unanswered.

When a note is due stands here; it goes by e-mail (``reminder_letters``) or to devices (``reminder_posts``).
"""

from __future__ import annotations

import datetime as dt
import logging
import zoneinfo
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.core.mail import get_connection
from django.core.mail.backends.base import BaseEmailBackend
from django.db.models import QuerySet
from django.utils import timezone

from assignments import reminder_devices, reminder_letters, standings, weeks
from assignments.models import DayPlan, PaperDay, Reminder, ReminderDevice, Take, Week
from studio import consent, throttle
from studio.access import is_of_family
from studio.models import Horn, Membership, User

log = logging.getLogger(__name__)

DAY_BEGINS, DAY_ENDS = dt.time(7), dt.time(21)  # where the student is; outside these nobody is reminded
ASKED_AGAIN = throttle.WITHIN  # sooner no second letter asks whether an address is right
LATE_AT_MOST = dt.timedelta(hours=1)  # what couldn't be sent by then is not sent that day
MOST_UNANSWERED = 3


def choose(
    player: Membership,
    *,
    by: User,
    at: dt.time,
    time_zone: str,
    email: str,
    language: str,
    way: str = Reminder.Way.LETTER,
) -> Reminder:
    """From now on, daily at ``at``. One that had fallen silent speaks again; a new address is asked first.

    Who turns to e-mail lets the devices go. Who turns to devices may leave ``email`` empty; else notes go there while
    no device can be told.
    """
    chosen = {"at": at, "time_zone": time_zone, "email": email, "language": language, "way": way, "chosen_by": by}
    fresh = {"chosen_at": timezone.now(), "last_sent_on": None, "last_sent_at": None, "unanswered": 0}
    known = Reminder.objects.filter(player=player, email=email).first()
    if known is None:
        fresh |= {"asked_at": None, "confirmed_at": None}
    elif known.asked_at and known.asked_at < timezone.now() - ASKED_AGAIN:
        fresh |= {"asked_at": None}  # the letter went astray
    reminder = Reminder.objects.update_or_create(player=player, defaults={**chosen, **fresh})[0]
    if way == Reminder.Way.LETTER:
        reminder.devices.all().delete()
    return reminder


def confirm(reminder: Reminder) -> None:
    """Whoever reads that address wants the notes."""
    Reminder.objects.filter(pk=reminder.pk, email=reminder.email, confirmed_at=None).update(confirmed_at=timezone.now())


def stop(player: Membership) -> None:
    Reminder.objects.filter(player=player).delete()


def is_silent(reminder: Reminder) -> bool:
    return reminder.unanswered >= MOST_UNANSWERED


def send_due() -> int:
    """Send what is due now. Returns how many notes and letters went out; what couldn't go is tried again later.

    Without a mail server no letter is sent, and none counts as sent; devices are told only where the site's owner has
    switched that on.
    """
    now = timezone.now()
    return (_tell_devices(now) if settings.PUSH else 0) + (_send_letters(now) if settings.MAIL else 0)


def _every() -> QuerySet[Reminder]:
    return Reminder.objects.select_related("player__user", "player__studio", "chosen_by")


def _tell_devices(now: dt.datetime) -> int:
    """Each device that has had no note today; the others of the same student may have had theirs."""
    awake = _every().filter(way=Reminder.Way.DEVICE, unanswered__lt=MOST_UNANSWERED)
    due = [one for one in awake if _is_in_time(one, now) and _untold(one, now)]
    if not due:
        return 0
    from assignments.reminder_posts import Round  # noqa: PLC0415  # elliptic curves come where there is one to tell

    telling = Round(now)

    def tell(reminder: Reminder, _week: Week) -> int:
        on = _local(reminder, now).date()
        return telling.tell(_untold(reminder, now), on=on, good_for_s=_good_for_s(reminder, now))

    return sum(_send(one, now, tell) for one in due)


def _untold(reminder: Reminder, now: dt.datetime) -> list[ReminderDevice]:
    return reminder_devices.waiting(reminder, _local(reminder, now).date(), now)


def _send_letters(now: dt.datetime) -> int:
    """To an address that nobody confirmed goes one letter that asks, and none after it."""
    awake = _every().filter(unanswered__lt=MOST_UNANSWERED).exclude(confirmed_at=None)
    unasked = _every().filter(asked_at=None, confirmed_at=None).exclude(email="")
    due = [one for one in awake if _is_due(one, now) and not reminder_devices.go_there(one)]
    line = get_connection() if due or unasked else None

    def write(reminder: Reminder, week: Week) -> int:
        return reminder_letters.note(reminder, week, line).send()

    sent = 0
    try:
        for reminder in unasked:
            sent += _ask(reminder, now, line)
        for reminder in due:
            sent += _send(reminder, now, write)
    except OSError as trouble:  # and every error of a mail server: the others would wait for it as long
        log.warning("A reminder couldn't be sent: %s", type(trouble).__name__)
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
        reminder_letters.question(reminder, line).send()
    except OSError:
        unasked.filter(asked_at=now).update(asked_at=None)
        raise
    throttle.note(player, throttle.LETTER)
    throttle.note(there, throttle.SAME_LETTER)
    return True


def _local(reminder: Reminder, now: dt.datetime) -> dt.datetime:
    return now.astimezone(zoneinfo.ZoneInfo(reminder.time_zone))


def _is_due(reminder: Reminder, now: dt.datetime) -> bool:
    return _is_in_time(reminder, now) and reminder.last_sent_on != _local(reminder, now).date()


def _is_in_time(reminder: Reminder, now: dt.datetime) -> bool:
    local = _local(reminder, now)
    since = local.replace(tzinfo=None) - dt.datetime.combine(local.date(), reminder.at)
    return dt.timedelta(0) <= since < LATE_AT_MOST and DAY_BEGINS <= local.time() < DAY_ENDS


def _good_for_s(reminder: Reminder, now: dt.datetime) -> int:
    """Until the hour is over, or the night begins: a phone that was off shows nothing then."""
    local = _local(reminder, now).replace(tzinfo=None)
    hour_over = dt.datetime.combine(local.date(), reminder.at) + LATE_AT_MOST
    return int((min(hour_over, dt.datetime.combine(local.date(), DAY_ENDS)) - local).total_seconds())


def _send(reminder: Reminder, now: dt.datetime, carry: Callable[[Reminder, Week], int]) -> int:
    """Written down before ``carry`` sends it: a note that comes twice is worse than one that doesn't come.

    ``carry`` says how many went out; where none did, it is as if it hadn't been tried.
    """
    if not _is_still_wanted(reminder):
        stop(reminder.player)
        return 0
    week = _week_to_play(reminder.player)
    if week is None:
        return 0
    today = _local(reminder, now).date()
    if reminder.last_sent_on == today:
        return carry(reminder, week)  # to a device that couldn't be told when the others were
    before = {name: getattr(reminder, name) for name in ("last_sent_on", "last_sent_at", "unanswered")}
    sent_at = reminder.last_sent_at
    unanswered = reminder.unanswered + 1 if sent_at and not _played_since(reminder.player, sent_at) else 0
    after = {"last_sent_on": today, "last_sent_at": now, "unanswered": unanswered}
    if not Reminder.objects.filter(pk=reminder.pk, **before).update(**after):
        return 0  # another machine was first, or the family has just chosen anew
    if unanswered >= MOST_UNANSWERED:
        return 0
    try:
        went = carry(reminder, week)
    except OSError:
        _take_back(reminder, before, after)
        raise
    if not went:
        _take_back(reminder, before, after)
    return went


def _take_back(reminder: Reminder, before: dict[str, Any], after: dict[str, Any]) -> None:
    Reminder.objects.filter(pk=reminder.pk, **after).update(**before)


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


def _played_since(player: Membership, sent_at: dt.datetime) -> bool:
    """By the instant: the student's day and the studio's may be two."""
    if Take.objects.filter(horn__player=player, received_at__gte=sent_at, in_lesson=False).exists():
        return True
    return PaperDay.objects.filter(horn__player=player, on__gte=player.studio.day_of(sent_at)).exists()
