"""The numbers behind a verdict, for a teacher who asks: what was heard, the limit, what it came to."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.formats import number_format
from django.utils.translation import gettext as _

from assignments.targets import MEASURES

HIDDEN = ("written_midi", "partial", "present", "kind")  # parts that say yes or no: the words above say it already


@dataclass(frozen=True, slots=True)
class Number:
    label: str
    value: str
    limit: str
    verdict: str


def of_checks(checks: Iterable[Mapping[str, Any]]) -> tuple[Number, ...]:
    """One line a check that has a number. ``checks`` as a try keeps them."""
    return tuple(_number(check) for check in checks if check.get("value") is not None and check["part"] not in HIDDEN)


def _number(check: Mapping[str, Any]) -> Number:
    verdicts = {
        "met": _("on target"),
        "missed": _("not yet") if check["must"] else _("not yet, advice alone"),
        "unsure": _("too near the limit to tell"),
        "not_measured": _("couldn’t be measured"),
    }
    limit = check.get("limit")
    return Number(
        label=label(check["measure"], check["part"]),
        value=with_unit(check["value"], check["measure"], check["part"]),
        limit=with_unit(limit, check["measure"], check["part"]) if limit is not None else "",
        verdict=verdicts[check["verdict"]],
    )


def label(measure: str, part: str) -> str:
    names = _names()
    if part in names:
        return names[part]
    return str(MEASURES[part].label) if part in MEASURES else f"{measure}, {part.replace('_', ' ')}"


def _names() -> dict[str, str]:
    """What is called otherwise than its target, which is named in ``MEASURES``."""
    return {
        "pitch_cents": _("pitch, off"),
        "pitch_spread_cents": _("pitch, wavering"),
        "pitch_drift_cents": _("pitch, drifting"),
        "level_db": _("level, off its mark"),
        "level_spread_db": _("level, wavering"),
        "level_drift_db_per_s": _("level, drifting"),
        "rise_s": _("start, rising"),
        "scoop_cents": _("start, pitch off"),
        "settle_s": _("start, settling"),
        "air_before_s": _("air before the tone"),
        "sag_cents": _("end, sagging"),
        "hnr_db": _("tone over noise"),
        "rate_hz": _("vibrato, off the pulse"),
        "extent_cents": _("vibrato, width"),
        "peak_at": _("swell, place of the turn"),
        "steps_db": _("steps, the smallest"),
        "steps_found": _("steps, how many"),
    }


def with_unit(value: float, measure: str, part: str) -> str:
    if measure == "level" and part == "level_db":
        return _("%(n)s steps") % {"n": number_format(value, 1)}
    if part in MEASURES and part not in _names():
        one = MEASURES[part]
        digits = 0 if one.shown > 1.0 else 1
        return f"{number_format(value * one.shown, digits)} {one.unit}"
    if part in ("rate_hz", "rate_cv", "extent_cv", "peak_at"):
        return _("%(n)s %%") % {"n": number_format(value * 100, 0)}
    if "cents" in part:
        text = _("%(n)s cents a second") if part == "pitch_drift_cents" else _("%(n)s cents")
        return text % {"n": number_format(value, 1)}
    if "db" in part.split("_"):
        text = _("%(n)s dB a second") if part.endswith("_per_s") else _("%(n)s dB")
        return text % {"n": number_format(value, 2 if part.endswith("_per_s") else 1)}
    if part.endswith("_s"):
        return _("%(n)s ms") % {"n": number_format(value * 1000, 0)}
    return number_format(value, 1)
