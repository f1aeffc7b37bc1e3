"""Small numbers as words, for headlines: “Five minutes, twenty tones”."""

from __future__ import annotations

from django.utils.translation import gettext as _


def spelled(number: int) -> str:
    """``seven``; digits from 61 on and for numbers below nought."""
    small = (
        _("no"), _("one"), _("two"), _("three"), _("four"), _("five"), _("six"), _("seven"), _("eight"), _("nine"),
        _("ten"), _("eleven"), _("twelve"), _("thirteen"), _("fourteen"), _("fifteen"), _("sixteen"), _("seventeen"),
        _("eighteen"), _("nineteen"),
    )  # fmt: skip
    tens = {20: _("twenty"), 30: _("thirty"), 40: _("forty"), 50: _("fifty"), 60: _("sixty")}
    if 0 <= number < len(small):
        return small[number]
    if number in tens:
        return tens[number]
    if 20 < number < 60:
        return _("%(tens)s-%(ones)s") % {"tens": tens[number // 10 * 10], "ones": small[number % 10]}
    return str(number)


def capital(words: str) -> str:
    """The first letter large; the rest as it is."""
    return words[:1].upper() + words[1:]
