"""One student since the last lesson: what changed, and at most seven moments worth hearing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from assignments import builds, gate, lessons, moments, standings, weeks
from assignments.models import Comment, DayPlan, Take, Try, Week
from assignments.queries import log, past
from assignments.queries.around import AGO_DAYS, Before, around, before
from assignments.queries.sounding import Sounding, soundings, with_relations
from studio.models import Horn

CAME_RIGHT_MOST = 3
LOG_SHOWN = 4
NOTES_SHOWN = 5


@dataclass(frozen=True, slots=True)
class MomentView:
    moment: moments.Moment
    now: Sounding
    neighbours: tuple[Sounding, ...]  # below, this one, above: those that can be heard
    before: tuple[Before, ...]
    comments: tuple[Comment, ...]

    @property
    def other_days(self) -> tuple[dt.date, ...]:
        """Days on which the same happened on this note."""
        return tuple(day for day in self.moment.days if day != self.now.row.on)

    @property
    def neighbour_list(self) -> list[tuple[str, float, float]]:
        return [one.stretch for one in self.neighbours]


@dataclass(frozen=True, slots=True)
class StudentPage:
    horn: Horn
    on: dt.date
    since: dt.date
    build: str
    lesson_today: bool
    week: Week | None
    practised: int  # days since the last lesson …
    days_passed: int  # … of so many
    on_target: int
    moments: tuple[MomentView, ...]
    came_right: tuple[Sounding, ...]
    rows: tuple[past.RangeRow, ...]
    stage: int
    ladder: standings.Ladder
    asks: bool
    log: tuple[log.LogEntry, ...]
    notes: tuple[Comment, ...]
    hurt: bool
    not_heard_yet: int  # recordings that are still waiting to be measured

    @property
    def standing(self) -> gate.Standing:
        return self.ladder[self.stage]

    @property
    def is_new(self) -> bool:
        return not self.ladder[1].days


def since_lesson(horn: Horn, on: dt.date) -> StudentPage:
    """The page of one horn. A fixed number of queries."""
    weekday = horn.player.lesson_weekday
    since = lessons.last(weekday, on)
    history = past.of_horn(horn)
    ladder = standings.ladders([horn], on)[horn.pk]
    stage = standings.stage_asked(ladder)
    plans = list(DayPlan.objects.filter(horn=horn, on__gte=since, on__lte=on))
    lately = [day for day in ladder[1].days if day.on >= since]
    comments = list(Comment.objects.filter(horn=horn).select_related("by", "take"))
    return StudentPage(
        horn=horn,
        on=on,
        since=since,
        build=builds.words(horn),
        lesson_today=weekday == on.weekday(),
        week=weeks.in_force(horn, on),
        practised=len({day.on for day in lately} | {plan.on for plan in plans if plan.stopped_hurting_at}),
        days_passed=(on - since).days,
        on_target=sum(day.on_target is True for day in lately),
        moments=_moments(horn, history, since, ladder[stage].notes_short, comments),
        came_right=_came_right(history, since),
        rows=past.range_rows(horn, history, ladder[1], _today(plans, on)),
        stage=stage,
        ladder=ladder,
        asks=standings.waits_for_an_ear(ladder, on),
        log=log.entries(horn, ladder)[:LOG_SHOWN],
        notes=tuple(comment for comment in comments if comment.take_id is None)[:NOTES_SHOWN],
        hurt=any(plan.stopped_hurting_at and plan.teacher_may_know for plan in plans),
        not_heard_yet=Take.objects.filter(horn=horn, settled_at=None).count(),
    )


def _today(plans: Iterable[DayPlan], on: dt.date) -> set[tuple[int, str]]:
    return {(tone["written_midi"], tone["tone"]) for plan in plans if plan.on == on for tone in plan.tones}


def _moments(
    horn: Horn, history: Sequence[past.Past], since: dt.date, notes_short: Sequence[int], comments: Sequence[Comment]
) -> tuple[MomentView, ...]:
    missed = Try.objects.filter(horn=horn, on__gte=since, counts=True, outcome=Try.Outcome.MISS)
    chosen = moments.choose(
        [
            moments.Missed(row.pk, row.on, (row.played_at, row.slot), row.written_midi, row.tone, row.checks)
            for row in missed
        ],
        notes_short,
    )
    of_key = {row.key: row for row in history}
    near = {moment.key: around(of_key[moment.key], history) for moment in chosen}
    wanted = {moment.key for moment in chosen} | {row.key for rows in near.values() for row in rows.values()}
    heard = soundings(with_relations(Try.objects.filter(pk__in=wanted)))
    return tuple(_view(moment, near[moment.key], heard, history, comments) for moment in chosen if moment.key in heard)


def _view(
    moment: moments.Moment,
    near: Mapping[str, past.Past],
    heard: Mapping[object, Sounding],
    history: Sequence[past.Past],
    comments: Sequence[Comment],
) -> MomentView:
    now = heard[moment.key]
    below, above = ([heard[near[side].key]] if side in near else [] for side in ("below", "above"))
    return MomentView(
        moment=moment,
        now=now,
        neighbours=(*below, now, *above) if (below or above) and now.tone and now.is_kept else (),
        before=tuple(before(aim // 7, heard[near[str(aim)].key], now) for aim, _, _ in AGO_DAYS if str(aim) in near),
        comments=tuple(comment for comment in comments if comment.about_try_id == now.row.pk),
    )


def _came_right(history: Sequence[past.Past], since: dt.date) -> tuple[Sounding, ...]:
    """Tones on target now that were not yet the last time; the newest."""
    last: dict[tuple[int, str], str] = {}
    found = []
    for row in past.counted(history):
        what = (row.written_midi, row.tone)
        if row.on >= since and row.kept and row.outcome == Try.Outcome.HIT and last.get(what) == Try.Outcome.MISS:
            found.append(row.key)
        last[what] = row.outcome
    keys = found[-CAME_RIGHT_MOST:]
    heard = soundings(with_relations(Try.objects.filter(pk__in=keys)))
    return tuple(heard[key] for key in reversed(keys) if key in heard)
