"""How many machines so many students take: checked by hand with round numbers, and the guide says the same."""

from __future__ import annotations

import pytest

from tests.bench import capacity, figures
from tests.bench.capacity import Assumed, load
from tests.tables import GUIDE

ROUND = figures.Figures(
    page_processor_s=0.01,
    tone_s=10.0,
    tone_processor_s=0.1,
    tone_bytes=100_000,
    row_bytes=dict.fromkeys(capacity.ROWS_A_TAKE, 500.0),
    web_process_mb=100.0,
    worker_mb=200.0,
)
EVERY_DAY = Assumed(
    days_a_week=7, takes_a_day=18, peak_share=0.5, requests_a_take=3, pages_a_day=18, busy=0.5, keep_days=60
)


def test_a_worked_case_of_a_thousand_students() -> None:
    found = load(1000, ROUND, EVERY_DAY)
    assert found.takes_a_day == 18_000
    assert found.takes_a_second_at_peak == 2.5  # nine thousand in 3,600 s
    assert found.requests_a_second_at_peak == 10.0  # four each
    assert found.workers_at_peak == 1  # a quarter of a second's work in each second, at half a processor
    assert found.web_processes == 1
    assert found.stored_gb_a_day == pytest.approx(1.8)
    assert found.stored_gb == pytest.approx(108)
    assert found.rows_a_day == 72_000
    assert found.database_gb_a_year == pytest.approx(365 * 18_000 * 2000 / 1e9)
    assert found.queued_mb_an_hour == pytest.approx(9.0)


def test_a_thousand_times_the_students_take_a_thousand_times_the_machines() -> None:
    few, many = (load(students, ROUND, EVERY_DAY) for students in (1000, 1_000_000))
    assert (many.workers_at_peak, many.web_processes) == (500, 200)
    assert many.stored_gb == pytest.approx(1000 * few.stored_gb)


def test_large_numbers_are_told_to_two_digits() -> None:
    assert [capacity.shown(value) for value in (0.0123, 4, 94.6, 143_210)] == ["0.012", "4", "95", "140,000"]


def test_the_guides_table_follows_from_what_was_measured() -> None:
    assert capacity.table(figures.read(), Assumed()) in GUIDE.read_text(encoding="utf-8")
