"""The gate a second time, slowly: every sentence of its rule taken literally, day by day.

Written apart from ``assignments.gate`` and importing nothing of it. It works on the plain fields of a history line and
asks each question of the whole history again for each day; only answers about a single day are kept. For tests alone.
"""

from __future__ import annotations

from datetime import date, timedelta
from functools import cache
from typing import Any

ONE_DAY = timedelta(days=1)
USUAL: dict[str, Any] = {
    "on_target_share": 0.8, "planned": 20, "window_days": 10, "window_span_days": 21, "opens_at": 8,
    "note_hits": 3, "note_tries": 5, "note_fresh_tries": 3, "note_fresh_days": 30, "teacher_confirms": True,
    "notice_at": 6, "shuts_at": 4, "grace_days": 3, "rest_after_days": 14, "rest_days_on_target": 3,
}  # fmt: skip


def day_of(text: str) -> date:
    return date.fromisoformat(text)


class Oracle:
    def __init__(self, history: dict[str, Any]) -> None:
        self.on = day_of(history["on"])
        self.lowest, self.highest = history["range"]
        self.tries = [t for t in history["tries"] if day_of(t["on"]) <= self.on]
        self.teacher = sorted(
            (t for t in history.get("teacher", []) if day_of(t["on"]) <= self.on), key=lambda t: t["on"]
        )
        self.asked_notes = [
            note for note in range(self.lowest, self.highest + 1) if note not in history.get("excluded", [])
        ]
        given = history.get("rule", {})
        self.rules = given if isinstance(given, list) else [{**given, "from": "2000-01-01"}]
        days = [t["on"] for t in self.tries] + [t["on"] for t in self.teacher]
        first = min(map(day_of, days), default=self.on)
        self.calendar = [first + n * ONE_DAY for n in range((self.on - first).days + 1)]
        for question in ("rule", "paused", "counted", "on_target", "last_test", "window", "short"):
            setattr(self, question, cache(getattr(self, question)))

    # --- what was said and played -----------------------------------------------------------

    def rule(self, day: date) -> dict[str, Any]:
        by_start = sorted(self.rules, key=lambda r: r["from"])
        chosen = [r for r in by_start if r["from"] == by_start[0]["from"]][-1]
        for candidate in by_start:
            if day_of(candidate["from"]) <= day:
                chosen = candidate
        rule = {**USUAL, **chosen}
        rule.setdefault("minimum_readable", -(-rule["planned"] * 6 // 10))
        return rule

    def word_of(self, day: date, words: tuple[str, ...]) -> str | None:
        """Which of the teacher's lasting words holds at the end of a day."""
        holding = None
        for said in self.teacher:
            if day_of(said["on"]) <= day:
                if said["decision"] in words:
                    holding = said
                elif said["decision"] == "resume":
                    holding = None
        if holding is None or ("until" in holding and day > day_of(holding["until"])):
            return None
        return str(holding["decision"])

    def paused(self, day: date) -> bool:
        return self.word_of(day, ("pause",)) is not None

    def in_range(self, day: date) -> list[dict[str, Any]]:
        return [t for t in self.tries if day_of(t["on"]) == day and self.lowest <= t["written_midi"] <= self.highest]

    def counted(self, day: date) -> list[tuple[int, bool]]:
        if self.paused(day):
            return []
        found: dict[tuple[int, str], bool] = {}
        for t in self.in_range(day):
            tone = (t["written_midi"], t["tone"])
            if t["outcome"] != "unreadable" and tone not in found:
                found[tone] = t["outcome"] == "hit"
        return [(note, hit) for (note, _), hit in found.items()]

    def on_target(self, day: date) -> bool | None:
        rule, counted = self.rule(day), self.counted(day)
        if self.paused(day) or len(counted) < rule["minimum_readable"] or not self.in_range(day):
            return None
        return sum(hit for _, hit in counted) >= rule["on_target_share"] * len(counted) - 1e-9

    def unpaused_days(self, after: date, through: date) -> int:
        return sum(after < day <= through and not self.paused(day) for day in self.calendar)

    # --- the test ---------------------------------------------------------------------------

    def is_tested(self, day: date) -> bool:
        return not self.paused(day) and bool(self.counted(day))

    def last_test(self, day: date) -> date | None:
        return max((d for d in self.calendar if d <= day and self.is_tested(d)), default=None)

    def window(self, test: date) -> tuple[int, int]:
        rule = self.rule(test)
        judged = [d for d in self.calendar if d <= test and self.on_target(d) is not None]
        if not judged:
            return 0, 0
        latest = judged[-1]
        within = [d for d in judged if self.unpaused_days(d, latest) <= rule["window_span_days"] - 1]
        kept = within[-rule["window_days"] :]
        return len(kept), sum(bool(self.on_target(d)) for d in kept)

    def short(self, test: date) -> list[int]:
        rule = self.rule(test)
        if rule["note_tries"] == 0:
            return []
        found = []
        for note in self.asked_notes:
            tries = [(d, hit) for d in self.calendar if d <= test for n, hit in self.counted(d) if n == note]
            hits = sum(hit for _, hit in tries[-rule["note_tries"] :])
            fresh = sum(self.unpaused_days(d, test) < rule["note_fresh_days"] for d, _ in tries)
            if hits < rule["note_hits"] or fresh < rule["note_fresh_tries"]:
                found.append(note)
        return found

    def met(self, test: date | None) -> bool:
        if test is None:
            return False
        rule, (days, on_target) = self.rule(test), self.window(test)
        return days == rule["window_days"] and on_target >= rule["opens_at"] and not self.short(test)

    def low(self, test: date | None, limit: int | None, today: date) -> bool:
        if limit is None:
            return False
        days, on_target = self.window(test) if test else (0, 0)
        return on_target + self.rule(test or today)["window_days"] - days <= limit

    # --- day by day -------------------------------------------------------------------------

    def walk(self) -> None:
        self.by_rule = False
        self.open_at_end: dict[date, bool] = {}
        opened, slipping, not_yet_through = date.min, 0, date.min
        for day in self.calendar:
            before, test = self.last_test(day - ONE_DAY), self.last_test(day)
            rule = self.rule(test or day)
            answers = [t for t in self.teacher if day_of(t["on"]) == day and t["decision"] in ("confirm", "not_yet")]
            if answers and answers[-1]["decision"] == "not_yet":
                not_yet_through = day_of(answers[-1]["until"]) if "until" in answers[-1] else day + 6 * ONE_DAY
            said_yes = bool(answers) and answers[-1]["decision"] == "confirm"
            if said_yes and not self.by_rule and (self.met(before) or self.met(test)):
                self.by_rule, opened, slipping = True, day, 0
            if self.by_rule and day > opened and not self.paused(day):
                slipping = slipping + 1 if self.low(test, rule["shuts_at"], day) else 0
                if slipping >= rule["grace_days"] + 1:
                    self.by_rule = False
            by_itself = not rule["teacher_confirms"] and not self.paused(day) and day > not_yet_through
            if by_itself and not self.by_rule and self.met(test):
                self.by_rule, opened, slipping = True, day, 0
            word = self.word_of(day, ("open", "shut"))
            self.open_at_end[day] = word == "open" if word else self.by_rule
        self.withdrawn = self.on <= not_yet_through

    def openings(self) -> list[dict[str, str | None]]:
        found: list[dict[str, str | None]] = []
        was = False
        for day, is_open in self.open_at_end.items():
            if is_open and not was:
                found.append({"opened_on": day.isoformat(), "shut_on": None})
            if was and not is_open:
                found[-1]["shut_on"] = day.isoformat()
            was = is_open
        return found

    def rests(self) -> bool:
        rule = self.rule(self.last_test(self.on) or self.on)
        if rule["rest_after_days"] is None:
            return False
        opened = [day_of(t["on"]) for t in self.teacher if t["decision"] == "open"]
        played = {day_of(t["on"]) for t in self.tries} | set(opened)
        for back in reversed(self.calendar):  # the latest day with such a break right before it
            break_days = [back - n * ONE_DAY for n in range(1, rule["rest_after_days"] + 1)]
            if any(d in played for d in break_days) or not any(d < min(break_days, default=back) for d in played):
                continue
            if opened and max(opened) >= min(break_days, default=back):
                return False
            since = [d for d in self.calendar if d >= back and self.on_target(d)]
            return len(since) < rule["rest_days_on_target"]
        return False

    def state(self, word: str | None, met: bool) -> str:
        if self.paused(self.on):
            return "paused"
        if word == "open" or (word is None and self.by_rule):
            return "resting" if self.rests() else "open"
        if word == "shut":
            return "shut"
        if met and not self.withdrawn:
            return "ready"
        return "shut" if self.openings() else "building"

    def reasons(self, state: str, word: str | None, met: bool, notice: bool, found: dict[str, Any]) -> list[str]:
        if state in ("open", "resting"):
            slips = self.low(
                self.last_test(self.on), self.rule(self.last_test(self.on) or self.on)["shuts_at"], self.on
            )
            told = ["teacher_opened"] * (word == "open") + ["after_break"] * (state == "resting")
            return told + ["slipping"] * notice + ["shutting_soon"] * (not word and slips)
        if state == "paused" or word == "shut":
            return ["teacher_paused" if state == "paused" else "teacher_shut"]
        if met:
            return ["waiting_for_teacher" if state == "ready" else "teacher_not_yet"]
        rule = self.rule(self.last_test(self.on) or self.on)
        full = found["window"]["days"] == rule["window_days"]
        few = full and found["window"]["on_target"] < rule["opens_at"]
        return ["too_few_days"] * (not full) + ["days_off_target"] * few + ["notes_short"] * bool(found["notes_short"])

    def listed(self, day: date) -> dict[str, Any]:
        hits = [hit for _, hit in self.counted(day)]
        verdict = {"readable": len(hits), "hits": sum(hits), "on_target": self.on_target(day)}
        return {"on": day.isoformat(), **verdict}

    def answer(self) -> dict[str, Any]:
        self.walk()
        test = self.last_test(self.on)
        rule, met, openings = self.rule(test or self.on), self.met(test), self.openings()
        word = self.word_of(self.on, ("open", "shut"))
        days, on_target = self.window(test) if test else (0, 0)
        state = self.state(word, met)
        notice = state in ("open", "resting") and self.low(test, rule["notice_at"], self.on)
        found: dict[str, Any] = {
            "state": state,
            "days": [self.listed(d) for d in self.calendar if self.in_range(d)],
            "window": {"days": days, "on_target": on_target},
            "notes_short": self.short(test) if test else self.asked_notes if rule["note_tries"] else [],
            "openings": openings,
            "opened_on": max((o["opened_on"] for o in openings if o["opened_on"]), default=None),
            "shut_on": max((o["shut_on"] for o in openings if o["shut_on"]), default=None),
            "notice": notice,
        }
        return found | {"reasons": self.reasons(state, word, met, notice, found)}
