"""♯, ♭ and levels in a sentence: seen as signs, said as words, because screen readers pass over the signs."""

from __future__ import annotations

import re

from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from assignments.naming import tone_html, tone_said

SIGNS = re.compile("[♯♭]")
LEVELS = re.compile(r"(?<![\w.’&#;-])(p{1,3}|mp|mf|f{1,3})(?![\w’-])")  # as words of their own, not in “p.m.” or “m’f”


def _word(sign: str) -> str:
    return {"♯": _(" sharp"), "♭": _(" flat")}[sign]


def spoken(sentence: str) -> str:
    """``Middle C sharp is louder than soft.``"""
    return LEVELS.sub(lambda found: tone_said(found[0]), SIGNS.sub(lambda found: _word(found[0]), sentence))


def seen_and_said(sentence: str) -> SafeString:
    """The sentence as HTML."""

    def both(found: re.Match[str]) -> str:
        return format_html(
            '<span aria-hidden="true">{}</span><span class="unseen">{}</span>', found[0], _word(found[0])
        )

    shown = LEVELS.sub(lambda found: tone_html(found[0]), conditional_escape(sentence))
    return mark_safe(SIGNS.sub(both, shown))  # escaped, then levels and signs replaced by our own spans
