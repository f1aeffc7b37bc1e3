"""Where a student stands at the end of a day: the rule, a teacher's word above it, and breaks, put together."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from assignments.gate.calendar import Calendar, Held, held
from assignments.gate.ledger import Ledger, rule_of
from assignments.gate.records import Day, Decision, RuleFrom, Spell, Standing, State, Window
from assignments.gate.rule import DEFAULT, Rule
from assignments.gate.walk import Walk

_PAUSE = frozenset({"pause"})
_OVERRIDE = frozenset({"open", "shut"})
_ANSWER = frozenset({"confirm", "not_yet"})


def evaluate(
    days: Sequence[Day],
    *,
    on: date,
    lowest_written: int,
    highest_written: int,
    excluded: Collection[int] = (),
    rules: Rule | Sequence[RuleFrom] = DEFAULT,
    decisions: Sequence[Decision] = (),
) -> Standing:
    """The standing at the end of day ``on``; whatever is dated later is as if absent.

    ``days``: one ``Day`` for each day with a try, in any order. ``decisions`` of one day in the order made.
    ``excluded`` notes are lifted from the note rule only. ``rules``: each from its own day on, the first before it too.
    """
    today = on.toordinal()
    past = sorted(day for day in days if day.on <= on)
    made = sorted((decision for decision in decisions if decision.on <= on), key=lambda decision: decision.on)
    in_order = _in_order(rules)
    notes = [note for note in range(lowest_written, highest_written + 1) if note not in set(excluded)]
    pauses = held(made, _PAUSE, today)
    calendar = Calendar(pauses)
    ledger = Ledger(past, in_order, calendar, notes)
    answers = {decision.on.toordinal(): decision for decision in made if decision.kind in _ANSWER}
    walk = Walk(ledger, calendar, answers, today)
    overrides = held(made, _OVERRIDE, today)
    rule = walk.test.rule if walk.test else rule_of(in_order, today)
    return _View(past, made, ledger, walk, pauses, overrides, rule, today).standing(on)


def _in_order(rules: Rule | Sequence[RuleFrom]) -> list[RuleFrom]:
    """The rules by their first days; of several from one day the last given counts; none at all: the default."""
    if isinstance(rules, Rule):
        return [RuleFrom(date.min, rules)]
    latest = {given.starts_on: given for given in rules}
    return [latest[starts_on] for starts_on in sorted(latest)] or [RuleFrom(date.min, DEFAULT)]


@dataclass(slots=True)
class _View:
    """Everything known at the end of day ``today``, ready to be told."""

    past: Sequence[Day]
    made: Sequence[Decision]
    ledger: Ledger
    walk: Walk
    pauses: Sequence[Held]
    overrides: Sequence[Held]
    rule: Rule
    today: int

    def standing(self, on: date) -> Standing:
        pause, override = self._holding(self.pauses), self._holding(self.overrides)
        spells = self._openings()
        rest_days_left = self._rest_days_left()
        state = self._state(pause, override, bool(spells), rest_days_left > 0)
        is_open = state in ("open", "resting")
        notice = is_open and self._at_most(self.rule.notice_at)
        holding = pause or override
        return Standing(
            on=on,
            state=state,
            days=tuple(self.ledger.verdicts),
            window=self._window(),
            notes_short=self._notes_short(),
            openings=spells,
            opened_on=spells[-1].opened_on if spells else None,
            shut_on=next((spell.shut_on for spell in reversed(spells) if spell.shut_on), None),
            notice=notice,
            reasons=tuple(self._reasons(state, override, notice)),
            rule=self.rule,
            notes_asked=len(self.ledger.notes) if self.rule.note_tries else 0,
            until=date.fromordinal(holding.until) if holding and holding.until else None,
            rest_days_left=rest_days_left if state == "resting" else 0,
        )

    def _holding(self, spells: Sequence[Held]) -> Held | None:
        return spells[-1] if spells and spells[-1].last == self.today else None

    def _window(self) -> Window:
        return self.ledger.window(self.walk.test) if self.walk.test else Window(0, 0)

    def _notes_short(self) -> tuple[int, ...]:
        if self.walk.test:
            return self.ledger.notes_short(self.walk.test)
        return tuple(self.ledger.notes) if self.rule.note_tries else ()

    def _at_most(self, limit: int | None) -> bool:
        if self.walk.test:
            return self.ledger.at_most(self.walk.test, limit)
        return limit is not None and self.rule.window_days <= limit  # nothing tested: every day is missing

    def _is_open(self, day: int) -> bool:
        """At the end of a day: by a teacher's word if one held, else by the rule."""
        word = bisect_right(self.overrides, day, key=lambda spell: spell.first) - 1
        if word >= 0 and day <= self.overrides[word].last:
            return self.overrides[word].kind == "open"
        place = bisect_right(self.walk.spells, day, key=lambda spell: spell[0]) - 1
        if place < 0:
            return False
        shut = self.walk.spells[place][1]
        return shut is None or day < shut

    def _openings(self) -> tuple[Spell, ...]:
        turns = {day for spell in self.walk.spells for day in spell if day is not None}
        turns |= {day for spell in self.overrides for day in (spell.first, spell.last + 1) if day <= self.today}
        spells: list[Spell] = []
        was_open = False
        for day in sorted(turns):
            is_open = self._is_open(day)
            if is_open and not was_open:
                spells.append(Spell(date.fromordinal(day), None))
            elif was_open and not is_open:
                spells[-1] = spells[-1]._replace(shut_on=date.fromordinal(day))
            was_open = is_open
        return tuple(spells)

    def _rest_days_left(self) -> int:
        """On-target days still asked for after the latest long break; 0: no break, or they were played."""
        after, wanted = self.rule.rest_after_days, self.rule.rest_days_on_target
        if after is None:
            return 0
        opened = max((made.on.toordinal() for made in self.made if made.kind == "open"), default=0)
        played = [day.on.toordinal() for day in self.past]
        played = ([opened] if opened else []) + [day for day in played if day > opened]
        if not played:
            return 0
        if played[-1] < self.today:
            played.append(self.today)  # not played, but the break reaches to the day before it
        for before, back in reversed(list(pairwise(played))):
            if back - before - 1 >= after:
                since = bisect_left(self.ledger.verdicts, date.fromordinal(back), key=lambda verdict: verdict.on)
                done = sum(verdict.on_target is True for verdict in self.ledger.verdicts[since:])
                return max(0, wanted - done)
        return 0

    def _state(self, pause: Held | None, override: Held | None, has_been_open: bool, rests: bool) -> State:
        if pause:
            return "paused"
        if override.kind == "open" if override else self.walk.open_since is not None:
            return "resting" if rests else "open"
        if override:
            return "shut"
        if self.walk.is_met and not self.walk.is_withdrawn(self.today):
            return "ready"
        return "shut" if has_been_open else "building"

    def _reasons(self, state: State, override: Held | None, notice: bool) -> list[str]:
        if state == "paused":
            return ["teacher_paused"]
        if state in ("open", "resting"):
            shuts = self.walk.open_since is not None and self.walk.slips and not override
            found = {"teacher_opened": override, "after_break": state == "resting", "slipping": notice}
            return [code for code, applies in (found | {"shutting_soon": shuts}).items() if applies]
        if override:
            return ["teacher_shut"]
        if state == "ready":
            return ["waiting_for_teacher"]
        return self._missing()

    def _missing(self) -> list[str]:
        if self.walk.is_met:
            return ["teacher_not_yet"]
        days, on_target = self._window()
        too_few = days < self.rule.window_days
        found = {
            "too_few_days": too_few,
            "days_off_target": not too_few and on_target < self.rule.opens_at,
            "notes_short": bool(self._notes_short()),
        }
        return [code for code, applies in found.items() if applies]
