"""Through the days in order: when the rule itself opened the gate, and when it shut it again."""

from __future__ import annotations

from collections.abc import Mapping

from assignments.gate.calendar import Calendar
from assignments.gate.ledger import Ledger, Test
from assignments.gate.records import Decision

NOT_YET_DAYS = 6  # a "not yet" without an end holds for its own day and this many more


class Walk:
    """The gate by its rule alone, below any override. Days are ordinals.

    After ``Walk(...)`` it stands at the end of ``today``. A changed rule speaks at the next test, so the rule in force
    is always that of the last test: what it found stands until the next one, slipping and notice included.
    """

    def __init__(self, ledger: Ledger, calendar: Calendar, answers: Mapping[int, Decision], today: int) -> None:
        self.spells: list[tuple[int, int | None]] = []
        self.test: Test | None = None
        self.open_since: int | None = None
        self._ledger = ledger
        self._calendar = calendar
        self._not_yet_through = 0
        self._slipping_days = 0
        self._walk(answers, today)

    @property
    def is_met(self) -> bool:
        """What the last test found."""
        return self.test is not None and self._ledger.met(self.test)

    @property
    def slips(self) -> bool:
        return self.test is not None and self._ledger.at_most(self.test, self.test.rule.shuts_at)

    def is_withdrawn(self, day: int) -> bool:
        """Whether a "not yet" stands."""
        return day <= self._not_yet_through

    def _walk(self, answers: Mapping[int, Decision], today: int) -> None:
        tests = {test.day: test for test in self._ledger.tests}
        after = 0
        for day in sorted(tests.keys() | answers.keys()) if answers else tests:
            test, answer = tests.get(day), answers.get(day)
            if test and not answer and self._waits and test.rule.teacher_confirms:
                self.test = test
            else:
                self._quiet(after, day - 1)
                self._day(day, test, answer)
            after = day + 1
        self._quiet(after, today)

    @property
    def _waits(self) -> bool:
        """Whether nothing but a teacher's answer, or a test under another rule, can move the gate."""
        return self.open_since is None and (self.test is None or self.test.rule.teacher_confirms)

    def _day(self, day: int, test: Test | None, answer: Decision | None) -> None:
        """A day with a test or an answer, or both."""
        said_yes = answer is not None and answer.kind == "confirm"
        if answer is not None and answer.kind == "not_yet":
            self._not_yet_through = answer.until.toordinal() if answer.until else day + NOT_YET_DAYS
        if said_yes and self.open_since is None and self.is_met:
            self._open(day)
        if test is not None:
            self.test = test
        if said_yes and self.open_since is None and self.is_met:
            self._open(day)
        self._quiet(day, day)

    def _quiet(self, first: int, last: int) -> None:
        """The ends of the days ``first`` to ``last``, between which no test and no answer lies."""
        if self.test is None or first > last:
            return
        if self.open_since is not None:
            self._look(max(first, self.open_since + 1), last)
        elif not self.test.rule.teacher_confirms:
            index = self._calendar.index(max(first, self._not_yet_through + 1) - 1) + 1
            if index <= self._calendar.index(last) and self.is_met:
                self._open(self._calendar.day(index))

    def _look(self, first: int, last: int) -> None:
        """Count slipping days in a row, paused ones cut out; shut when there are more than the days of grace."""
        before = self._calendar.index(first - 1)
        days = self._calendar.index(last) - before
        if days <= 0 or self.test is None:
            return
        if not self.slips:
            self._slipping_days = 0
            return
        wanted = max(1, self.test.rule.grace_days + 1 - self._slipping_days)
        if days < wanted:
            self._slipping_days += days
            return
        self.spells[-1] = (self.spells[-1][0], self._calendar.day(before + wanted))
        self.open_since = None

    def _open(self, day: int) -> None:
        self.open_since = day
        self._slipping_days = 0
        self.spells.append((day, None))
