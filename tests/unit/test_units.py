"""Quick numbers in place of numpy's slow ones: the same values."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.core.units import median, percentiles, reach


@pytest.mark.parametrize("count", [1, 2, 3, 10, 61])
def test_percentiles_reach_and_median_are_those_of_numpy(count: int) -> None:
    values = np.random.default_rng(count).standard_normal(count)
    percents = (0, 2.5, 20, 50, 90, 100)
    assert percentiles(values, *percents) == pytest.approx(np.percentile(values, percents), abs=1e-12)
    assert reach(values) == pytest.approx(np.subtract(*np.percentile(values, (90, 10))), abs=1e-12)
    assert median(values) == pytest.approx(np.median(values), abs=1e-12)
