"""``{{ 73|note }}``, ``{{ "pp"|tone }}``: names in a page, seen and said (assignments/naming.py)."""

from __future__ import annotations

from django import template

from assignments import naming

register = template.Library()

register.filter("note", naming.note_html)
register.filter("note_plain", naming.note_plain)
register.filter("note_said", naming.note_said)
register.filter("note_placed", naming.note_placed)
register.filter("note_placed_short", naming.note_placed_short)
register.filter("tone", naming.tone_html)
register.filter("tone_said", naming.tone_said)
register.filter("outcome_word", naming.outcome_word)


@register.filter
def note_name(written_midi: int) -> str:
    """The name without its octave, seen and said."""
    return naming.note_html(written_midi, with_octave=False)
