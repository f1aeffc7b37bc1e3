"""Every measure against a truth that is not ours, over many tones. The same sweeps fill the guide's table.

Each sweep in tests/reference/sweeps names its source. ``python -m tests.reference.truth`` prints what they find.
"""

from __future__ import annotations

import pytest

from tests.reference.sweep import Sweep, run
from tests.reference.sweeps import ALL


@pytest.mark.parametrize("sweep", ALL, ids=lambda sweep: sweep.name)
def test_readings_stay_within_the_stated_tolerance(sweep: Sweep):
    found = run(sweep)
    assert found.most <= sweep.within, f"95 of 100 within {found.most:.3g} {sweep.unit}, {sweep.within} allowed"
    assert found.worst <= sweep.worst, f"worst {found.worst:.3g} {sweep.unit}, {sweep.worst} allowed"
