"""The demo studio's people and weeks, as data/demo.toml tells them."""

from __future__ import annotations

import datetime as dt
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any
from uuid import UUID

from django.conf import settings
from django.contrib.auth.hashers import make_password
from django.db import transaction

from assignments import ensembles, routines, voicing, weeks
from assignments.exercises import frozen
from assignments.models import Decision, Routine
from studio import consent
from studio.models import Horn, Membership, Studio, User

STORY = Path(__file__).parents[1] / "data" / "demo.toml"
PASSWORD = "lantern-quay"  # printed at every start: the demo is for looking around on one's own machine


@dataclass(frozen=True, slots=True, kw_only=True)
class Player:
    """One student of the story: what they play on, when they played, and how it goes."""

    name: str
    user_name: str
    routine: str  # name of a ready-made one
    story: str
    kind: str
    level: str
    lesson_weekday: int
    lesson_at: str
    days_ago: tuple[int, ...]
    slip_share: float
    focus: str
    words: str
    lowest_written_midi: int = 58
    highest_keyed_written_midi: int = 90
    rough_days_ago: tuple[int, ...] = ()
    weak_notes: tuple[int, ...] = ()
    tight_below: str = ""
    teacher_says_yes: str = ""
    pause_days: tuple[int, ...] = ()  # began so many days ago, lasts so many days from now
    pause_words: str = ""
    noise_dbfs: float = -72.0
    gain_control: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """What one student played beside the daily tones, and how it strayed."""

    user_name: str
    kind: str  # of exercise
    days_ago: tuple[int, ...]
    hole_db: dict[str, float]  # written MIDI -> how far its level lies off its neighbours
    cents: dict[str, float]  # place among the tones -> cents off


@dataclass(frozen=True, slots=True, kw_only=True)
class Together:
    """One ensemble of the story, and the one thing that it is asked for."""

    name: str
    seats: tuple[str, ...]  # user names, in their order
    quality: str
    root_sounding_midi: int
    tone: str
    words: str
    days_ahead: int
    played: dict[str, float]  # user name -> cents off


def players() -> list[Player]:
    return [Player(**frozen(row)) for row in _story()["student"]]


def beside() -> list[Beside]:
    return [Beside(**frozen(row)) for row in _story()["beside"]]


def together() -> list[Together]:
    return [Together(**frozen(row)) for row in _story()["ensemble"]]


def studio_id() -> UUID:
    """By which the demo studio is found again, whatever it is called by then."""
    return UUID(_story()["studio"]["id"])


def user_names() -> set[str]:
    """Everybody of the story."""
    story = _story()
    return {row["user_name"] for kind in ("staff", "guardian", "student") for row in story[kind]}


def owner() -> Membership | None:
    """Of the demo studio; None where there is none."""
    owners = Membership.objects.filter(studio=studio_id(), role=Membership.Role.OWNER).order_by("joined_on", "pk")
    return owners.select_related("studio", "user").first()


def horns() -> dict[str, Horn]:
    """Of the demo studio's students, by user name: somebody elsewhere may have such a name too."""
    found = Horn.objects.filter(player__studio=studio_id()).select_related("player__user", "player__studio")
    return {horn.player.user.username: horn for horn in found}


@transaction.atomic
def make_people() -> list[str]:
    """Write the studio, its people, horns, permissions and weeks. Returns a line of sign-in for each person."""
    story = _story()
    studio = Studio.objects.create(**story["studio"])
    lines = []
    staff = []
    for row in story["staff"]:
        user = _user(row["user_name"], row["name"])
        staff.append(Membership.objects.create(user=user, studio=studio, role=row["role"]))
        lines.append(_line(user, row["role"]))
    for player in players():
        horn = _horn(player, studio, staff[0].user)
        starts_on = studio.today() - dt.timedelta(days=max(player.days_ago))
        set_week(player, horn, staff[0].user, starts_on)
        _pause(player, horn, staff[0].user)
        lines.append(_line(horn.player.user, f"student, {player.kind}: {player.story}"))
    for one in together():
        _ensemble(one, studio, staff[0].user)
    lines += [_guardian(row, studio) for row in story["guardian"]]
    Path(settings.DEMO_SIGN_INS_FILE).write_text("\n".join(lines) + "\n", encoding="utf-8")
    return lines


def _guardian(row: dict[str, Any], studio: Studio) -> str:
    """A grown-up of one family. Returns the line to sign in with."""
    user = _user(row["user_name"], row["name"])
    home = Membership.objects.create(user=user, studio=studio, role=Membership.Role.GUARDIAN)
    home.wards.set(Membership.objects.filter(studio=studio, user__username__in=row["wards"]))
    return _line(user, "guardian of " + ", ".join(row["wards"]))


def _horn(player: Player, studio: Studio, owner: User) -> Horn:
    member = Membership.objects.create(
        user=_user(player.user_name, player.name),
        studio=studio,
        role=Membership.Role.STUDENT,
        lesson_weekday=player.lesson_weekday,
        lesson_at=player.lesson_at,
        tell_teacher_of_pain=True,
    )
    consent.give(student=member, given_by="a grown-up at home", how="paper", logged_by=owner)
    return Horn.objects.create(
        player=member,
        kind=player.kind,
        level=player.level,
        lowest_written_midi=player.lowest_written_midi,
        highest_keyed_written_midi=player.highest_keyed_written_midi,
    )


def set_week(player: Player, horn: Horn, owner: User, starts_on: dt.date) -> None:
    """The student's routine, as far as its gates are open on that day, until the end of this week."""
    weeks.set_week(
        horn=horn,
        by=owner,
        routine=_routine(player.routine),
        focus=player.focus,
        words=player.words,
        starts_on=starts_on,
        ends_on=horn.studio.today() + dt.timedelta(days=6),
    )


def _pause(player: Player, horn: Horn, owner: User) -> None:
    """The pause of whoever has one."""
    if not player.pause_days:
        return
    today = horn.studio.today()
    began, lasts = player.pause_days
    Decision.objects.create(
        horn=horn,
        kind=Decision.Kind.PAUSE,
        on=today - dt.timedelta(days=began),
        until_on=today + dt.timedelta(days=lasts),
        words=player.pause_words,
        by=owner,
    )


def _ensemble(one: Together, studio: Studio, owner: User) -> None:
    known = horns()
    seated = [known[name] for name in one.seats]
    quality = voicing.qualities()[one.quality]
    notes = voicing.voiced(quality, one.root_sounding_midi, 0, [voicing.reach_of(horn) for horn in seated])
    ensembles.set_chord(
        ensemble=ensembles.keep(studio=studio, by=owner, name=one.name, horns=seated),
        by=owner,
        quality=one.quality,
        root_sounding_midi=one.root_sounding_midi,
        notes=list(zip(seated, notes, strict=True)),
        tone=one.tone,
        for_on=studio.today() + dt.timedelta(days=one.days_ahead),
        words=one.words,
    )


def _routine(name: str) -> Routine:
    return next(routine for routine in routines.ready_made() if routine.name == name)


def _user(user_name: str, name: str) -> User:
    return User.objects.create(username=user_name, name=name, password=_hashed())


@cache
def _hashed() -> str:
    """Hashing is slow on purpose; one hash serves them all, as they share the password."""
    return make_password(PASSWORD)


def _line(user: User, what: str) -> str:
    return f"{user.username:<10} {PASSWORD}   {user.name}, {what}"


def _story() -> dict[str, Any]:
    return tomllib.loads(STORY.read_text("utf-8"))
