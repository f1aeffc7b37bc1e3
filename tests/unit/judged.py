"""A tone held against its target, for the tests of the judge: what was asked, what was heard, what was missed."""

from __future__ import annotations

from dataclasses import replace

from analysis.core.judge import judge
from analysis.core.records import Asked, Attack, Check, LevelScale, ShapeReading, Tone, Verdict, Vibrato
from analysis.core.targets import target_for
from tests.unit.made import QUIET

ASKED = Asked(written_midi=72)
GOOD = Attack(rise_s=0.03, scoop_cents=-2.0, settle_s=0.05, air_before_s=0.0)
SWELL = ShapeReading(
    "swell", True, 18.0, 0.5, 6.0, 6.0, 0.99, pitch_range_cents=5.0, ends_differ_db=0.5, worst_backwards_db=0.2
)
WAVES = Vibrato(True, 5.0, 20.0, 0.03, 0.1)


def verdict(
    heard: Tone,
    asked: Asked = ASKED,
    *,
    scale: LevelScale | None = None,
    levelled: bool = False,
    level: str = "intermediate",
) -> Verdict:
    target = target_for(level, asked.written_midi, asked.dynamic, lowest=58, highest=90, partial=asked.partial)  # type: ignore[arg-type]
    return judge(heard, asked, target, replace(QUIET, level_control_suspected=levelled), scale)


def missed(found: Verdict, must: bool | None = None) -> list[str | None]:
    return [c.code for c in found.checks if c.verdict == "missed" and must in (None, c.must)]


def check(found: Verdict, part: str) -> Check:
    (only,) = [c for c in found.checks if c.part == part]
    return only
