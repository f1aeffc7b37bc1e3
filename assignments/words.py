"""Where a gate stands, said to a student or to a teacher. The sentences are in data/words.toml."""

from __future__ import annotations

import datetime as dt
import tomllib
from functools import cache
from pathlib import Path
from typing import Any, Literal

from django.template.defaultfilters import date as date_words
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from assignments import gate

Reader = Literal["student", "teacher"]


def headline(standing: gate.Standing, reader: Reader, *, teacher: str = "") -> str:
    """The state in one sentence. ``teacher``: the name that a student reads."""
    return _filled(table()["state"][standing.state], reader, standing, teacher)


def reasons(standing: gate.Standing, reader: Reader, *, teacher: str = "") -> tuple[str, ...]:
    """What is still missing or has been decided, a sentence each."""
    return tuple(_filled(table()["reason"][reason], reader, standing, teacher) for reason in standing.reasons)


@cache
def table() -> dict[str, dict[str, dict[str, str]]]:
    """state or reason -> code -> its row: a sentence a reader, with a count also one for one."""
    return tomllib.loads((Path(__file__).parent / "data" / "words.toml").read_text("utf-8"))


def _filled(row: dict[str, str], reader: Reader, standing: gate.Standing, teacher: str) -> str:
    rule, window = standing.rule, standing.window
    places: dict[str, Any] = {
        "who": teacher or _("Your teacher"),
        "days": window.on_target,
        "window": rule.window_days,
        "missing": rule.window_days - window.days,
        "opens": rule.opens_at,
        "wanted": max(0, rule.opens_at - window.on_target),
        "notes": standing.notes_asked,
        "short": len(standing.notes_short),
        "standing": standing.notes_asked - len(standing.notes_short),
        "note_hits": rule.note_hits,
        "note_tries": rule.note_tries,
        "grace": rule.grace_days,
        "rest": standing.rest_days_left,
        "rest_after": rule.rest_after_days,
        "opened": _day(standing.opened_on),
        "since": _(" since {day}").format(day=_day(standing.shut_on)) if standing.shut_on else "",
        "until": _(" until {day}").format(day=_day(standing.until)) if standing.until else "",
    }
    if "count" not in row:
        return _(row[reader]).format_map(places)
    return ngettext(row[f"{reader}_one"], row[reader], places[row["count"]]).format_map(places)


def _day(day: dt.date | None) -> str:
    return date_words(day, "j F") if day else ""
