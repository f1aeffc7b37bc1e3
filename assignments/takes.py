"""Receiving a recording: stored once, however often it is sent, and never lost once answered."""

from __future__ import annotations

import datetime as dt
import logging
import math
import uuid
from collections.abc import Callable, Sequence
from typing import Any

from django.core.files.base import File
from django.db.models import Count, Sum
from django.http import Http404
from django.utils import timezone
from django.utils.translation import gettext as _

from analysis.core.records import Request
from assignments import recordings, standings, weeks
from assignments.exercises import Slot
from assignments.models import Exercise, Take
from assignments.refusals import Refusal
from studio import consent
from studio.access import memberships
from studio.models import Horn, Membership, User

log = logging.getLogger(__name__)

LATE = dt.timedelta(days=7)  # so long a recording may have waited on the phone
MOST_A_DAY = 200  # three long days that waited on a phone; what is more goes up the day after
MOST_BYTES_A_DAY = 2_000_000_000


class FullDay(Refusal):
    """No more fits into the studio's day; ``again_in_s`` says when the next one begins."""

    def __init__(self, again_in_s: int) -> None:
        words = _("No more recordings fit into today. Nothing is lost: it stays with you and can go up tomorrow.")
        super().__init__("full_day", words, 429, again_in_s=again_in_s)


def submit(
    *,
    horn: Horn,
    exercise: Exercise,
    on: dt.date,
    slots: Sequence[Slot],
    client_key: uuid.UUID,
    audio: File,
    recorder: dict[str, Any],
) -> tuple[Take, bool]:
    """Keep one recording and have it measured. Returns the take, and whether it is new.

    Raises Refusal, with nothing stored, when there is no permission, the exercise is shut or over, the file is empty
    or too large, other bytes came under the same key, the day is full, or there is no room.
    """
    try:
        may_record(horn, exercise, on)
        has_room_today(horn.player, audio.size)
    except Refusal:  # asked first: the same take may come in a second time meanwhile
        if not Take.objects.filter(horn=horn, client_key=client_key).exists():
            raise
    return keep(
        horn=horn,
        exercise=exercise,
        on=on,
        slots=slots,
        client_key=client_key,
        audio=audio,
        recorder=recorder,
        received_at=timezone.now(),
    )


def keep(
    *,
    horn: Horn,
    exercise: Exercise,
    on: dt.date,
    slots: Sequence[Slot],
    client_key: uuid.UUID,
    audio: File,
    recorder: dict[str, Any],
    received_at: dt.datetime,
    in_lesson: bool = False,
    along: Callable[[Take], object] | None = None,
) -> tuple[Take, bool]:
    """What ``submit`` does once nothing stands against it.

    ``in_lesson``: one tone, a minute at most. ``along``: writes what comes with a new take, in its transaction.
    """

    def write(stored: recordings.Stored) -> Take:
        if not consent.stands(consent.held(horn.player)):  # held first, as by whoever deletes the student
            raise _no_consent()
        if not in_lesson:
            User.objects.select_for_update(no_key=True).get(pk=horn.player.user_id)  # their takes come in one by one …
            has_room_today(horn.player, stored.size_bytes)  # … or many at once would each find the last room
        request = Request(instrument=horn.kind, a4_hz=exercise.a4_hz, asked=tuple(slot.asked() for slot in slots))
        take = Take.objects.create(
            horn=horn,
            exercise=exercise,
            analysis=recordings.queue(stored, request),
            on=on,
            client_key=client_key,
            recorder=recorder,
            asked=[slot.as_json() for slot in slots],
            received_at=received_at,
            in_lesson=in_lesson,
        )
        if along is not None:
            along(take)
        return take

    def is_same(row: Take, sha256: str) -> bool:
        return row.analysis.sha256_as_sent == sha256

    under_key = Take.objects.filter(horn=horn, client_key=client_key).select_related("analysis")
    take, is_new = recordings.once(audio, under_key, write, is_same, is_short=in_lesson)
    if is_new:
        known = {"take": str(take.pk), "analysis": str(take.analysis_id), "bytes": audio.size}
        log.info("received", extra=known)
    return take, is_new


def may_record(horn: Horn, exercise: Exercise, on: dt.date) -> None:
    """Raise the Refusal that stands against a recording of this exercise on this day, if one does."""
    has_permission(horn)
    if exercise.stage and not standings.is_open(horn, exercise.stage, on):
        raise Refusal("exercise_shut", _("These high notes are still shut. Today’s low notes bring them closer."), 403)
    if exercise.part and exercise.part.is_over(on):
        raise Refusal("part_over", _("That tone of your section is over. Open Today for what is set now."), 409)
    today = horn.studio.today()
    if on > today:
        raise Refusal("not_yet_the_day", _("That day hasn’t come yet. Open Today and play today’s tones."), 409)
    if on < today - LATE or not weeks.was_set(exercise.week, on):
        raise Refusal("week_over", _("That week is over. Open Today for what is set now."), 409)


def has_permission(horn: Horn) -> None:
    """Raise Refusal where nobody has agreed to recording this student."""
    if not consent.stands(horn.player):
        raise _no_consent()


def has_room_today(player: Membership, more_bytes: int, more_takes: int = 0) -> None:
    """Raise FullDay where one person has sent so much since midnight that ``more_bytes`` are too many, or another take.

    ``more_takes``: those of which a part has come. By when it came, not by when it was played: what waited on the phone
    goes up by and by. A teacher's takes of the lesson are not the student's.
    """
    studio, today = player.studio, player.studio.today()
    midnight, next_midnight = (studio.begins(day) for day in (today, today + dt.timedelta(days=1)))
    lately = Take.objects.filter(horn__player__user=player.user_id, on__gte=today - LATE, in_lesson=False)
    sent = lately.filter(received_at__gte=midnight).aggregate(takes=Count("pk"), size=Sum("analysis__audio_bytes"))
    if sent["takes"] + more_takes >= MOST_A_DAY or (sent["size"] or 0) + more_bytes > MOST_BYTES_A_DAY:
        raise FullDay(math.ceil((next_midnight - timezone.now()).total_seconds()))


def may_send(user: User) -> Membership:
    """Parts of a recording come before anybody knows which exercise they belong to: from players with permission alone.

    Returns the first of them. Raises Http404 for whoever plays in no studio, Refusal for a player without permission.
    """
    players = list(memberships(user, (Membership.Role.STUDENT,)))
    if not players:
        raise Http404
    allowed = next((player for player in players if consent.stands(player)), None)
    if allowed is None:
        raise _no_consent()
    return allowed


def _no_consent() -> Refusal:
    return Refusal("no_consent", _("Ask at home first. Recording starts when a grown-up has agreed."), 403)
