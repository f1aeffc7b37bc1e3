"""The gate's rule said in plain words, the same for teacher, student and family."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from assignments import gate
from assignments.exercises import STAGES
from assignments.gate_rules import Asked

OF_TONES = 20  # a share of a day is said of so many tones


def sentences(asked: Asked) -> tuple[str, ...]:
    """What is asked, in the order in which it matters."""
    rule = asked.rule(OF_TONES)
    said = (
        _day(rule, "minimum_readable" in dict(asked.chosen)),
        _opens(rule),
        _notes(rule),
        _ear(asked.ear_stages),
        _shuts(rule),
    )
    return tuple(one for one in said if one)


def _day(rule: gate.Rule, least_is_chosen: bool) -> str:
    """Unless a number was chosen, how many must be heard goes with the tones a day, which differ between weeks."""
    places = {"hits": round(rule.on_target_share * OF_TONES), "tones": OF_TONES, "least": rule.minimum_readable}
    if not least_is_chosen:
        return (
            _(
                "A day is on target when %(hits)d of %(tones)d tones are; it counts when 3 in 5 of the day’s tones "
                "could be heard."
            )
            % places
        )
    return _(
        "A day is on target when %(hits)d of %(tones)d tones are; it counts from %(least)d tones that could be heard."
    ) % places  # fmt: skip


def _opens(rule: gate.Rule) -> str:
    places = {"opens": rule.opens_at, "window": rule.window_days, "span": rule.window_span_days}
    return _("High notes open with %(opens)d of the last %(window)d practice days, all within %(span)d days.") % places


def _notes(rule: gate.Rule) -> str:
    if not rule.note_tries:
        return _("No single note is asked about.")
    places = {"hits": rule.note_hits, "tries": rule.note_tries}
    return _("Every note has hit %(hits)d of its last %(tries)d goes.") % places


def _ear(stages: tuple[int, ...]) -> str:
    if stages == STAGES:
        return _("Then a teacher listens and says yes.")
    if not stages:
        return _("No teacher’s yes is asked for.")
    named = ", ".join(str(stage) for stage in stages)
    return ngettext(
        "A teacher listens and says yes before stage %(named)s.",
        "A teacher listens and says yes before the stages %(named)s.",
        len(stages),
    ) % {"named": named}


def _shuts(rule: gate.Rule) -> str:
    if rule.shuts_at is None:
        return _("It never shuts by itself.")
    places = {"shuts": rule.shuts_at, "window": rule.window_days, "grace": rule.grace_days}
    return _(
        "With %(shuts)d or fewer of %(window)d it goes back to the ground, after %(grace)d days of grace."
    ) % places  # fmt: skip
