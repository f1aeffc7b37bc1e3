"""The teacher's overview: one row a horn, the same handful of queries for any number of them."""

from __future__ import annotations

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from functools import reduce
from operator import or_
from typing import Any

from django.db.models import Max, Q
from django.utils.translation import gettext as _

from assignments import builds, gate, lessons, moments, stages, standings
from assignments.known_ladders import Known
from assignments.models import DayPlan, Hearing, PaperDay, PlayedDay, Try, Week
from assignments.queries.ledger import SORTS, TALLY_DAYS, Row, StudioPage, Unplayed, by
from studio import consent
from studio.access import horns_of_staff
from studio.models import Horn, Membership, User

SQUARES = 10
LOOK_BACK_DAYS = 90  # a note that wasn't played for longer counts as that long


def overview(staff: Membership, sort: str = "", backwards: bool = False) -> StudioPage:
    """Everybody, in three groups; or, sorted by one column, in one."""
    on = staff.studio.today()
    horns = horns_of_staff(staff).exclude(player__ends_on__lt=on)
    rows = _rows(list(horns), staff.user, on)
    if sort in SORTS:
        return StudioPage(on, (), (), tuple(sorted(rows, key=by(sort), reverse=backwards)), sort, backwards)
    today = sorted((row for row in rows if row.lesson_today), key=lambda row: (row.lesson_at or dt.time.max, row.name))
    asking = [row for row in rows if row.asks and not row.lesson_today]
    others = [row for row in rows if not row.asks and not row.lesson_today]
    long_ago = dt.datetime.min.replace(tzinfo=dt.UTC)
    others.sort(key=lambda row: (row.heard_at or long_ago, row.name))
    return StudioPage(on, tuple(today), tuple(asking), tuple(others), "", False)


def _rows(horns: Sequence[Horn], user: User, on: dt.date) -> list[Row]:
    known = standings.known_of(horns, on)
    squeezes = _squeezes(horns, on)
    stops = _stops(horns, on)
    paper = _paper(horns, on)
    changed = lessons.changed([horn.player for horn in horns], on)
    since = {horn.pk: lessons.last(horn.player, on, changed[horn.player_id]) for horn in horns}
    missed = _missed(since, on)
    lacks = _lacks([horn for horn in horns if not known[horn.pk].days])
    heard = dict(Hearing.objects.filter(by=user, take__horn__in=horns).values_list("take__horn").annotate(at=Max("at")))
    return [
        _row(
            horn,
            on,
            lessons.held(horn.player, on, changed[horn.player_id]),
            since[horn.pk],
            known[horn.pk],
            squeezes.get(horn.pk, {}),
            stops[horn.pk],
            paper[horn.pk],
            missed[horn.pk],
            heard.get(horn.pk),
            lacks[horn.pk],
        )
        for horn in horns
    ]


def _row(
    horn: Horn,
    on: dt.date,
    lesson: lessons.Lesson | None,
    since: dt.date,
    known: Known,
    squeezes: Mapping[dt.date, Sequence[dict[str, Any]]],
    stops: Sequence[tuple[dt.date, bool]],
    paper: Collection[dt.date],
    missed: Sequence[moments.Missed],
    heard_at: dt.datetime | None,
    lacks: Sequence[str],
) -> Row:
    ladder, played = known.ladder, known.days
    stage = standings.stage_asked(ladder)
    practised_on = {day.on for day in played[-TALLY_DAYS:]} | {day for day, _may_know in stops} | set(paper)
    chosen = moments.choose(
        missed,
        ladder[stage].notes_short,
        moments.of_squeezes(squeezes.get(played[-1].on, ()) if played else (), since),
    )
    return Row(
        horn=horn,
        build=builds.words(horn),
        lesson_at=lesson.at if lesson else None,
        lesson_today=lesson is not None,
        practised=tuple(on - dt.timedelta(days=ago) in practised_on for ago in reversed(range(TALLY_DAYS))),
        days=ladder[1].days[-SQUARES:],
        unplayed=_unplayed(horn, played, on),
        moments=tuple(chosen),
        squeeze_signs=max((len(moment.codes) for moment in chosen if moment.why == "squeeze"), default=0),
        asks=standings.waits_for_an_ear(ladder, on),
        stage=stage,
        standing=ladder[stage],
        gate_line=stages.line(ladder, on),
        hurt=any(may_know and day > on - dt.timedelta(days=7) for day, may_know in stops),
        heard_at=heard_at,
        lacks=tuple(lacks),
    )


def _lacks(horns: Sequence[Horn]) -> defaultdict[object, list[str]]:
    """By horn on which nothing was measured yet: what stands between it and its first take."""
    found: defaultdict[object, list[str]] = defaultdict(list)
    if not horns:
        return found
    with_week = set(Week.objects.filter(horn__in=horns).values_list("horn", flat=True))
    allowed = consent.standing_of([horn.player for horn in horns])
    for horn in horns:
        if horn.pk not in with_week:
            found[horn.pk].append(_("no week set"))
        if horn.player_id not in allowed:
            found[horn.pk].append(_("no permission to record"))
    return found


def _squeezes(horns: Sequence[Horn], on: dt.date) -> dict[object, dict[dt.date, list[dict[str, Any]]]]:
    """By horn and day: the possible squeezes of soft tones as they stood; most days have none."""
    rows = PlayedDay.objects.filter(horn__in=horns, on__gt=on - dt.timedelta(days=LOOK_BACK_DAYS), on__lte=on)
    found: defaultdict[object, dict[dt.date, list[dict[str, Any]]]] = defaultdict(dict)
    for horn, day, squeezes in rows.exclude(squeezes=[]).values_list("horn", "on", "squeezes"):
        found[horn][day] = squeezes
    return found


def _stops(horns: Sequence[Horn], on: dt.date) -> defaultdict[object, list[tuple[dt.date, bool]]]:
    """By horn: days that ended because something hurt (they count as practised), and whether the teacher may know."""
    since = on - dt.timedelta(days=TALLY_DAYS)
    rows = DayPlan.objects.filter(horn__in=horns, on__gt=since, on__lte=on, stopped_hurting_at__isnull=False)
    found: defaultdict[object, list[tuple[dt.date, bool]]] = defaultdict(list)
    for horn, day, may_know in rows.values_list("horn", "on", "teacher_may_know"):
        found[horn].append((day, may_know))
    return found


def _paper(horns: Sequence[Horn], on: dt.date) -> defaultdict[object, set[dt.date]]:
    """By horn: days that a teacher noted from the printed card."""
    rows = PaperDay.objects.filter(horn__in=horns, on__gt=on - dt.timedelta(days=TALLY_DAYS), on__lte=on)
    found: defaultdict[object, set[dt.date]] = defaultdict(set)
    for horn, day in rows.values_list("horn", "on"):
        found[horn].add(day)
    return found


def _missed(since: Mapping[uuid.UUID, dt.date], on: dt.date) -> defaultdict[object, list[moments.Missed]]:
    """By horn: what was not yet on target since its last lesson. ``since``: that day."""
    last_seen: defaultdict[dt.date, list[uuid.UUID]] = defaultdict(list)
    for horn, day in since.items():
        last_seen[day].append(horn)
    spans = (Q(horn__in=horns, on__range=(day, on)) for day, horns in last_seen.items())
    missed = Q(counts=True, outcome=Try.Outcome.MISS)
    rows = Try.objects.filter(missed, reduce(or_, spans, Q(pk__in=()))).order_by("played_at", "slot")
    found: defaultdict[object, list[moments.Missed]] = defaultdict(list)
    values = rows.values_list("horn", "pk", "on", "written_midi", "tone", "checks")
    for order, (horn, key, day, *heard) in enumerate(values):
        found[horn].append(moments.Missed(key, day, order, *heard))
    return found


def _unplayed(horn: Horn, days: Sequence[gate.Day], on: dt.date) -> Unplayed | None:
    """The note of the horn that was heard longest ago, counted in days on which something was played."""
    played = [day for day in days[-LOOK_BACK_DAYS:] if day.on > on - dt.timedelta(days=LOOK_BACK_DAYS)]
    if not played:
        return None
    low, high = horn.written_range
    ago: dict[int, int] = {}
    for days_ago, day in enumerate(reversed(played)):
        for byte in day.counted:
            ago.setdefault(byte % gate.HIT, days_ago)
        if len(ago) > high - low:
            break  # every note was found: older days can't change which waited longest
    longest = max(range(low, high + 1), key=lambda note: (ago.get(note, len(played)), -note))
    return Unplayed(longest, ago.get(longest, len(played) - 1) + 1, longest not in ago)
