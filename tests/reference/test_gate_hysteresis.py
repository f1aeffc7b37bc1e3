"""Opening and shutting at different counts: how often the gate shuts again on a steady player, and how soon on a fall.

Source of the figures: the tables of hysteresis and decline of the simulation named in test_gate_simulation.py (house).
"""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest

from assignments import gate
from tests.reference.gate_students import FIRST, Population, as_days, skill_for
from tests.reference.gate_term import ALONE, NO_NOTE_RULE, POINTS, judged, students

FLAPS = {
    # shuts at so many of ten: shuttings in 100 practice days since the first opening, and percent of them open
    7: "2.6,10 4.4,28 4.5,64 0.7,97",
    6: "2.0,15 2.8,38 2.1,76 0.15,99",
    5: "1.6,21 2.0,47 1.0,85 0.03,100",
    4: "1.5,28 1.4,60 0.46,93 0,100",
    3: "1.2,40 0.85,73 0.16,97 0,100",
}


@pytest.mark.parametrize("shuts_at", FLAPS)
def test_how_often_the_gate_shuts_again_and_how_long_it_stands_open(shuts_at: int) -> None:
    """200 practice days, no grace, reopening as it opened; 8 of 10 alone."""
    rule = gate.rule_from(ALONE | NO_NOTE_RULE | {"shuts_at": shuts_at, "grace_days": 0})
    for p, cell in zip((0.80, 0.85, 0.90, 0.95), FLAPS[shuts_at].split(), strict=True):
        shuttings = since = is_open = 0
        for days in students(p, count=1000 if p == 0.80 else 400, days=200):
            spells = [
                ((s.opened_on - FIRST).days, (s.shut_on - FIRST).days if s.shut_on else 200)
                for s in judged(days, rule).openings
            ]
            if spells:
                since += 200 - spells[0][0]
                shuttings += sum(end < 200 for _, end in spells)
                is_open += sum(end - start for start, end in spells)
        per_hundred, share = (float(part) for part in cell.split(","))
        assert 100 * shuttings / since == pytest.approx(per_hundred, abs=0.3), f"p = {p}"
        assert 100 * is_open / since == pytest.approx(share, abs=POINTS), f"p = {p}"


@pytest.mark.parametrize(("falls_to", "median", "late"), [(0.80, 9, 26), (0.70, 6, 10), (0.60, 5, 7), (0.50, 5, 6)])
def test_a_collapse_after_opening_is_caught_within_days(falls_to: float, median: int, late: int) -> None:
    """Skill drops from .90 on practice day 41; practice days until four or fewer of the last ten are on target."""
    after = 41 + 60
    drop = np.where(np.arange(after) < 40, 0.0, skill_for(falls_to) - skill_for(0.90))
    rule = gate.rule_from(ALONE | NO_NOTE_RULE | {"shuts_at": 4, "grace_days": 0})
    waits = []
    for heard in Population.of(500, 0.90, seed=3).play(after, drop):
        spells = judged(as_days(heard), rule).openings
        day_40 = FIRST + timedelta(39)
        open_then = [s for s in spells if s.opened_on <= day_40 and (s.shut_on is None or s.shut_on > day_40)]
        if open_then:
            shut_on = open_then[0].shut_on
            waits.append((shut_on - day_40).days if shut_on else 61)
    assert len(waits) > 400
    assert abs(float(np.median(waits)) - median) <= 1
    assert abs(float(np.percentile(waits, 90)) - late) <= (2 if late < 20 else 5)
