"""♯ and ♭ in a sentence: seen as signs, said as words, because screen readers pass over the signs."""

from __future__ import annotations

import re

from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

SIGNS = re.compile("[♯♭]")


def _word(sign: str) -> str:
    return {"♯": _(" sharp"), "♭": _(" flat")}[sign]


def spoken(sentence: str) -> str:
    """``Middle C sharp cracks.``"""
    return SIGNS.sub(lambda found: _word(found[0]), sentence)


def seen_and_said(sentence: str) -> SafeString:
    """The sentence as HTML."""

    def both(found: re.Match[str]) -> str:
        return format_html(
            '<span aria-hidden="true">{}</span><span class="unseen">{}</span>', found[0], _word(found[0])
        )

    return mark_safe(SIGNS.sub(both, conditional_escape(sentence)))  # escaped, then signs replaced by our own spans
