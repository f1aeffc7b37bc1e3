"""How long things are kept: recordings as long as the studio says, drafts and files without a row hardly at all."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import suppress
from itertools import islice
from uuid import UUID

from axes.models import AccessAttempt
from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from analysis import discarding
from analysis.models import Analysis
from analysis.tags import bare
from assignments import recordings, reminder_devices, uploads
from assignments.refusals import Refusal
from studio import throttle
from studio.models import CodeTry, Consent, Invitation, Session, Studio
from studio.sessions import SessionStore

ORPHAN_AFTER = dt.timedelta(days=1)  # a file this old whose row never came
CODE_FORGOTTEN_AFTER = dt.timedelta(days=1)
READ_AT_ONCE = 100  # recordings, whole, an hour's round
AT_ONCE = 1000  # recordings of one studio an hour's round


def tidy() -> dict[str, int]:
    """Delete what has had its time. The numbers that were measured stay."""
    return {
        "recordings": sum(_delete_old_recordings(studio) for studio in Studio.objects.all()),
        "drafts": uploads.forget_abandoned(),
        "ownerless": _delete_ownerless(),
        "orphans": _delete_orphans(),
        "codes": _delete_old_codes(),
        "sign_ins": _delete_old_sign_ins(),
        "devices": reminder_devices.forget_signed_out(),
        "tries": _delete_old_tries(),
        "looked_for_tags": _take_out_tags(),
    }


def _take_out_tags() -> int:
    """Recordings that an earlier release kept as they came, a hundred at a time: from now on without what their files
    say besides the sound. Returns how many were looked at, each once."""
    in_hand = (Analysis.State.QUEUED, Analysis.State.RUNNING)
    as_they_came = Analysis.objects.filter(sent_sha256="").exclude(audio="").exclude(state__in=in_hand)
    looked_at = 0
    for row in as_they_came.order_by("created_at")[:READ_AT_ONCE]:
        try:
            bared = _bared(row)
        except Refusal:
            break  # no room for another copy; that is in the log
        with transaction.atomic():
            is_here = as_they_came.filter(pk=row.pk, audio=row.audio.name).update(**bared, sent_sha256=row.sha256)
            gone = str(row.audio.name) if is_here else bared["audio"]  # it was deleted meanwhile, or is measured anew
            discarding.note([gone] if bared["audio"] != row.audio.name else [])
        looked_at += 1
    return looked_at


def _bared(row: Analysis) -> dict[str, str]:
    """Where the recording lies without its tags, and its hash; as it is where it has none, or there is no file."""
    name = str(row.audio.name)
    with suppress(FileNotFoundError), default_storage.open(name) as kept:
        sound = bare(kept)
        if sound is not kept:
            sha256 = recordings.sha256_of(sound)
            return {"audio": recordings.store(sound), "sha256": sha256}
    return {"audio": name, "sha256": row.sha256}


def _delete_old_tries() -> int:
    """Names that were typed with a wrong passphrase, and codes that opened nothing, once they count no more. Somebody
    may have typed the passphrase where the name belongs."""
    now = timezone.now()
    names = AccessAttempt.objects.filter(attempt_time__lt=now - settings.AXES_COOLOFF_TIME).delete()[0]
    return names + CodeTry.objects.filter(at__lt=now - throttle.WITHIN).delete()[0]


def _delete_old_codes() -> int:
    """Codes that open nothing any more; that they were made and used stands in the log."""
    return Invitation.objects.filter(expires_at__lt=timezone.now() - CODE_FORGOTTEN_AFTER).delete()[0]


def _delete_old_sign_ins() -> int:
    before = Session.objects.count()
    SessionStore.clear_expired()
    return before - Session.objects.count()


def _delete_old_recordings(studio: Studio) -> int:
    """As old as the house says, or the family agreed to; milestones when their own day is over."""
    today = studio.today()
    too_old = _recorded_before(studio, studio.keep_takes_days, player__studio=studio)
    for student, days in _agreed_to_less(studio):
        too_old |= _recorded_before(studio, days, player=student)
    old = Analysis.objects.filter(too_old).exclude(audio="")
    for milestone in ("take__milestone", "comment__take__milestone"):
        old = old.exclude(**{f"{milestone}__until_on__gte": today})
    return discarding.discard(Analysis.objects.filter(pk__in=list(old.values_list("pk", flat=True)[:AT_ONCE])))


def _recorded_before(studio: Studio, days: int, **whose: object) -> Q:
    """Over so many days ago: takes by their day, words by the day they were said on. ``whose``: of which horns."""
    first_kept = studio.today() - dt.timedelta(days=days)
    takes = {f"take__horn__{name}": value for name, value in whose.items()}
    words = {f"comment__horn__{name}": value for name, value in whose.items()}
    return Q(take__on__lt=first_kept, **takes) | Q(comment__made_at__lt=studio.begins(first_kept), **words)


def _agreed_to_less(studio: Studio) -> list[tuple[UUID, int]]:
    """Students whose families agreed to fewer days than the house keeps by now, and how many."""
    standing = Consent.objects.filter(student__studio=studio, withdrawn_at=None).order_by("given_at")
    agreed = dict(standing.values_list("student", "keep_takes_days"))  # the latest of each
    return [(student, days) for student, days in agreed.items() if days < studio.keep_takes_days]


def _delete_ownerless() -> int:
    """Recordings whose take, word or demonstration was deleted with somebody else's row."""
    owners = Q(take__isnull=False) | Q(comment__isnull=False) | Q(demonstration__isnull=False)
    left = Analysis.objects.exclude(owners).filter(created_at__lt=timezone.now() - ORPHAN_AFTER)[:AT_ONCE]
    gone = list(left)
    recordings.forget(gone)
    return len(gone)


def _delete_orphans() -> int:
    """A folder of the store at a time, and one question to the database for a thousand names."""
    gone = 0
    before = _now_at_the_store() - ORPHAN_AFTER
    names = _stored()
    while some := list(islice(names, AT_ONCE)):
        known = set(Analysis.objects.filter(audio__in=some).values_list("audio", flat=True))
        for name in some:
            with suppress(FileNotFoundError):  # somebody else deletes it just now
                if name not in known and default_storage.get_modified_time(name) < before:
                    default_storage.delete(name)
                    gone += 1
    return gone


def _now_at_the_store() -> dt.datetime:
    """By the clock that gave the files their times: with one that runs a day ahead, a file whose row is being written
    would be an orphan."""
    written_now = default_storage.save("clock", ContentFile(b""))
    try:
        return default_storage.get_modified_time(written_now)
    finally:
        default_storage.delete(written_now)


def _stored() -> Iterator[str]:
    """Every stored recording; they lie in folders of two characters."""
    folders, _files = default_storage.listdir("")
    for folder in folders:
        for file in default_storage.listdir(folder)[1]:
            yield f"{folder}/{file}"
