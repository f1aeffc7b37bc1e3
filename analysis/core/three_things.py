"""What a student reads after a session: one thing that went well, one to listen to, one for tomorrow.

Chosen from the day's verdicts and nothing else; "last time it took a moment" is said only when the last time's checks
say so. Codes have their words in data/words.toml.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from analysis.core.records import Asked, Check, Tone, Verdict
from analysis.core.targets import share

Family = Literal["start", "steady", "pitch", "shape", "vibrato", "level", "note"]

# Which family a check belongs to, and how much a student hears of it: the order in which equal things are told.
FAMILIES: dict[str, Family] = {
    "note": "note",
    "crack": "start",
    "start": "start",
    "shape": "shape",
    "steadiness": "steady",
    "pitch": "pitch",
    "vibrato": "vibrato",
    "level": "level",
}
FLAG_SEVERITY = 2.0  # of what is there or not, such as a crack: as if twice its limit
MOST_SEVERITY = 5.0
AGAIN = 0.3  # each time the same family comes up that day makes it weightier by this share


@dataclass(frozen=True, slots=True)
class Played:
    """One tone of the day. ``tone`` None: nothing was heard. ``key``: the caller's own name for it, handed back."""

    asked: Asked
    verdict: Verdict
    tone: Tone | None = None
    key: str = ""

    @property
    def word(self) -> str:
        return word(self.asked)


@dataclass(frozen=True, slots=True)
class Before:
    """The checks of the same note and tone on an earlier day."""

    on: str  # ISO date
    written_midi: int
    word: str  # dynamic mark or shape
    checks: tuple[Check, ...]


@dataclass(frozen=True, slots=True)
class Thing:
    """One thing to say: ``code`` with its note and mark, perhaps with another sentence, and where to listen."""

    code: str
    written_midi: int
    word: str
    family: Family
    also: tuple[str, ...] = ()  # before_…, start_is_clean
    at_s: tuple[float, float] | None = None
    key: str = ""


@dataclass(frozen=True, slots=True)
class ThreeThings:
    """None: there is nothing of that kind to say. ``tomorrow`` without a note is a rest."""

    well: Thing | None
    listen: Thing | None
    tomorrow: Thing | None


def word(asked: Asked) -> str:
    """The tone word of the histories: a shape's name, or the mark of a plain tone."""
    return asked.dynamic if asked.shape in ("sustained", "evenness") else asked.shape


def three_things(played: Sequence[Played], before: Iterable[Before] = ()) -> ThreeThings:
    """The three things of one day. ``played`` in playing order; ``before``: earlier days, any order."""
    heard = [one for one in played if one.verdict.outcome != "unreadable"]
    missed = list(_missed(heard))
    return ThreeThings(
        well=_well(heard, _latest(before)),
        listen=_listen(missed) or _advice(heard),
        tomorrow=_tomorrow(heard, missed),
    )


def severity(check: Check) -> float:
    """How far a missed check lies from its limit: 1 at the limit, at most 5."""
    if check.value is None or check.limit is None or check.limit <= 0.0 or check.value <= 0.0:
        return FLAG_SEVERITY
    times = check.value / check.limit
    return min(max(times, 1.0 / times), MOST_SEVERITY)


@dataclass(frozen=True, slots=True)
class _Missed:
    one: Played
    check: Check
    family: Family


def _missed(heard: Iterable[Played]) -> Iterator[_Missed]:
    for one in heard:
        for check in one.verdict.checks:
            if check.must and check.verdict == "missed" and check.measure in FAMILIES:
                yield _Missed(one, check, FAMILIES[check.measure])


def _families(checks: Iterable[Check]) -> dict[Family, list[Check]]:
    """The deciding checks that could be made, by family."""
    told: dict[Family, list[Check]] = {}
    for check in checks:
        if check.must and check.measure in FAMILIES and check.verdict in ("met", "missed", "unsure"):
            told.setdefault(FAMILIES[check.measure], []).append(check)
    return told


def _met(checks: Iterable[Check]) -> bool:
    return all(check.verdict == "met" for check in checks)


def _room_to_spare(checks: Iterable[Check]) -> float:
    """Of the tightest of these checks, how much of the limit is left."""
    shares = [share(c.part, c.value, c.limit) for c in checks if c.value is not None and c.limit]
    return 1.0 - max(shares, default=0.5)


def _latest(before: Iterable[Before]) -> dict[tuple[int, str], Before]:
    latest: dict[tuple[int, str], Before] = {}
    for one in sorted(before, key=lambda one: one.on):
        latest[one.written_midi, one.word] = one
    return latest


def _well(heard: Sequence[Played], latest: dict[tuple[int, str], Before]) -> Thing | None:
    """What was not yet so last time comes first, then a tone on target, then the most room to spare."""
    best: tuple[tuple[bool, bool, float], Thing] | None = None
    for one in heard:
        last = latest.get((one.asked.written_midi, one.word))
        then = _families(last.checks) if last is not None else {}
        for family, checks in _families(one.verdict.checks).items():
            if family == "note" or not _met(checks):
                continue
            better = any(check.verdict == "missed" for check in then.get(family, ()))
            rank = (better, one.verdict.outcome == "hit", _room_to_spare(checks))
            if best is None or rank > best[0]:
                also = (f"before_{family}",) if better else ()
                best = rank, _thing(f"went_well_{family}", one, family, also)
    return None if best is None else best[1]


def _listen(missed: Sequence[_Missed]) -> Thing | None:
    """The weightiest miss: far from its limit, and of a kind that came up again and again."""
    if not missed:
        return None
    times = Counter(one.family for one in missed)
    worst = max(missed, key=lambda one: severity(one.check) * (1.0 + AGAIN * (times[one.family] - 1)))
    starts = _families(worst.one.verdict.checks).get("start", [])
    also = ("start_is_clean",) if worst.family not in ("start", "note") and starts and _met(starts) else ()
    return _thing(worst.check.code or "", worst.one, worst.family, also, worst.check.at_s)


def _advice(heard: Sequence[Played]) -> Thing | None:
    """Nothing was missed: then the largest of what is advice only."""
    advice = [
        (severity(check), one, check)
        for one in heard
        for check in one.verdict.checks
        if not check.must and check.verdict == "missed" and check.code
    ]
    if not advice:
        return None
    _, one, check = max(advice, key=lambda told: told[0])
    return _thing(check.code or "", one, FAMILIES.get(check.measure, "steady"), (), check.at_s)


def _tomorrow(heard: Sequence[Played], missed: Sequence[_Missed]) -> Thing | None:
    """What was missed on most tones, on the note where it lay furthest off; nothing missed: the same again."""
    if not heard:
        return None
    if not missed:
        return Thing("tomorrow_rest", heard[0].asked.written_midi, heard[0].word, "steady")
    tones = Counter(family for family, _ in {(one.family, id(one.one)) for one in missed})
    order = list(dict.fromkeys(FAMILIES.values()))
    family = max(order, key=lambda name: tones[name])
    worst = max((one for one in missed if one.family == family), key=lambda one: severity(one.check))
    return _thing(f"tomorrow_{family}", worst.one, family, ())


def _thing(
    code: str, one: Played, family: Family, also: tuple[str, ...], at_s: tuple[float, float] | None = None
) -> Thing:
    tone = one.tone
    return Thing(
        code,
        one.asked.written_midi,
        one.word,
        family,
        also,
        at_s or ((tone.start_s, tone.end_s) if tone is not None else None),
        one.key,
    )
