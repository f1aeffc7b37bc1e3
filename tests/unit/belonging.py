"""One student with something in every table, and words and names that can be searched for."""

from __future__ import annotations

import datetime as dt
import json
from typing import Any

from django.apps import apps
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import connection, transaction
from django.utils import timezone

from analysis.models import Analysis
from assignments import comments, ensembles, hearings, milestones, plans, reminder_devices, reminders
from assignments.models import (
    Agenda,
    Chord,
    Comment,
    Decision,
    EarAnswer,
    EquipmentChange,
    GateRule,
    JudgedAgain,
    LessonDay,
    Opening,
    PaperDay,
    PrivateNote,
    TargetChange,
)
from studio import access_log, consent, invitations
from studio.invitations import Whom
from studio.models import Device, Horn, Membership, Pin, Session, User
from tests import builders, people, played

SOUND = b"\x1a\x45\xdf\xa3" + bytes(range(256)) * 40
NAME, WORD, HOME = "Zephyrine Quillfeather", "marmalade-lighthouse", "Ottoline Quillfeather"


def student(studio, teacher, name: str = NAME, home: str = HOME) -> Horn:
    """A student with a horn, a guardian, weeks, days, takes measured and waiting, words, decisions and openings."""
    horn = people.horn(studio, name, agreed=False)
    player = horn.player
    guardian = people.person(home, studio, Membership.Role.GUARDIAN)
    guardian.wards.add(player)
    consent.give(student=player, given_by=home, how="screen", logged_by=guardian.user)
    notes_on_a_device(player, guardian.user)
    today = studio.today()
    tried = played.day(played.long_week(horn, teacher), today - dt.timedelta(days=1), [(60, "mf"), (62, "p")])
    trio(horn, teacher)
    week = builders.week(horn, teacher, words=f"{WORD} this week")
    plans.keep_sound_check(plans.plan_for(horn, today), {"softest_db": -50.0, "loudest_db": -9.5})
    builders.take(week, SOUND)
    comments.note(horn, by=teacher, text=f"{WORD} here", about=tried[0], at_s=2.25)
    comments.note(horn, by=player.user, text=f"{WORD} back")
    comments.note(horn, by=guardian.user, text=f"{WORD} from home")
    with transaction.atomic():  # a worker that measures meanwhile would write the opening too
        yes = Decision.objects.create(horn=horn, kind="open", stage=1, on=today, words=f"{WORD} open", by=teacher)
        Opening.objects.create(horn=horn, opened_on=today, decision=yes, rule={"days": 10}, window={"on_target": 8})
    hearings.note(tried[0].take, teacher, 0)
    milestones.keep(tried[0].take, by=teacher)
    hearings.note_try(tried[1], guardian.user)
    EarAnswer.objects.create(by=teacher, about_try=tried[0], accepted=True)
    GateRule.objects.create(
        studio=studio, horn=horn, chosen={"opens_at": 7}, from_on=today, words=f"{WORD}", by=teacher
    )
    GateRule.objects.create(studio=studio, chosen={"window_days": 9}, from_on=today, by=teacher)
    TargetChange.objects.create(horn=horn, measure="scoop_cents", value=30.0, from_on=today, by=teacher)
    LessonDay.objects.create(player=player, on=today, at=dt.time(16, 30), by=teacher)
    EquipmentChange.objects.create(horn=horn, what="reed", words=f"{WORD} reed", on=today, by=teacher)
    PrivateNote.objects.create(horn=horn, about_try=tried[0], at_s=1.5, text=f"{WORD} between us", by=teacher)
    Agenda.objects.create(horn=horn, on=today, points=[f"{WORD}: hear low B first"], by=teacher)
    PaperDay.objects.create(horn=horn, on=today - dt.timedelta(days=2), by=teacher)
    JudgedAgain.objects.create(about_try=tried[0], engine="2.0", outcome="miss", reasons=["too_noisy"])
    for one in (player, guardian):
        access_log.of_account(access_log.What.SIGNED_IN, one.user, by=one.user)
    invitations.invite(Whom(role=Membership.Role.GUARDIAN, ward=player), studio=studio, by=teacher)
    Pin.objects.create(player=player, digits_hash="hashed")
    device = Device.objects.create(studio=studio, name="kitchen", secret_hash=str(player.pk), enrolled_by=guardian.user)
    device.players.add(player)
    voice = Analysis.objects.create(
        audio=default_storage.save("vo/ice", ContentFile(SOUND)), audio_bytes=len(SOUND), sha256="0" * 64, request={},
        spoken=True, state=Analysis.State.MEASURED, longest_s=60.0,
    )  # fmt: skip
    Comment.objects.create(horn=horn, by=teacher, text="", about_try=tried[0], take=tried[0].take, voice=voice)
    assert Comment.objects.filter(horn=horn).count() == 4
    return horn


def notes_on_a_device(player: Membership, guardian: User) -> None:
    """Chosen at home, and shown in a browser in which the guardian is signed in."""
    chosen = reminders.choose(
        player, by=guardian, at=dt.time(17), time_zone="Europe/Lisbon", email=f"{WORD}@example.org", language="en",
        way="device",
    )  # fmt: skip
    later = timezone.now() + dt.timedelta(days=30)
    here = Session.objects.create(session_key=f"of-{guardian.pk.hex[:30]}", user=guardian, expire_date=later)
    reminder_devices.add(
        chosen, session_key=here.pk, endpoint=f"https://{WORD}.example.org/{player.pk}", public_key="key", auth="auth",
        site_key="site", language="en",
    )  # fmt: skip


def trio(horn: Horn, teacher: User) -> Chord:
    """A unison for the student and two others, of whom nobody else's rows may tell."""
    studio = horn.studio
    here = Membership.objects.count()  # nothing of the student's is in their names
    others = [people.horn(studio, f"{other}-{here} Vale", "tenor") for other in ("ash", "elm")]
    made = ensembles.keep(studio=studio, by=teacher, name="Quay Trio", horns=[horn, *others])
    notes = [(one, 58) for one in (horn, *others)]
    day = studio.today() + dt.timedelta(days=3)
    return ensembles.set_chord(
        ensemble=made, by=teacher, quality="unison", root_sounding_midi=58, notes=notes, tone="mf", for_on=day
    )


def tables() -> dict[str, list[tuple[Any, ...]]]:
    """Every table of the database as it is, with every column: nothing goes through the models."""
    with connection.cursor() as cursor:
        found = {}
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")  # names from the database itself
            found[table] = cursor.fetchall()
        return found


def found_in(words: list[str]) -> dict[str, list[str]]:
    """In which tables each word stands, identifiers with and without their dashes; where none does, it is left out."""
    hits: dict[str, list[str]] = {}
    for table, rows in tables().items():
        text = " ".join(_text(value) for row in rows for value in row)
        for word in words:
            if word in text or word.replace("-", "") in text:
                hits.setdefault(word, []).append(table)
    return hits


def _text(value: Any) -> str:
    if isinstance(value, bytes | memoryview):
        return bytes(value).decode("latin-1")
    return json.dumps(value, ensure_ascii=False) if isinstance(value, dict | list) else str(value)


def points_to_a_student() -> set[str]:
    """Every model of ours from which foreign keys lead to a membership, however far."""
    ours = [model for name in ("studio", "assignments", "analysis") for model in apps.get_app_config(name).get_models()]
    known = {Membership}
    while True:
        more = {
            model
            for model in ours
            for field in model._meta.get_fields()
            if field.is_relation and field.concrete and field.related_model in known
        }
        if more <= known:
            return {model.__name__ for model in known}
        known |= more
