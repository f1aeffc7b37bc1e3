"""Lesson: what did my teacher say?"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import cast
from uuid import UUID

from django.db.models import F

from assignments import lessons
from assignments.models import Comment, Try
from assignments.queries.sounding import Sounding, soundings, with_relations
from studio.models import Horn

SHOWN = 12


@dataclass(frozen=True, slots=True)
class Marked:
    """A teacher's word about one tone, with the moment to hear."""

    comment: Comment
    sounding: Sounding | None

    @property
    def from_s(self) -> float:
        """A second before the one that was marked; else the whole tone."""
        if self.comment.at_s is not None:
            return max(0.0, self.comment.at_s - 1.0)
        return self.sounding.from_s if self.sounding else 0.0

    @property
    def to_s(self) -> float:
        if self.comment.at_s is not None:
            return self.comment.at_s + 3.0
        return (self.sounding.to_s if self.sounding else None) or 3600.0


@dataclass(frozen=True, slots=True)
class LessonPage:
    horn: Horn
    on: dt.date
    next_on: dt.date | None
    at: dt.time | None
    marked: tuple[Marked, ...]  # newest first
    said: tuple[Comment, ...]  # about nothing in particular, by both sides
    has_new: bool

    @property
    def is_today(self) -> bool:
        return self.next_on == self.on

    @property
    def is_empty(self) -> bool:
        return not (self.marked or self.said)


def page(horn: Horn, on: dt.date) -> LessonPage:
    """A fixed number of queries."""
    comments = list(
        Comment.objects.filter(horn=horn)
        .select_related("by", "voice", "take__analysis")
        .order_by(F("made_at").desc())[: 3 * SHOWN]
    )
    about = [comment for comment in comments if comment.about_try_id and comment.by_id != horn.player.user_id][:SHOWN]
    heard = soundings(with_relations(Try.objects.filter(pk__in=[comment.about_try_id for comment in about])))
    following = lessons.upcoming(horn.player, on)
    return LessonPage(
        horn=horn,
        on=on,
        next_on=following.on if following else None,
        at=following.at if following else None,
        marked=tuple(Marked(comment, heard.get(cast(UUID, comment.about_try_id))) for comment in about),  # each has one
        said=tuple(comment for comment in comments if comment.about_try_id is None)[:SHOWN],
        has_new=any(comment.seen_at is None and comment.by_id != horn.player.user_id for comment in comments),
    )
