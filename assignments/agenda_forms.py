"""What a teacher sends of an agenda: lines in any order, each with its place, some of them ticked."""

from __future__ import annotations

from django.http import QueryDict
from django.utils.translation import gettext as _

from assignments.agendas import LONGEST, MOST_POINTS
from assignments.refusals import Refusal


def points_in(sent: QueryDict) -> list[str]:
    """The ticked lines by their places; a line written anew needs no tick. Raises Refusal for too many, or too long.

    ``text``, ``place``: one of each a line, in the order of the page; ``take``: the page’s numbers of ticked lines.
    """
    ticked = set(sent.getlist("take"))
    lines = zip(sent.getlist("text"), sent.getlist("place"), strict=False)
    found = [
        (int(place) if place.isdecimal() else MOST_POINTS, number, " ".join(text.split()))
        for number, (text, place) in enumerate(lines, 1)
        if str(number) in ticked
    ]
    new = " ".join(sent.get("new", "").split())
    texts = [text for _place, _number, text in sorted(found) if text] + ([new] if new else [])
    if len(texts) > MOST_POINTS:
        raise Refusal("too_many_points", _("An agenda holds twenty points. Untick some, and keep it again."))
    if any(len(text) > LONGEST for text in texts):
        raise Refusal("point_too_long", _("One of the points is longer than three hundred letters. Make it shorter."))
    return texts
