"""What a studio's teachers have shown, by instrument and note."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from assignments import builds
from assignments.exercises import TONE_WORDS
from assignments.models import Demonstration
from assignments.progress import Progress, of_recording
from assignments.queries.shown import Shown
from studio.models import Studio


@dataclass(frozen=True, slots=True)
class Row:
    """One recording. ``shown`` None: nobody hears it (yet), and ``words`` say why."""

    row: Demonstration
    shown: Shown | None
    words: str


@dataclass(frozen=True, slots=True)
class Group:
    instrument: str
    title: str
    rows: tuple[Row, ...]  # from the highest note down


@dataclass(frozen=True, slots=True)
class DemonstrationsPage:
    groups: tuple[Group, ...]


def page(studio: Studio) -> DemonstrationsPage:
    """One query."""
    every = list(studio.demonstrations.select_related("analysis", "by"))
    every.sort(key=lambda row: (-row.written_midi, TONE_WORDS.index(row.tone), row.made_at))
    groups = (
        Group(name, title, tuple(_row(row) for row in every if row.instrument == name))
        for name, title in builds.instruments()
    )
    return DemonstrationsPage(tuple(group for group in groups if group.rows))


def _row(row: Demonstration) -> Row:
    if row.level_db is not None:
        return Row(row, Shown(row, 0.0), "")
    here: Progress = of_recording(row.analysis, settled=row.settled_at is not None)
    if here.state == "done":
        return Row(row, None, _("I couldn’t find that tone in it. Look at instrument and note, and record it again."))
    return Row(row, None, here.words)
