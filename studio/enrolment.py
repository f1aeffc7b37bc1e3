"""Bringing somebody into a studio, giving a student a horn, and saying good-bye."""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
import uuid
from dataclasses import dataclass

from django.db import transaction

from studio import passphrases
from studio.models import Horn, Membership, Studio, User


@dataclass(frozen=True, slots=True)
class SignIn:
    """What is printed on a slip of paper once: the passphrase itself is kept nowhere."""

    name: str
    username: str
    passphrase: str


@dataclass(frozen=True, slots=True)
class Lesson:
    """When a student's lesson is, in studio-local time. Monday is 0."""

    weekday: int | None = None
    at: dt.time | None = None


@transaction.atomic
def enrol(
    *,
    studio: Studio,
    role: str,
    name: str,
    username: str = "",
    key: uuid.UUID | None = None,
    lesson: Lesson | None = None,
) -> tuple[Membership, SignIn | None]:
    """Make an account and its place in the studio. Without a username one is made from the name.

    ``key`` becomes the membership's id: sent twice, the second finds the first, and there is no passphrase to print.
    Raises ValueError when the wanted username is taken.
    """
    known = Membership.objects.filter(pk=key, studio=studio).select_related("user").first() if key else None
    if known is not None:
        return known, None
    wanted = username or _free_username(name)
    if User.objects.filter(username=wanted).exists():
        raise ValueError(wanted)
    passphrase = passphrases.make()
    user = User.objects.create_user(wanted, password=passphrase, name=name)
    lesson = lesson or Lesson()
    membership = Membership.objects.create(
        pk=key or uuid.uuid4(),
        user=user,
        studio=studio,
        role=role,
        joined_on=studio.today(),
        lesson_weekday=lesson.weekday,
        lesson_at=lesson.at,
    )
    return membership, SignIn(name, wanted, passphrase)


def give_horn(
    *, player: Membership, kind: str, lowest_written_midi: int, highest_keyed_written_midi: int, level: str
) -> Horn:
    """A horn in use from today: its own range, history and gate. It takes the studio's A4."""
    return Horn.objects.create(
        player=player,
        kind=kind,
        lowest_written_midi=lowest_written_midi,
        highest_keyed_written_midi=highest_keyed_written_midi,
        level=level,
        a4_hz=player.studio.a4_hz,
        in_use_since_on=player.studio.today(),
    )


def put_horn_away(horn: Horn) -> None:
    """Its history stays; nothing new is asked for on it."""
    horn.put_away_on = horn.studio.today()
    horn.save(update_fields=["put_away_on"])


def change_passphrase(user: User) -> SignIn:
    """A new passphrase for somebody who lost theirs. The old one, and whoever is signed in with it, stop at once."""
    passphrase = passphrases.make()
    user.set_password(passphrase)
    user.save(update_fields=["password"])
    return SignIn(user.name, user.username, passphrase)


@transaction.atomic
def change_details(member: Membership, *, name: str, lesson: Lesson, ends_on: dt.date | None) -> None:
    """Name and lesson; ``ends_on`` is the last day somebody belongs to the studio, None lets them stay."""
    member.user.name = name
    member.user.save(update_fields=["name"])
    member.lesson_weekday, member.lesson_at, member.ends_on = lesson.weekday, lesson.at, ends_on
    member.save(update_fields=["lesson_weekday", "lesson_at", "ends_on"])


def _free_username(name: str) -> str:
    """``tamsin``, or ``tamsin-2`` when that is taken: plain letters, so that every keyboard can type it."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    stem = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:30] or "player"
    taken = set(User.objects.filter(username__startswith=stem).values_list("username", flat=True))
    if stem not in taken:
        return stem
    return next(f"{stem}-{number}" for number in range(2, len(taken) + 3) if f"{stem}-{number}" not in taken)
