"""What was played, judged day by day, and what a test at the end of a day would find in it."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from typing import NamedTuple

from assignments.gate.calendar import Calendar
from assignments.gate.records import HIT, Day, RuleFrom, Verdict, Window
from assignments.gate.rule import Rule

TOLERANCE = 1e-9  # 0.7 x 10 is a little more than 7 in binary
_MISSES = bytes(range(HIT))


class Test(NamedTuple):
    """The end of an unpaused day with a counted try. ``judged``: how many judged days there were by then."""

    place: int  # among the tests
    day: int  # ordinal
    date_index: int  # in the calendar without paused days
    judged: int
    counted: bytes
    rule: Rule


def rule_of(rules: Sequence[RuleFrom], day: int) -> Rule:
    """The latest rule that starts no later than ``day``; before the first, the first. ``rules`` are in order."""
    place = bisect_right(rules, day, key=lambda given: given.starts_on.toordinal())
    return rules[max(0, place - 1)].rule


class Ledger:
    """The days up to ``today``, judged. What a test finds is worked out when it is asked for, and kept."""

    def __init__(
        self, days: Sequence[Day], rules: Sequence[RuleFrom], calendar: Calendar, notes: Sequence[int]
    ) -> None:
        self.notes = notes
        self.verdicts: list[Verdict] = []
        self.tests: list[Test] = []
        self._indices: list[int] = []  # of the judged days
        self._on_target = [0]  # judged days on target, summed up
        self._short: tuple[int, tuple[int, ...]] | None = None
        self._judge(days, rules, calendar)

    def _judge(self, days: Sequence[Day], rules: Sequence[RuleFrom], calendar: Calendar) -> None:
        """Through all the days at once: a studio's years pass through here whenever a page is opened."""
        only_rule = rules[0].rule if len(rules) == 1 else None
        for on, counted, in_range in days:
            if not in_range:
                continue
            day, readable, hits, on_target = on.toordinal(), 0, 0, None
            if not calendar.is_paused(day) and counted:
                rule = only_rule or rule_of(rules, day)
                readable, hits = len(counted), len(counted.translate(None, _MISSES))
                date_index = calendar.index(day)
                if readable >= rule.minimum_readable:
                    on_target = hits >= rule.on_target_share * readable - TOLERANCE
                    self._indices.append(date_index)
                    self._on_target.append(self._on_target[-1] + on_target)
                self.tests.append(Test(len(self.tests), day, date_index, len(self._indices), counted, rule))
            self.verdicts.append(Verdict(on, readable, hits, on_target))

    def window(self, test: Test) -> Window:
        """The latest judged day and those within the span before it; of these the latest ``window_days``."""
        if test.judged == 0:
            return Window(0, 0)
        oldest = self._indices[test.judged - 1] - test.rule.window_span_days + 1
        within = bisect_left(self._indices, oldest, 0, test.judged)
        first = max(within, test.judged - test.rule.window_days)
        return Window(test.judged - first, self._on_target[test.judged] - self._on_target[first])

    def at_most(self, test: Test, limit: int | None) -> bool:
        """Whether on-target days and days missing from the window together are ``limit`` or fewer. None: never."""
        if limit is None:
            return False
        days, on_target = self.window(test)
        return on_target + test.rule.window_days - days <= limit

    def notes_short(self, test: Test) -> tuple[int, ...]:
        """The notes that have not hit often enough of late, or were not tried often enough of late. Lowest first."""
        if self._short is None or self._short[0] != test.place:
            self._short = (test.place, self._find_short(test))
        return self._short[1]

    def _find_short(self, test: Test) -> tuple[int, ...]:
        rule = test.rule
        if rule.note_tries == 0:
            return ()
        oldest_fresh = test.date_index - rule.note_fresh_days + 1
        tried, hit, fresh = [0] * HIT, [0] * HIT, [0] * HIT
        for place in range(test.place, -1, -1):
            is_fresh = self.tests[place].date_index >= oldest_fresh
            if not is_fresh and not any(
                hit[note] < rule.note_hits and tried[note] < rule.note_tries and fresh[note] >= rule.note_fresh_tries
                for note in self.notes
            ):
                break  # nothing older can change the answer for any note
            for byte in reversed(self.tests[place].counted):
                note = byte & 127
                fresh[note] += is_fresh
                if tried[note] < rule.note_tries:
                    tried[note] += 1
                    hit[note] += byte >> 7
        return tuple(note for note in self.notes if hit[note] < rule.note_hits or fresh[note] < rule.note_fresh_tries)

    def met(self, test: Test) -> bool:
        """Whether the rule was met: a full window, enough of it on target, and no note short."""
        days, on_target = self.window(test)
        return days >= test.rule.window_days and on_target >= test.rule.opens_at and not self.notes_short(test)
