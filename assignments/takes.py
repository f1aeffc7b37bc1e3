"""Receiving a recording: stored once, however often it is sent, and never lost once answered."""

from __future__ import annotations

import datetime as dt
import logging
import uuid
from collections.abc import Sequence
from typing import Any

from django.core.files.base import File
from django.core.files.storage import default_storage
from django.db import IntegrityError, transaction
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
    or too large, other bytes came under the same key, or there is no room.
    """
    if not Take.objects.filter(horn=horn, client_key=client_key).exists():
        may_record(horn, exercise, on)
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
) -> tuple[Take, bool]:
    """What ``submit`` does once nothing stands against it."""
    sha256 = recordings.sha256_of(audio)
    known = Take.objects.filter(horn=horn, client_key=client_key).select_related("analysis").first()
    if known is not None:
        return _again(known, sha256), False
    name = recordings.store(audio)
    request = Request(instrument=horn.kind, a4_hz=exercise.a4_hz, asked=tuple(slot.asked() for slot in slots))
    try:
        with transaction.atomic():
            if not consent.stands(consent.held(horn.player)):
                raise _no_consent()
            analysis = recordings.queue(name, audio, sha256, request)
            take = Take.objects.create(
                horn=horn,
                exercise=exercise,
                analysis=analysis,
                on=on,
                client_key=client_key,
                recorder=recorder,
                asked=[slot.as_json() for slot in slots],
                received_at=received_at,
                in_lesson=in_lesson,
            )
    except IntegrityError:  # the same key won the race in another process
        default_storage.delete(name)
        return _again(Take.objects.select_related("analysis").get(horn=horn, client_key=client_key), sha256), False
    except Refusal:  # permission was taken back while the recording came in
        default_storage.delete(name)
        raise
    log.info("received", extra={"take": str(take.pk), "analysis": str(analysis.pk), "bytes": audio.size})
    # Any other trouble leaves the file: a commit that failed to answer may have been made all the same,
    # and the sweeper clears away files that no row knows.
    return take, True


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


def may_send(user: User) -> None:
    """Parts of a recording come before anybody knows which exercise they belong to: from players with permission alone.

    Raises Http404 for whoever plays in no studio, Refusal for a player without permission.
    """
    players = list(memberships(user, (Membership.Role.STUDENT,)))
    if not players:
        raise Http404
    if not any(consent.stands(player) for player in players):
        raise _no_consent()


def _no_consent() -> Refusal:
    return Refusal("no_consent", _("Ask at home first. Recording starts when a grown-up has agreed."), 403)


def _again(take: Take, sha256: str) -> Take:
    if take.analysis.sha256 != sha256:
        raise Refusal("key_taken", _("Another recording was sent under this key. Record it again, please."), 409)
    return take
