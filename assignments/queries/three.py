"""The three things of a day as the page shows them: what was heard, said in words, with the moment to hear."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from analysis.core.records import Check, Verdict
from analysis.core.three_things import Before, Played, Thing, three_things
from assignments.exercises import Slot
from assignments.models import Try
from assignments.queries.sounding import Sounding
from assignments.queries.telling import told
from assignments.queries.where import HeardTone
from studio.models import Horn

LOOKED_BACK_DAYS = 60  # for the last time a tone was played


@dataclass(frozen=True, slots=True)
class ThingView:
    heading: str
    words: str
    heard: HeardTone | None  # the tone it is about
    from_s: float
    to_s: float

    @property
    def can_be_heard(self) -> bool:
        return self.heard is not None and self.heard.sounding.is_kept and self.heard.sounding.tone is not None


@dataclass(frozen=True, slots=True)
class Three:
    well: ThingView | None
    listen: ThingView | None
    tomorrow: ThingView | None


def three(horn: Horn, on: dt.date, heard: Sequence[HeardTone]) -> Three | None:
    """None while nothing readable was heard. One query: the last time each of these tones was played."""
    played = [_played(one) for one in heard]
    if not any(one.verdict.outcome != "unreadable" for one in played):
        return None
    found = three_things(played, _before(horn, on, heard))
    by_key = {str(one.row.pk): one for one in heard}
    return Three(
        well=_view(_("Went well"), found.well, by_key),
        listen=_view(_("Listen to this"), found.listen, by_key),
        tomorrow=_view(_("Tomorrow"), found.tomorrow, by_key),
    )


def _played(one: HeardTone) -> Played:
    row = one.row
    asked = Slot(**row.take.asked[row.slot]).asked()
    verdict = Verdict(row.outcome, _checks(row.checks), tuple(row.reasons))  # type: ignore[arg-type]  # an outcome word
    return Played(asked, verdict, one.sounding.tone, str(row.pk))


def _checks(rows: Iterable[Mapping[str, Any]]) -> tuple[Check, ...]:
    return tuple(Check(**{**row, "at_s": tuple(row["at_s"]) if row["at_s"] else None}) for row in rows)


def _before(horn: Horn, on: dt.date, heard: Sequence[HeardTone]) -> list[Before]:
    tones = {(one.row.written_midi, one.row.tone) for one in heard}
    rows = Try.objects.filter(
        horn=horn,
        counts=True,
        on__lt=on,
        on__gte=on - dt.timedelta(days=LOOKED_BACK_DAYS),
        written_midi__in={midi for midi, _tone in tones},
    ).exclude(outcome=Try.Outcome.UNREADABLE)
    columns = rows.values_list("on", "written_midi", "tone", "checks")
    return [
        Before(day.isoformat(), midi, tone, _checks(checks))
        for day, midi, tone, checks in columns
        if (midi, tone) in tones
    ]


def _view(heading: str, thing: Thing | None, by_key: Mapping[str, HeardTone]) -> ThingView | None:
    if thing is None:
        return None
    one = by_key.get(thing.key)
    sounding: Sounding | None = one.sounding if one else None
    about = one or next(iter(by_key.values()))  # a rest is about no tone: its words have no places to fill
    sentences = [told(code, about.row, about.sounding.tone) for code in _in_order(thing)]
    words = " ".join(f"{found.student} {found.do}".strip() for found in sentences if found)
    from_s, to_s = (thing.at_s or sounding.stretch[1:]) if sounding else (0.0, 0.0)
    return ThingView(heading, words.removeprefix(_("Tomorrow: ")), one, from_s, to_s)


def _in_order(thing: Thing) -> list[str]:
    """A clean start is said before what came after it; how it was last time, after what it is now."""
    first = [code for code in thing.also if code == "start_is_clean"]
    return [*first, thing.code, *(code for code in thing.also if code not in first)]
