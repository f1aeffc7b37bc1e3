"""``{{ sentence|signs }}``: ♯ and ♭ seen and said (assignments/signs.py)."""

from __future__ import annotations

from django import template

from assignments.signs import seen_and_said

register = template.Library()
register.filter("signs", seen_and_said)
