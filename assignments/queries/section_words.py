"""How even a section is, in a sentence a measure, each with how far it may be off (twice a standard deviation)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.formats import number_format
from django.utils.translation import gettext as _

from analysis.core.section import SURE, Across, Voice, beats_per_s


@dataclass(frozen=True, slots=True)
class Sentence:
    """``is_apart``: something that can be heard, and worked on."""

    heading: str
    words: str
    is_apart: bool


def sentences(found: Sequence[Across], voices: Sequence[Voice | None], names: Sequence[str]) -> tuple[Sentence, ...]:
    """In the order in which they were measured. ``names``: by seat, like ``voices``."""
    return tuple(Sentence(_heading(one), _words(one, voices, names), one.verdict == "apart") for one in found)


def _words(one: Across, voices: Sequence[Voice | None], names: Sequence[str]) -> str:
    if one.verdict == "unsure" and one.difference <= one.least:
        return _("No difference shows that could be heard; rooms and phones might hide a small one.")
    return WORDS[one.measure](one, names) + _beats(one, voices)


def off(value: float, error: float, digits: int = 0) -> str:
    """“18 ± 2”."""
    least = 10.0**-digits  # nothing is said to be surer than its last digit
    return f"{_number(value, digits)}\u00a0±\u00a0{_number(max(least, SURE * error), digits)}"


def signed(cents: float) -> str:
    """“+2.0”, “−13.7”."""
    return ("+" if cents > 0 else "") + _number(cents, 1)


def _number(value: float, digits: int) -> str:
    """As it is written in the reader's language; ``number_format`` alone cuts digits off instead of rounding."""
    return number_format(round(value, digits), digits).replace("-", "−")


def _heading(one: Across) -> str:
    return {
        "pitch": _("Pitch"),
        "pitch_spread": _("Steadiness of pitch"),
        "level_spread": _("Steadiness of level"),
        "rise": _("Starts"),
        "colour": _("Colour"),
    }[one.measure]


def _beats(one: Across, voices: Sequence[Voice | None]) -> str:
    low, high = voices[one.lowest], voices[one.highest]
    if one.measure != "pitch" or one.verdict == "even" or not low or not high:
        return ""
    beats = beats_per_s(low, high)
    if beats is None:
        return ""
    return " " + _("Together these two beat about %(n)s times a second.") % {"n": _number(beats, 1)}


def _pitch(one: Across, names: Sequence[str]) -> str:
    places = {
        "cents": off(one.difference, one.error),
        "low": names[one.lowest],
        "high": names[one.highest],
        "least": _number(one.least, 0),
    }
    return {
        "even": _("Even: %(cents)s cents from the lowest to the highest, where %(least)s are heard."),
        "apart": _("%(cents)s cents apart: %(low)s lies lowest, %(high)s highest."),
        "unsure": _("%(cents)s cents apart, %(low)s lowest and %(high)s highest: about as much as is just heard."),
    }[one.verdict] % places


def _pitch_spread(one: Across, names: Sequence[str]) -> str:
    words = {
        "even": _("Held equally still by all."),
        "apart": _("%(high)s’s wavers most, by %(most)s cents; %(low)s’s least, by %(fewest)s."),
        "unsure": _("%(high)s’s may waver more (%(most)s cents) than %(low)s’s (%(fewest)s)."),
    }
    return words[one.verdict] % _ends(one, names, 1)


def _level_spread(one: Across, names: Sequence[str]) -> str:
    words = {
        "even": _("Held equally level by all, each against themselves."),
        "apart": _("%(high)s’s wavers most, by %(most)s dB; %(low)s’s least, by %(fewest)s."),
        "unsure": _("%(high)s’s may waver more (%(most)s dB) than %(low)s’s (%(fewest)s)."),
    }
    return words[one.verdict] % _ends(one, names, 1)


def _rise(one: Across, names: Sequence[str]) -> str:
    words = {
        "even": _("All speak equally fast."),
        "apart": _("%(high)s’s takes longest to speak, %(most)s s; %(low)s’s is there after %(fewest)s s."),
        "unsure": _("%(high)s’s may take longer to speak (%(most)s s) than %(low)s’s (%(fewest)s s)."),
    }
    return words[one.verdict] % _ends(one, names, 2)


def _colour(one: Across, names: Sequence[str]) -> str:
    words = {
        "even": _("Even, as far as different phones can tell."),
        "apart": _(
            "%(high)s sounds brightest, %(low)s darkest. Listen whether it is the player, the horn or the phone."
        ),
        "unsure": _("%(high)s may sound brighter than %(low)s: phones and rooms alone could do that."),
    }
    return words[one.verdict] % {"low": names[one.lowest], "high": names[one.highest]}


def _ends(one: Across, names: Sequence[str], digits: int) -> dict[str, str]:
    low, high = one.readings[one.lowest], one.readings[one.highest]
    return {
        "low": names[one.lowest],
        "high": names[one.highest],
        "fewest": off(low.value, low.error, digits) if low else "",
        "most": off(high.value, high.error, digits) if high else "",
    }


WORDS = {
    "pitch": _pitch,
    "pitch_spread": _pitch_spread,
    "level_spread": _level_spread,
    "rise": _rise,
    "colour": _colour,
}
