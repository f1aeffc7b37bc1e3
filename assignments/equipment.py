"""Reed, mouthpiece, horn, phone and room: what changed when, and what that does to curves.

A change is a dated row and never a verdict. Where one falls between two readings of the same tone, they are not
compared without saying so, and a fresh baseline is suggested in words.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.utils.translation import gettext as _

from assignments.models import EquipmentChange
from studio.models import Horn, User

FRESH = dt.timedelta(days=14)  # so long a change is suggested to begin anew with: two weeks of practice days
What = EquipmentChange.What


@dataclass(frozen=True, slots=True)
class Change:
    """One line beneath a curve, and where it stands on it."""

    on: dt.date
    what: str
    words: str

    @property
    def sentence(self) -> str:
        return f"{self.what}: {self.words}" if self.words else self.what


def note(horn: Horn, *, by: User, what: str, words: str, on: dt.date) -> EquipmentChange:
    return EquipmentChange.objects.create(horn=horn, by=by, what=what, words=words, on=on)


def changes(horn: Horn, since: dt.date | None = None) -> tuple[Change, ...]:
    """Oldest first; ``since``: from that day on. One query."""
    rows = EquipmentChange.objects.filter(horn=horn)
    if since is not None:
        rows = rows.filter(on__gte=since)
    return tuple(Change(row.on, new(row.what), row.words) for row in rows)


def new(what: str) -> str:
    return {
        What.REED: _("new reed"),
        What.MOUTHPIECE: _("other mouthpiece"),
        What.HORN: _("other horn, or repaired"),
        What.PHONE: _("other phone"),
        What.ROOM: _("other room"),
    }[What(what)]


def baseline(made: tuple[Change, ...], on: dt.date) -> str:
    """What to do about the latest change, while it is fresh; empty: nothing."""
    latest = made[-1] if made else None
    if latest is None or not dt.timedelta(0) <= on - latest.on <= FRESH:
        return ""
    return _(
        "%(what)s: what was measured before may not compare. An easy day first, then an up-and-down run and a few "
        "medium tones on two or three days make a fresh baseline."
    ) % {"what": latest.what[:1].upper() + latest.what[1:]}
