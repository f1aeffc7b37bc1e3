"""Rows of the range table as its partial draws them, from whatever record a page has."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cache
from typing import Any

from django.template.defaultfilters import date as date_words
from django.utils.translation import gettext as _

from assignments import naming

Record = dict[str, Any]
Said = Callable[[str | None, dt.date | None, bool], str]
BREAKS_ABOVE = (73, 80, 85)  # written C♯5, G♯5, C♯6: the fingering changes over above them (common practice)
UNPLAYED = "unplayed"


def value_of(thing: Any, name: str, default: Any = None) -> Any:
    """An attribute, or a key of a mapping."""
    if isinstance(thing, Mapping):
        return thing.get(name, default)
    return getattr(thing, name, default)


def range_rows(rows: Iterable[Any], order: Sequence[str], first_shape: str) -> list[Record]:
    """Those of one table, whose cells say few different things."""
    said = cache(_said)
    return [_range_row(row, order, first_shape, said) for row in rows]


def _range_row(row: Any, order: Sequence[str], first_shape: str, said: Said) -> Record:
    cells: Mapping[str, Any] = value_of(row, "cells")
    midi = value_of(row, "written_midi")
    return {
        "written_midi": midi,
        "cells": [_range_cell(cells.get(tone), tone, tone == first_shape, said) for tone in order],
        "stands": value_of(row, "stands", False),
        "short": value_of(row, "short", ""),
        "href": value_of(row, "href", ""),
        "below_break": midi in BREAKS_ABOVE,
    }


def _range_cell(cell: Any, tone: str, opens_shapes: bool, said: Said) -> Record:
    outcome = value_of(cell, "outcome")
    today = bool(value_of(cell, "today", False))
    return {
        "tone": tone,
        "kind": outcome or UNPLAYED,
        "today": today,
        "said": said(outcome, value_of(cell, "played_on"), today),
        "href": value_of(cell, "href", ""),
        "opens_shapes": opens_shapes,
    }


def _said(outcome: str | None, played_on: dt.date | None, today: bool) -> str:
    words = naming.outcome_word(outcome)
    if played_on is not None:
        words = _("%(outcome)s, played %(day)s") % {"outcome": words, "day": date_words(played_on, "j F")}
    return _("%(said)s, in today’s set") % {"said": words} if today else words
