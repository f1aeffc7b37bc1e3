"""What a teacher sends of an agenda: lines in any order, each with its place, some of them ticked."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from itertools import zip_longest
from typing import NamedTuple

from django.http import QueryDict
from django.utils.translation import gettext as _

from assignments import lessons
from assignments.agendas import LONGEST, MOST_POINTS
from assignments.refusals import Refusal

LONGEST_PLACE = 4  # digits; the page lets two be typed


class Line(NamedTuple):
    """One line as it was sent; ``place``: whatever stood in its field."""

    text: str
    place: str
    is_ticked: bool


def lines_in(sent: QueryDict) -> list[Line]:
    """In the order of the page.

    ``text``, ``place``: one of each a line; ``take``: the page’s numbers of ticked lines.
    """
    ticked = set(sent.getlist("take"))
    both = zip_longest(sent.getlist("text"), sent.getlist("place"), fillvalue="")
    return [Line(text, place[:LONGEST_PLACE], str(number) in ticked) for number, (text, place) in enumerate(both, 1)]


def points_in(lines: Sequence[Line], new: str) -> list[str]:
    """The ticked lines by their places, then what was written anew. Raises Refusal for too many, or too long."""
    found = [
        (int(line.place) if line.place.isdecimal() else MOST_POINTS, number, _in_one_line(line.text))
        for number, line in enumerate(lines)
        if line.is_ticked
    ]
    texts = [text for text in (*(text for _place, _number, text in sorted(found)), _in_one_line(new)) if text]
    if len(texts) > MOST_POINTS:
        raise Refusal("too_many_points", _("An agenda holds twenty points. Untick some, and keep it again."))
    if any(len(text) > LONGEST for text in texts):
        raise Refusal("point_too_long", _("One of the points is longer than three hundred letters. Make it shorter."))
    return texts


def lesson_day_in(sent: QueryDict, today: dt.date) -> dt.date:
    """The lesson that the page was of when it was opened. Raises Refusal where that was no lesson of these months."""
    try:
        on = dt.date.fromisoformat(sent.get("on", ""))
    except ValueError:
        on = dt.date.min
    if not today - lessons.BEHIND <= on <= today + lessons.AHEAD:
        raise Refusal("agenda_day", _("This page was of no lesson near. It is of the next one now: keep it again."))
    return on


def _in_one_line(text: str) -> str:
    return " ".join(text.replace("\0", " ").split())  # PostgreSQL keeps no NUL
