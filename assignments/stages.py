"""The three stages of extension work: their names, and where a student stands on them in one line."""

from __future__ import annotations

import datetime as dt

from django.template.defaultfilters import date as date_words
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from assignments import gate
from assignments.exercises import STAGES, kinds
from assignments.standings import Ladder, stage_asked, waits_for_an_ear

NEAR_DAYS, NEAR_NOTES = 3, 5  # so few are worth naming


def title(stage: int) -> str:
    """``Overtones to the third partial``."""
    return _(next(kind.title for kind in kinds().values() if kind.stage == stage))


def titles() -> list[tuple[int, str]]:
    return [(stage, title(stage)) for stage in STAGES]


def short(stage: int) -> str:
    """For a column."""
    return (_("overtones to 3"), _("overtones to 6"), _("above the keys"))[stage - 1]


def line(ladder: Ladder, on: dt.date) -> str:
    """Where the gates stand, short enough for a column."""
    if ladder[1].state == "paused":
        return _until(_("paused"), ladder[1].until)
    if waits_for_an_ear(ladder, on):
        return _("rule met: %(what)s") % {"what": short(stage_asked(ladder))}
    open_stages = [stage for stage in STAGES if ladder[stage].is_open]
    if not open_stages:
        return _shut(ladder[1])
    top = ladder[open_stages[-1]]
    if top.state == "resting":
        return _("resting after a break")
    words = _("open: %(what)s") % {"what": short(open_stages[-1])}
    return _("%(words)s, slipping") % {"words": words} if top.notice else words


def _shut(standing: gate.Standing) -> str:
    """Of a gate that isn't open."""
    if standing.state == "ready":
        return _("rule met")
    if standing.state == "shut":
        by_hand = "teacher_shut" in standing.reasons
        return _until(_("shut by hand"), standing.until) if by_hand else _("back to the ground")
    return near(standing) or _("building")


def near(standing: gate.Standing) -> str:
    """``wants 1 day, 2 notes`` when so little is missing that it is worth naming."""
    days = max(0, standing.rule.opens_at - standing.window.on_target)
    notes = len(standing.notes_short)
    if not standing.days or days > NEAR_DAYS or notes > NEAR_NOTES or not days + notes:
        return ""
    wanted = [
        ngettext("%(n)d day", "%(n)d days", days) % {"n": days} if days else "",
        ngettext("%(n)d note", "%(n)d notes", notes) % {"n": notes} if notes else "",
    ]
    return _("wants %(what)s") % {"what": ", ".join(part for part in wanted if part)}


def _until(words: str, until: dt.date | None) -> str:
    return _("%(words)s until %(day)s") % {"words": words, "day": date_words(until, "j F")} if until else words
