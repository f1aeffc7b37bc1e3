"""One history in, where the student stands out: the lines that ``manage.py standing`` reads and writes."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from assignments import gate
from assignments.histories import form
from assignments.histories.lines import HistoryError

DECISIONS = ("confirm", "not_yet", "open", "shut", "pause", "resume")
_ENDLESS = ("confirm", "resume")


def standing(history: Mapping[str, Any]) -> dict[str, Any]:
    """The standing of one history, as plain fields. Raises HistoryError."""
    on = form.field(history, "on", form.day)
    lowest, highest = form.field(history, "range", form.written_range)
    default_rule: list[gate.RuleFrom] = []
    found = gate.evaluate(
        _days(history, lowest, highest),
        on=on,
        lowest_written=lowest,
        highest_written=highest,
        excluded=form.optional(history, "excluded", form.notes, []),
        rules=form.optional(history, "rule", _rules, default_rule),
        decisions=form.optional(history, "teacher", _decisions, []),
    )
    return _told(found)


def _days(history: Mapping[str, Any], lowest: int, highest: int) -> list[gate.Day]:
    plays = form.field(history, "tries", form.plays)
    return gate.days((gate.Try(on, note, tone, outcome) for on, note, tone, outcome, _ in plays), lowest, highest)


def _decisions(value: object, where: str) -> list[gate.Decision]:
    return [_decision(item, place) for item, place in form.objects(value, where)]


def _decision(item: Mapping[str, Any], where: str) -> gate.Decision:
    on = form.field(item, "on", form.day, where)
    kind = form.field(item, "decision", _kind, where)
    if item.get("until") is None:  # null is what many writers give for a field that is left out
        return gate.Decision(on, kind)
    if kind in _ENDLESS:
        raise HistoryError(f"{where}until does not go with “{kind}”; leave it out")
    until = form.day(item["until"], f"{where}until")
    if until < on:
        raise HistoryError(f"{where}until is {until}, before its own day {on}")
    return gate.Decision(on, kind, until)


def _kind(value: object, where: str) -> str:
    return form.word(value, where, DECISIONS)


def _rules(value: object, where: str) -> list[gate.RuleFrom]:
    if isinstance(value, dict):
        return [gate.RuleFrom(form.optional(value, "from", form.day, date.min, f"{where}."), _rule(value, f"{where}."))]
    if not isinstance(value, list):
        raise form.wrong(where, value, "an object, or a list of objects each with from")
    return [
        gate.RuleFrom(form.field(item, "from", form.day, place), _rule(item, place))
        for item, place in form.objects(value, where)
    ]


def _rule(value: Mapping[str, Any], where: str) -> gate.Rule:
    try:
        return gate.rule_from({name: given for name, given in value.items() if name != "from"})
    except gate.RuleError as trouble:
        raise HistoryError(f"{where}{trouble.field[:40]} {trouble}") from trouble


def _told(found: gate.Standing) -> dict[str, Any]:
    return {
        "state": found.state,
        "days": [verdict._asdict() | {"on": verdict.on.isoformat()} for verdict in found.days],
        "window": found.window._asdict(),
        "notes_short": list(found.notes_short),
        "openings": [{name: _iso(day) for name, day in spell._asdict().items()} for spell in found.openings],
        "opened_on": _iso(found.opened_on),
        "shut_on": _iso(found.shut_on),
        "notice": found.notice,
        "reasons": list(found.reasons),
    }


def _iso(day: date | None) -> str | None:
    return day.isoformat() if day is not None else None
