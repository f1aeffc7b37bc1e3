"""At home: what was said about a student's playing, and by whom; nothing is hidden from the family."""

from __future__ import annotations

from dataclasses import dataclass

from assignments.models import Comment
from assignments.naming import note_plain, tone_said
from studio.models import Membership

SHOWN = 60


@dataclass(frozen=True, slots=True)
class Line:
    """One word of somebody: ``about`` names the tone it is pinned to; ``from_s``: where that is in its recording."""

    comment: Comment
    who: str
    about: str

    @property
    def from_s(self) -> float:
        return max(0.0, (self.comment.at_s or 0.0) - 1.0)

    @property
    def can_be_heard(self) -> bool:
        take = self.comment.take
        return take is not None and bool(take.analysis.audio)


def lines(ward: Membership) -> tuple[Line, ...]:
    """The newest first, of every horn. One query."""
    rows = Comment.objects.filter(horn__player=ward).select_related("by", "about_try", "take__analysis", "voice")
    return tuple(Line(row, row.by.name, _about(row)) for row in rows.order_by("-made_at", "-pk")[:SHOWN])


def _about(row: Comment) -> str:
    tone = row.about_try
    return f"{note_plain(tone.written_midi)}, {tone_said(tone.tone)}" if tone else ""
