"""Deleting a student: rows, recordings, drafts, sign-ins. What is still queued finds nothing and ends.

A list of erased ids is kept beside the database, not in it: after a backup was restored, ``again`` deletes anew what
had been deleted since.
"""

from __future__ import annotations

import datetime as dt
import os
import re
from pathlib import Path

from axes.models import AccessAttempt
from django.conf import settings
from django.contrib.admin.models import LogEntry
from django.db import connection, transaction
from django.utils import timezone

from analysis import discarding
from analysis.models import Analysis
from assignments import belongings, uploads
from studio import access_log, consent
from studio.models import Horn, LogRow, Membership, User

AT_ONCE = 500
ID = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")


def erase(student: Membership, *, by: User | None) -> None:
    """Delete everything of ``student`` in this studio; the account too, unless it has a place elsewhere.

    A guardian who has no other child here, and no other place, is deleted with the student. What is left is one line
    of the log: that this id was deleted, when, and by which id.
    """
    key, user, who_id = student.pk, student.user, by.pk if by else None  # by may be deleted with the student
    _put_on_list(student)
    with transaction.atomic():
        consent.held(student)
        list(Horn.objects.select_for_update().filter(player=student))  # what is being settled comes to its end
        homes = list(student.guardians.select_related("user"))
        _delete_support_log(student)
        _delete_work(student)
        LogRow.objects.filter(about_id=key).delete()
        student.delete()
        for home in homes:
            if not home.wards.exists():
                home.delete()
        for person in (user, *(home.user for home in homes)):
            forget_if_nowhere(person)
        LogRow.objects.create(
            studio_id=student.studio_id,
            who_id=who_id,
            about_id=key,
            what=access_log.What.ERASED,
            address=access_log.came_from.get(),
        )
    uploads.forget(user)
    _let_go_of_old_pages()


def _delete_work(student: Membership) -> None:
    """Weeks, takes, what was measured and said: with the horns; recordings as soon as the transaction is through."""
    recorded = list(belongings.recordings(student).values_list("pk", "audio"))
    discarding.note(name for _key, name in recorded if name)
    Horn.objects.filter(player=student).delete()
    for first in range(0, len(recorded), AT_ONCE):
        Analysis.objects.filter(pk__in=[key for key, _name in recorded[first : first + AT_ONCE]]).delete()


def _delete_support_log(student: Membership) -> None:
    """The support pages write down what was changed there with the names of the rows."""
    written = set(LogEntry.objects.values_list("object_id", flat=True))
    if written:
        keys = {str(student.user_id)}
        for name, rows in belongings.of(student).items():
            if name not in belongings.SHARED:
                keys |= {str(key) for key in rows.values_list("pk", flat=True)}
        LogEntry.objects.filter(object_id__in=keys & written).delete()


def forget_if_nowhere(user: User) -> None:
    """Delete an account that has no place any more, with its sign-ins and what was tried under its name."""
    if user.memberships.exists() or user.is_staff:
        return
    AccessAttempt.objects.filter(username=user.username).delete()
    LogRow.objects.filter(who_id=user.pk).delete()
    User.objects.filter(pk=user.pk).delete()


def _let_go_of_old_pages() -> None:
    """SQLite overwrites what it deletes (a setting); what its journal still holds goes now."""
    if connection.vendor == "sqlite" and not connection.in_atomic_block:
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def again(listed: Path) -> int:
    """Delete anew whoever stands on the list and is here all the same. Returns how many there were."""
    ids = ID.findall(listed.read_text("utf-8")) if listed.exists() else []  # a line that broke off spoils no other
    back = list(Membership.objects.filter(pk__in=ids).select_related("user", "studio"))
    for student in back:
        erase(student, by=None)
    return len(back)


def list_file() -> Path:
    return Path(settings.VAR) / "erased.txt"


def _put_on_list(student: Membership) -> None:
    """Before the rows go: who dies in between has the student on the list, and ``again`` finishes it."""
    descriptor = os.open(list_file(), os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
    with os.fdopen(descriptor, "w", encoding="utf-8") as file:
        file.write(f"{timezone.now().astimezone(dt.UTC):%Y-%m-%dT%H:%M:%SZ} {student.pk}\n")
        file.flush()
        os.fsync(file.fileno())
