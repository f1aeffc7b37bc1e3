"""The up-and-down runs before the newest: what stood out of each, and what has moved since the one a week ago."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from assignments.models import Take
from assignments.naming import note_plain, note_said
from assignments.spelled import capital, spelled

MOST_NAMED = 3
APART_DAYS = 7  # week over week: the run nearest to so long before the newest
ROOM_DB = 3.0  # what a room may do to one note where the take doesn't say
SURE = 2  # standard deviations that shades and bars reach


@dataclass(frozen=True, slots=True)
class Earlier:
    """A run before the newest, and what stood out of it then."""

    on: dt.date
    words: str


@dataclass(frozen=True, slots=True)
class Since:
    """The run of about a week ago beside the newest: written notes that lie nearer to their neighbours, or further."""

    on: dt.date
    level: tuple[tuple[int, float], ...]  # each written note against its trend then, in dB
    nearer: tuple[int, ...]
    further: tuple[int, ...]

    @property
    def words(self) -> str:
        return self._told(note_plain)

    @property
    def sentence(self) -> str:
        """For those who don't see the line."""
        return self._told(note_said)

    def _told(self, name: Callable[[int], str]) -> str:
        names = {key: ", ".join(name(midi) for midi in notes) for key, notes in self._moved if notes}
        told = [_("Dashed: the run of %(day)s.") % {"day": date_format(self.on, "j F")}]
        if "nearer" in names:
            told.append(_("Nearer to the line since then: %(names)s.") % {"names": names["nearer"]})
        if "further" in names:
            told.append(_("Further from it: %(names)s.") % {"names": names["further"]})
        return " ".join(told if names else [*told, _("No note has moved for sure.")])

    @property
    def _moved(self) -> tuple[tuple[str, tuple[int, ...]], ...]:
        return ("nearer", self.nearer), ("further", self.further)


def earlier(run: Take) -> Earlier:
    across = run.across_spots or {}
    notes = dict.fromkeys(hole["written_midi"] for hole in across["holes"])
    names = ", ".join(note_plain(midi) for midi in list(notes)[:MOST_NAMED])
    holes = _("Stood out: %(names)s") % {"names": names} if names else _("Nothing stood out")
    spots = ngettext("one spot of the phone", "%(n)s spots of the phone", across["spots"])
    return Earlier(run.on, f"{holes}. {capital(spots % {'n': spelled(across['spots'])})}.")


def since(newest: Take, runs: Sequence[Take]) -> Since | None:
    """``newest`` against that one of ``runs``, of earlier days, which lies nearest to a week before it."""
    now = _level(newest)
    before = [run for run in runs if run.on < newest.on and _level(run)]
    if not now or not before:
        return None
    then = min(before, key=lambda run: abs((newest.on - run.on).days - APART_DAYS))
    known, was = dict(now), dict(_level(then))
    moved = {midi: abs(known[midi]) - abs(was[midi]) for midi in known if midi in was}
    limit_db = SURE * math.hypot(*(_error_db(run) for run in (newest, then)))
    worst = sorted((midi for midi in moved if abs(moved[midi]) > limit_db), key=lambda midi: -abs(moved[midi]))
    return Since(
        on=then.on,
        level=tuple(was.items()),
        nearer=tuple(midi for midi in worst if moved[midi] < 0)[:MOST_NAMED],
        further=tuple(midi for midi in worst if moved[midi] > 0)[:MOST_NAMED],
    )


def _level(run: Take) -> list[tuple[int, float]]:
    """Each written note against its trend, in dB. Nothing before the run has settled."""
    return [(midi, level_db) for midi, level_db in (run.across_spots or {}).get("level", ())]


def _error_db(run: Take) -> float:
    """One standard deviation of what a room may do to one note."""
    return float((run.across_spots or {}).get("level_error_db") or ROOM_DB / SURE)
