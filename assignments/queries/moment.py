"""The moments worth hearing of one student: what happened in each, why it was chosen, what to hear beside it."""

from __future__ import annotations

import datetime as dt
import json
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.template.defaultfilters import date as date_words
from django.utils.translation import gettext as _

from analysis.drawing import Strip
from assignments import ear_answers, moments
from assignments.models import Comment, PlayedDay, Try
from assignments.queries import past
from assignments.queries.around import AGO_DAYS, Before, around, before, neighbours
from assignments.queries.numbers import Number, of_checks
from assignments.queries.said import picture
from assignments.queries.shown import Shown, shown
from assignments.queries.sounding import Sounding, soundings, with_relations
from assignments.queries.telling import told
from assignments.spelled import capital, spelled
from studio.models import Horn, User

MOST_NAMED = 2  # things that happened in one tone; the numbers hold the rest


@dataclass(frozen=True, slots=True)
class MomentView:
    moment: moments.Moment
    now: Sounding
    neighbours: tuple[Sounding, ...]  # below, this one, above: those that can be heard
    before: tuple[Before, ...]
    shown: Shown | None  # how the teacher plays it
    comments: tuple[Comment, ...]
    strip: Strip | None
    numbers: tuple[Number, ...]
    agrees: bool | None  # whether the reader's own ear came to the same; None: nothing said

    @property
    def key(self) -> str:
        return str(self.now.row.pk)

    @property
    def happened(self) -> str:
        """What was not met, a short sentence each: the first few."""
        found = (told(code, self.now.row, self.now.tone) for code in self.moment.codes[:MOST_NAMED])
        return " ".join(words.student for words in found if words)

    @property
    def why(self) -> str:
        """Why this moment was chosen."""
        if self.moment.why == "squeeze":
            counted = _("%(signs)s signs on %(days)s days.") % {
                "signs": capital(spelled(len(self.moment.codes))),
                "days": spelled(len(self.moment.days)),
            }
            heard = _("Possible squeeze when soft: listen here. A leak or a hard reed sounds the same.")
            return f"{counted} {heard}"
        if self.moment.why == "again":
            days = [date_words(day, "l") for day in self.moment.days if day != self.now.row.on]
            if len(days) == 1:
                return _("The same on %(day)s.") % {"day": days[0]}
            return _("The same on %(n)s other days.") % {"n": spelled(len(days))}
        if self.moment.why == "short":
            return _("The high notes wait for this note.")
        return ""

    @property
    def here(self) -> tuple[float, float]:
        """What “Here” plays: the flagged stretch, else the whole tone."""
        return self.moment.at_s or self.now.here or self.now.stretch[1:]

    @property
    def sentence(self) -> str:
        return picture(self.now.row, self.strip.beats_flagged if self.strip else ())

    @property
    def said(self) -> str:
        return self.now.said

    @property
    def neighbour_json(self) -> str:
        return json.dumps([one.stretch for one in self.neighbours])


def moment_views(
    horn: Horn,
    history: Sequence[past.Past],
    since: dt.date,
    notes_short: Sequence[int],
    comments: Sequence[Comment],
    reader: User,
) -> tuple[MomentView, ...]:
    """Those of one horn, for a teacher. Seven queries."""
    missed = Try.objects.filter(horn=horn, on__gte=since, counts=True, outcome=Try.Outcome.MISS)
    chosen = moments.choose(
        [
            moments.Missed(row.pk, row.on, (row.played_at, row.slot), row.written_midi, row.tone, row.checks)
            for row in missed
        ],
        notes_short,
        moments.of_squeezes(_squeezes(horn), since),
    )
    of_key = {row.key: row for row in history}
    chosen = [moment for moment in chosen if moment.key in of_key]
    near = {moment.key: around(of_key[moment.key], history) for moment in chosen}
    beside = {row.key for rows in near.values() for row in rows.values()}
    wanted: set[uuid.UUID] = {moment.key for moment in chosen} | beside
    heard = soundings(with_relations(Try.objects.filter(pk__in=wanted)))
    agreed = ear_answers.agreements(reader, (moment.key for moment in chosen))
    demonstrated = shown([heard[moment.key] for moment in chosen if moment.key in heard])
    return tuple(
        _view(moment, near[moment.key], heard, comments, agreed.get(moment.key), demonstrated.get(moment.key))
        for moment in chosen
        if moment.key in heard
    )


def _squeezes(horn: Horn) -> list[dict[str, Any]]:
    """As they stood on the day that was played last."""
    found = PlayedDay.objects.filter(horn=horn).order_by("-on").values_list("squeezes", flat=True).first()
    return found or []


def _view(
    moment: moments.Moment,
    near: Mapping[str, past.Past],
    heard: Mapping[uuid.UUID, Sounding],
    comments: Sequence[Comment],
    agrees: bool | None,
    demonstrated: Shown | None,
) -> MomentView:
    now = heard[moment.key]
    return MomentView(
        moment=moment,
        now=now,
        neighbours=neighbours(near, heard, now),
        before=tuple(
            before(aim // 7, heard[near[str(aim)].key], now) for aim, _near, _far in AGO_DAYS if str(aim) in near
        ),
        shown=demonstrated,
        comments=tuple(comment for comment in comments if comment.about_try_id == now.row.pk),
        strip=now.drawn(here=moment.at_s),
        numbers=of_checks(now.row.checks),
        agrees=agrees,
    )
