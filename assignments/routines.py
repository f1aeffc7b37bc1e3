"""Routines: the ready-made ones of data/routines.toml, and a studio's own.

A ready-made routine is offered from the table; its row is written when something first points to it, and follows
the table. Weeks keep their own exercises, so nothing that was set changes with it.
"""

from __future__ import annotations

import tomllib
import uuid
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any

from django.utils.translation import gettext as _

from assignments.exercises import TONE_WORDS, kinds, routine_kinds
from assignments.models import Routine
from assignments.refusals import Refusal
from studio.models import Studio

FOUNDATION = "daily_tones"


@cache
def table() -> dict[uuid.UUID, dict[str, Any]]:
    """id -> name, summary, blocks; in the table's order."""
    rows = tomllib.loads((Path(__file__).parent / "data" / "routines.toml").read_text("utf-8"))
    return {uuid.UUID(row["id"]): {key: row[key] for key in ("name", "summary", "blocks")} for row in rows.values()}


def ready_made() -> list[Routine]:
    """The ready-made routines as rows, written where they were missing."""
    return [Routine.objects.update_or_create(pk=pk, defaults=row)[0] for pk, row in table().items()]


def offered(studio: Studio) -> list[Routine]:
    """What a teacher may choose from: ready-made ones (perhaps not yet rows), then the studio's own. One query."""
    return [Routine(pk=pk, **row) for pk, row in table().items()] + list(studio.routines.order_by("name", "pk"))


def chosen(studio: Studio, routine_id: uuid.UUID) -> Routine:
    """The row of an offered routine. Raises Refusal when it is not on offer here."""
    if routine_id in table():
        return Routine.objects.update_or_create(pk=routine_id, defaults=table()[routine_id])[0]
    own = studio.routines.filter(pk=routine_id).first()
    if own is None:
        raise Refusal("no_such_routine", _("That routine isn’t there any more. Choose another."), 404)
    return own


def keep(
    *,
    studio: Studio,
    name: str,
    summary: str,
    block_kinds: Sequence[str],
    tones: Sequence[str],
    routine: Routine | None = None,
) -> Routine:
    """Write a studio's own routine, the foundation first whatever order came in.

    Raises Refusal when the foundation is missing, has no tones, or something asked for is unknown.
    """
    if FOUNDATION not in block_kinds or not tones:
        raise Refusal("no_foundation", _("A routine stands on its daily tones. Choose at least one level or shape."))
    if set(block_kinds) - set(routine_kinds()) or set(tones) - set(TONE_WORDS):
        raise Refusal("unknown_block", _("One of those blocks isn’t known here. Load the page again and choose anew."))
    routine = routine or Routine(studio=studio)
    routine.name, routine.summary = name, summary
    ordered = sorted((kind for kind in routine_kinds() if kind in block_kinds), key=lambda kind: kinds()[kind].stage)
    routine.blocks = [
        {"kind": kind, "tones": [tone for tone in TONE_WORDS if tone in tones]}
        if kind == FOUNDATION
        else {"kind": kind}
        for kind in ordered
    ]
    routine.save()
    return routine


def daily_tones(routine: Routine) -> tuple[str, ...]:
    """The levels and shapes that its foundation asks for."""
    named = [block.get("tones") for block in routine.blocks if block["kind"] == FOUNDATION]
    return tuple((named and named[0]) or kinds()[FOUNDATION].tones)
