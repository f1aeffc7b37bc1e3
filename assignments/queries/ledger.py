"""The ledger of a studio: what one row says, in which order, and the headline over it. Nothing is read here."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from assignments import gate, moments, six_tones
from assignments.spelled import capital, spelled
from studio.models import Horn

TALLY_DAYS = 14
QUIET_DAYS = 7  # without a note, before the ledger says so
MOMENT_S, SIX_TONES_S = 25, 120  # to hear and to think, for the line about the time it takes
SORTS = ("name", "horn", "practised", "on_target", "unplayed", "to_hear", "gate")


@dataclass(frozen=True, slots=True)
class Unplayed:
    """The note that waited longest, in practice days; ``at_least``: longer than anybody looked back."""

    written_midi: int
    days: int
    at_least: bool


@dataclass(frozen=True, slots=True)
class Row:
    horn: Horn
    build: str
    lesson_at: dt.time | None  # of today; None: no lesson, or no time for it
    lesson_today: bool
    practised: tuple[bool, ...]  # of the last 14 days, oldest first
    days: tuple[gate.Verdict, ...]  # the last ten that were played
    unplayed: Unplayed | None
    moments: tuple[moments.Moment, ...]
    squeeze_signs: int
    asks: bool
    stage: int
    standing: gate.Standing
    gate_line: str
    hurt: bool  # stopped because it hurt this week, and the family lets the teacher know
    heard_at: dt.datetime | None  # when this teacher last listened
    lacks: tuple[str, ...] = ()  # what a new student still waits for before the first tone, in words

    @property
    def name(self) -> str:
        return str(self.horn.player.user)

    @property
    def practised_days(self) -> int:
        return sum(self.practised)

    @property
    def on_target_days(self) -> int:
        return sum(day.on_target is True for day in self.days)

    @property
    def is_new(self) -> bool:
        return not self.standing.days and not any(self.practised)

    @property
    def quiet_days(self) -> int:
        """Days since something was played, as far as the tally looks."""
        return next((ago for ago, played in enumerate(reversed(self.practised)) if played), TALLY_DAYS)

    @property
    def to_hear(self) -> int:
        """How many sounds wait for this teacher: six tones of a request, else the moments."""
        return six_tones.MOST if self.asks else len(self.moments)

    @property
    def needs_ear(self) -> bool:
        return self.asks or self.hurt or bool(self.squeeze_signs)

    @property
    def one_line(self) -> str:
        """The row for a phone: the horn, then why, or where the high notes stand."""
        says_more = not self.moments and not self.asks and self.why != _("none")
        return f"{capital(self.build)}. {capital(self.why if says_more else self.gate_line)}."

    @property
    def why(self) -> str:
        """One line: why to look at this student, the most pressing reason first."""
        if self.hurt:
            return _("stopped: it hurt")
        if self.asks:
            return _("six tones")
        if self.squeeze_signs:
            return _("soft tones, %(n)d signs") % {"n": self.squeeze_signs}
        if self.moments:
            return ngettext("%(n)d moment", "%(n)d moments", len(self.moments)) % {"n": len(self.moments)}
        if self.is_new:
            return ", ".join((_("first lesson, no takes yet"), *self.lacks))
        if self.quiet_days >= QUIET_DAYS and self.standing.state != "paused":
            more = _("quiet for %(n)d days or more") if self.quiet_days == TALLY_DAYS else _("quiet for %(n)d days")
            return more % {"n": self.quiet_days}
        return _("none")


@dataclass(frozen=True, slots=True)
class Column:
    """``turn``: what ``?sort=`` a press asks for; ``order``: as aria-sort says it, empty when it doesn't sort."""

    title: str
    turn: str
    order: str


@dataclass(frozen=True, slots=True)
class StudioPage:
    on: dt.date
    lessons: tuple[Row, ...]
    asking: tuple[Row, ...]
    others: tuple[Row, ...]
    sort: str  # "": in groups
    backwards: bool

    @property
    def rows(self) -> tuple[Row, ...]:
        return (*self.lessons, *self.asking, *self.others)

    @property
    def headline(self) -> str:
        lessons_today = sum(row.lesson_today for row in self.rows)
        asking = sum(row.asks for row in self.rows)
        first = ngettext("%(n)s lesson today", "%(n)s lessons today", lessons_today) % {"n": spelled(lessons_today)}
        second = ngettext("%(n)s student asks you to listen", "%(n)s students ask you to listen", asking)
        second %= {"n": spelled(asking)}
        if lessons_today and asking:
            return _("%(first)s, %(second)s") % {"first": capital(first), "second": second}
        if lessons_today or asking:
            return capital(first if lessons_today else second)
        if not self.rows:
            return _("Nobody is here yet")
        return _("No lessons today") if self.first_to_hear else _("Nothing needs your ear today")

    @property
    def lead(self) -> str:
        """How long listening takes, who practised, who is away."""
        minutes, students, played = self.minutes_to_hear, _students(self.rows), self.practised_this_week
        parts = [
            ngettext("%(n)d student", "%(n)d students", students) % {"n": students},
            _("%(n)d practised this week") % {"n": played},
            _("%(n)d on a pause") % {"n": self.paused} if self.paused else "",
        ]
        listening = ngettext(
            "About %(n)d minute of listening today.", "About %(n)d minutes of listening today.", minutes
        )
        counts = "; ".join(part for part in parts if part) + "."
        return f"{listening % {'n': minutes}} {counts}" if minutes else counts

    @property
    def groups(self) -> tuple[tuple[str, tuple[Row, ...]], ...]:
        """Titled, and without the empty ones."""
        first = self.lessons or self.asking
        rest = _("Everyone else, longest unheard first") if first else _("Everyone, longest unheard first")
        every = (
            (_("Lessons today"), self.lessons),
            (_("Asking you to listen"), self.asking),
            (_("Everyone") if self.sort else rest, self.others),
        )
        return tuple(group for group in every if group[1])

    @property
    def columns(self) -> tuple[Column, ...]:
        titles = (
            _("Student"),
            _("Horn"),
            _("Practised, last 14 days"),
            _("On target, last 10 practice days"),
            _("Longest unplayed"),
            _("To hear"),
            _("High notes"),
        )
        return tuple(
            Column(
                title=title,
                turn=f"-{key}" if key == self.sort and not self.backwards else key,
                order="" if key != self.sort else "descending" if self.backwards else "ascending",
            )
            for key, title in zip(SORTS, titles, strict=True)
        )

    @property
    def practised_this_week(self) -> int:
        return _students(row for row in self.rows if any(row.practised[-7:]))

    @property
    def paused(self) -> int:
        return _students(row for row in self.rows if row.standing.state == "paused")

    @property
    def minutes_to_hear(self) -> int:
        """For today's lessons and the requests."""
        today = [row for row in self.rows if row.lesson_today or row.asks]
        seconds = sum(len(row.moments) * MOMENT_S * (not row.asks) + row.asks * SIX_TONES_S for row in today)
        return math.ceil(seconds / 60)

    @property
    def first_to_hear(self) -> Row | None:
        waiting = [row for row in self.rows if row.moments or row.asks]
        return waiting[0] if waiting else None


def _students(rows: Iterable[Row]) -> int:
    """Whoever plays two horns has two rows and is one student."""
    return len({row.horn.player_id for row in rows})


def by(sort: str):  # type: ignore[no-untyped-def]  # a key for sorted: which type it gives depends on the column
    return {
        "name": lambda row: row.name.casefold(),
        "horn": lambda row: (row.build, row.name.casefold()),
        "practised": lambda row: (row.practised_days, row.practised),
        "on_target": lambda row: (row.on_target_days, len(row.days)),
        "unplayed": lambda row: -row.unplayed.days if row.unplayed else 1,
        "to_hear": lambda row: (not row.asks, -row.squeeze_signs, -len(row.moments)),
        "gate": lambda row: (_nearness(row), row.name.casefold()),
    }[sort]


def _nearness(row: Row) -> tuple[int, int, int]:
    """Who asks, then who is nearest to asking, then who is through, then who is away."""
    place = {"ready": 0, "building": 1, "shut": 1, "resting": 2, "open": 3, "paused": 4}[row.standing.state]
    return place, row.standing.rule.opens_at - row.standing.window.on_target, len(row.standing.notes_short)
