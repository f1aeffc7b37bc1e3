"""Another wind instrument is a row of a table and nothing else: a clarinet and a flute, added for the test."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

import numpy as np
import pytest

from analysis.core import tables
from analysis.core.measure import measure
from analysis.core.records import Asked, AudioInfo, Request
from analysis.core.tables import hz_of_midi
from assignments import builds, planner, targets
from assignments.exercises import kinds, slots_of
from assignments.queries import card
from assignments.sheets import card as card_sheet
from assignments.sheets import pdf
from assignments.sheets.records import PAPERS
from assignments.staves import stave_of
from studio.forms import HornForm
from tests import builders, people

ROWS = """
[clarinet]
key = "B♭"
sounds_semitones = -2
lowest_written = 52
highest_written = 91
window_samples = 2048

[flute]
key = "C"
sounds_semitones = 0
lowest_written = 60
highest_written = 96
window_samples = 1536
options = [{ name = "with the low B key", lowest_written = 59, highest_written = 96 }]
"""
RATE_HZ = 24_000
RANGES = {"clarinet": (52, 91, -2), "flute": (60, 96, 0)}


@pytest.fixture(autouse=True)
def with_two_more_rows(monkeypatch, tmp_path: Path):
    shutil.copytree(Path(tables.__file__).parent / "data", tmp_path / "data")
    with (tmp_path / "data" / "instruments.toml").open("a") as table:
        table.write(ROWS)
    monkeypatch.setattr(tables, "__file__", str(tmp_path / "tables.py"))
    tables.instruments.cache_clear()
    yield
    tables.instruments.cache_clear()


def tone_of(sounding_midi: int) -> np.ndarray:
    """Six seconds of ten odd-heavy partials with a second of near silence either side."""
    t_s = np.arange(6 * RATE_HZ) / RATE_HZ
    f0_hz = hz_of_midi(sounding_midi)
    parts = [(k, (1.0 if k % 2 else 0.2) / k) for k in range(1, 11) if k * f0_hz < RATE_HZ / 2.2]
    sound = sum(amplitude * np.sin(2 * np.pi * k * f0_hz * t_s) for k, amplitude in parts) * 0.1
    edge = np.minimum(1.0, np.minimum(t_s, t_s[::-1]) / 0.05)
    quiet = np.random.default_rng(5).normal(0.0, 1e-5, RATE_HZ)
    return np.concatenate([quiet, sound * edge, quiet]).astype(np.float32)


@pytest.mark.parametrize("kind", RANGES)
def test_it_is_measured_by_its_written_names(kind):
    lowest, highest, sounds = RANGES[kind]
    for written in (lowest, (lowest + highest) // 2, highest):
        sound = tone_of(written + sounds)
        info = AudioInfo(len(sound) / RATE_HZ, RATE_HZ, 1, "flac", "0" * 64)
        heard = measure([sound], lambda info=info: info, Request(kind, 440.0, (Asked(written, dynamic="mf"),)))
        (tone,) = heard.tones
        assert (tone.written_midi, tone.readable) == (written, True)
        assert tone.pitch_cents == pytest.approx(0.0, abs=1.0)


@pytest.mark.parametrize("kind", RANGES)
def test_its_staves_hold_every_note(kind):
    lowest, highest, _sounds = RANGES[kind]
    for written in range(lowest, highest + 1):
        stave = stave_of([written])
        (note,) = stave.notes
        assert stave.top + 50 <= note.y <= stave.top + stave.height - 50


@pytest.mark.parametrize("kind", RANGES)
def test_the_planner_walks_its_whole_range(kind):
    lowest, highest, _sounds = RANGES[kind]
    played: list[planner.Play] = []
    for on in (dt.date(2026, 3, 2), dt.date(2026, 3, 3)):
        day = planner.plan(played, on=on, lowest_written=lowest, highest_written=highest, slots=60, seed=1)
        played += [planner.Play(on, tone.written_midi, tone.tone, "hit", tone.lane) for tone in day.tones]
    assert {one.written_midi for one in played} == set(range(lowest, highest + 1))  # none is forgotten
    run = slots_of(kinds()["evenness_run"], (lowest, highest))
    assert [slot.written_midi for slot in run[: highest - lowest + 1]] == list(range(lowest, highest + 1))


@pytest.mark.django_db
@pytest.mark.parametrize("kind", RANGES)
def test_a_student_has_it_with_its_own_week_targets_and_card(kind, studio, teacher):
    lowest, highest, _sounds = RANGES[kind]
    offered = {value for _label, group in builds.choices() for value, _words in group}
    value = f"{kind} {lowest} {highest}"
    assert value in offered
    form = HornForm({"horn": value, "level": "beginner"}, horns=builds.choices())
    assert form.is_valid(), form.errors
    horn = people.horn(studio, **{name: one for name, one in form.build().items() if name != "kind"}, kind=kind)
    assert builds.words(horn) == kind
    week = builders.week(horn, teacher)
    held = [targets.held(horn, week.starts_on, midi, "mf") for midi in (lowest, (lowest + highest) // 2)]
    assert held[0].pitch_cents > held[1].pitch_cents  # the ends of its own range have more room
    page = card.page(horn, studio.today())
    assert {tone.written_midi for day in page.days for tone in day.tones} == set(range(lowest, highest + 1))
    for paper in PAPERS.values():
        sheet = card_sheet.laid(page, paper, "https://quay.example.org/today/")
        assert pdf.drawn(sheet).startswith(b"%PDF")
        assert all(5.0 <= y <= paper.height_mm - 5.0 for rule in sheet.rules for _x, y in (rule.from_mm, rule.to_mm))
