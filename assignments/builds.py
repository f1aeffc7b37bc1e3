"""Horns as they are built: which range options there are, and what a horn is called with its own."""

from __future__ import annotations

from django.utils.translation import gettext as _

from analysis.core import tables
from assignments.naming import note_plain
from studio.models import Horn

USUAL = "alto 58 90"  # what a form begins with


def instruments() -> list[tuple[str, str]]:
    """Every kind of instrument and what it is called, from high to low."""
    labels = {kind: str(label) for kind, label in Horn.Kind.choices}
    return [(kind, labels.get(kind, _(kind))) for kind in tables.instruments()]


def choices() -> list[tuple[str, list[tuple[str, str]]]]:
    """By instrument: (value for ``studio.forms.HornForm``, words)."""
    return [
        (label, [(f"{kind} {lowest} {highest}", words) for words, lowest, highest in _builds(kind, label)])
        for kind, label in instruments()
    ]


def words(horn: Horn) -> str:
    """``alto``, ``baritone with the low A key``; a range that is no build of it is named by its ends."""
    label = horn.get_kind_display()
    for described, *ends in _builds(horn.kind, label):
        if tuple(ends) == horn.written_range:
            return described
    low, high = horn.written_range
    return _("%(horn)s, %(low)s to %(high)s") % {"horn": label, "low": note_plain(low), "high": note_plain(high)}


def _builds(kind: str, label: str) -> list[tuple[str, int, int]]:
    """The usual build first: words, lowest and highest written note."""
    table = tables.instrument(kind)
    usual = (label, table.lowest_written, table.highest_written)
    options = [
        (_("%(horn)s %(option)s") % {"horn": label, "option": _(name)}, lowest, highest)
        for name, lowest, highest in table.options
    ]
    return [usual, *options]
