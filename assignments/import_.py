"""Reading a student's copy into an installation: the same rows, the same sound, nothing lost.

People come in by their names alone: whoever is new here can't sign in until a studio gives them a code. A copy may
have been in anybody's hands: nothing in it touches another student, or makes anybody one of the staff.
"""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import IO, Any
from zipfile import BadZipFile, ZipFile

from django.core.exceptions import SuspiciousOperation, ValidationError
from django.core.files.base import File
from django.core.files.storage import default_storage
from django.core.files.utils import validate_file_name
from django.db import DataError, IntegrityError, transaction
from django.db.models import Model
from django.utils.translation import gettext as _

from analysis.models import Analysis, Result
from assignments import belongings, export, import_bounds, recordings
from assignments.models import (
    Agenda,
    Chord,
    Comment,
    DayPlan,
    Decision,
    EarAnswer,
    Ensemble,
    EquipmentChange,
    Exercise,
    GateRule,
    Hearing,
    JudgedAgain,
    LessonDay,
    Milestone,
    Opening,
    PaperDay,
    Part,
    PlayedDay,
    PrivateNote,
    Routine,
    Seat,
    Take,
    TargetChange,
    Try,
    Week,
)
from assignments.refusals import Refusal
from studio import access_log
from studio.models import Consent, Horn, LogRow, Membership, Studio, User

AT_ONCE = 500
# rows that may be here already: then they stay as they are; a guardian's, through another child
MAY_BE_HERE = (*belongings.SHARED, "guardians")
MODELS: dict[str, type[Model]] = {  # by table, in the order in which they are written
    "studios": Studio,
    "people": User,
    "memberships": Membership,
    "guardians": Membership,
    "consents": Consent,
    "lesson_days": LessonDay,
    "horns": Horn,
    "equipment_changes": EquipmentChange,
    "ensembles": Ensemble,
    "seats": Seat,
    "chords": Chord,
    "parts": Part,
    "studio_rules": GateRule,
    "gate_rules": GateRule,
    "target_changes": TargetChange,
    "routines": Routine,
    "weeks": Week,
    "exercises": Exercise,
    "day_plans": DayPlan,
    "analyses": Analysis,
    "results": Result,
    "takes": Take,
    "milestones": Milestone,
    "tries": Try,
    "judged_again": JudgedAgain,
    "ear_answers": EarAnswer,
    "played_days": PlayedDay,
    "paper_days": PaperDay,
    "comments": Comment,
    "private_notes": PrivateNote,
    "agendas": Agenda,
    "decisions": Decision,
    "openings": Opening,
    "hearings": Hearing,
    "log": LogRow,
}


# what a copy of another form, or a damaged one, raises somewhere on the way
UNREADABLE = (
    *(BadZipFile, zlib.error, EOFError, RuntimeError),  # RuntimeError: locked, nested too deep, packed in another way
    *(LookupError, TypeError, ValueError, AttributeError, OverflowError),
    *(ValidationError, SuspiciousOperation, IntegrityError, DataError),
)


class ImportRefusedError(Exception):
    """The file can't be brought in; the text says why, and nothing was written."""


def read(file: IO[bytes], *, username: str = "") -> Membership:
    """Bring one student in. ``username``: to sign in with, where the one in the copy is taken here.

    A copy from an earlier version lacks what came since: tables stay empty, columns are as in rows of that time.
    Raises ImportRefusedError for a file of another form, a newer one, a damaged one, and a student who is here already.
    """
    try:
        with ZipFile(file) as copy:
            whole = import_bounds.rows(copy)
            _check(whole, username)
            import_bounds.look_at_sizes(file, copy, whole["recordings"])
            import_bounds.look_where_they_point(whole["tables"], MODELS)
            with _stored_recordings(copy, whole) as names, transaction.atomic():
                return _write(whole, names, username)
    except UNREADABLE as trouble:
        raise ImportRefusedError(_("This is no copy of a student, or it is damaged.")) from trouble
    except Refusal as full:
        raise ImportRefusedError(full.text) from full


def _check(whole: dict[str, Any], username: str) -> None:
    if (whole["format"], whole["version"]) != (export.FORMAT, export.VERSION):
        raise ImportRefusedError(_("This copy has a form that this version doesn’t read."))
    if any(_is_newer(table, rows) for table, rows in whole["tables"].items()):
        raise ImportRefusedError(_("This copy comes from a newer version. Bring this one up to date first."))
    if Membership.objects.filter(pk=whole["student"]).exists():
        raise ImportRefusedError(_("This student is here already."))
    wanted = username or _student(whole)["username"]
    if User.objects.filter(username=wanted).exclude(pk=_student(whole)["id"]).exists():
        raise ImportRefusedError(
            _("Somebody signs in as “%(name)s” here. Give another name with --username.") % {"name": wanted}
        )


def _is_newer(table: str, rows: list[dict[str, Any]]) -> bool:
    """Whether something stands there that would be lost here."""
    return table not in MODELS or not _columns(rows) <= {field.attname for field in export.fields(MODELS[table])}


def _columns(rows: list[dict[str, Any]]) -> set[str]:
    return {name for row in rows for name in row}


def _student(whole: dict[str, Any]) -> dict[str, Any]:
    (member,) = (row for row in whole["tables"]["memberships"] if row["id"] == whole["student"])
    found: dict[str, Any]
    (found,) = (row for row in whole["tables"]["people"] if row["id"] == member["user_id"])
    return found


@contextmanager
def _stored_recordings(copy: ZipFile, whole: dict[str, Any]) -> Iterator[dict[str, str]]:
    """Store the sound first; when the rows then can't be written, it goes again. Gives names by the recording's id."""
    names: dict[str, str] = {}
    try:
        for row in whole["tables"]["analyses"]:
            inside = whole["recordings"].get(row["id"])
            validate_file_name(row["audio"] or row["id"], allow_relative_path=True)
            if inside is not None:
                with copy.open(inside) as sound:  # under a name of this place: one of the copy could be in the way
                    names[row["id"]] = recordings.store(File(sound))
                _check_sound(names[row["id"]], row)
        yield names
    except BaseException:
        for name in names.values():
            default_storage.delete(name)
        raise


def _check_sound(name: str, row: dict[str, Any]) -> None:
    digest = hashlib.sha256()
    with default_storage.open(name) as stored:
        while chunk := stored.read(export.CHUNK_BYTES):
            digest.update(chunk)
        size_bytes = stored.tell()
    if (digest.hexdigest(), size_bytes) != (row["sha256"], row["audio_bytes"]):
        raise ImportRefusedError(_("A recording in this copy is damaged. Nothing was brought in."))


def _write(whole: dict[str, Any], names: dict[str, str], username: str) -> Membership:
    written: dict[str, set[Any]] = {}
    accounts = set(User.objects.values_list("pk", flat=True))  # that are here already
    for table, model in MODELS.items():
        rows: list[Any] = [_row(model, values) for values in whole["tables"].get(table, ())]
        if table in MAY_BE_HERE:
            known = set(model._default_manager.filter(pk__in=[row.pk for row in rows]).values_list("pk", flat=True))
            rows = [row for row in rows if row.pk not in known]
        if table == "studio_rules" and not written["studios"]:
            rows = []  # what holds for everybody in a studio that is here is agreed here
        if table == "guardians":  # an account that is here gets a place by a code, never by a copy
            rows = [row for row in rows if row.user_id not in accounts]
        if model is User:
            _take_in(rows, whole, username)
        if model is Routine:
            _offer_nowhere_else(rows, whole)
        if model is Analysis:
            _place(rows, names)
        written[table] = {row.pk for row in model._default_manager.bulk_create(rows, AT_ONCE)}
    student = Membership.objects.get(pk=whole["student"])
    for home in Membership.objects.filter(pk__in=[row["id"] for row in whole["tables"]["guardians"]]):
        home.wards.add(student)
    import_bounds.look_whose_they_are(student, whole["tables"], written)
    access_log.write(access_log.What.IMPORTED, studio=student.studio, who=None, about=student)
    return student


def _row(model: type[Model], values: dict[str, Any]) -> Model:
    """The row that ``export.plain`` made ``values`` of. Columns that came since stand as they do for older rows."""
    known = [field for field in export.fields(model) if field.attname in values]
    return model(**{field.attname: field.to_python(values[field.attname]) for field in known})


def _take_in(rows: Iterable[Any], whole: dict[str, Any], username: str) -> None:
    """Nobody brings a passphrase along. Who only stands in the rows can't come in at all."""
    student = _student(whole)["id"]
    taken = set(User.objects.values_list("username", flat=True))
    for user in rows:
        user.set_unusable_password()
        user.is_active = str(user.pk) == student
        if user.is_active:
            user.username = username or user.username
        elif user.username in taken:
            user.username = str(user.pk)


def _offer_nowhere_else(rows: Iterable[Any], whole: dict[str, Any]) -> None:
    """A routine of no studio is offered in all of them; one that comes along is the student's studio's."""
    (studio,) = whole["tables"]["studios"]
    for routine in rows:
        routine.studio_id = studio["id"]


def _place(rows: Iterable[Any], names: dict[str, str]) -> None:
    """Where each recording lies here; what was being measured is measured anew."""
    for analysis in rows:
        analysis.audio = names.get(str(analysis.pk), "")
        if analysis.state == Analysis.State.RUNNING:
            analysis.state = Analysis.State.QUEUED
