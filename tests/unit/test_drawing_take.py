"""A whole take on one sheet: what lies where, and that the file stands alone."""

import math
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from django.template.loader import render_to_string
from django.utils import translation

from analysis.core.records import AudioInfo, Capture, Evenness, Measurement, Tone
from analysis.drawing.take import LEFT, LEVEL_HEIGHT, LEVEL_TOP, TakePlot, envelope_db, take_plot
from tests.unit.drawn_tones import between, target, tone

RATE_HZ = 8_000
SVG = "{http://www.w3.org/2000/svg}"


def measured(*tones: Tone, duration_s: float = 12.0, missing: tuple[str, ...] = ()) -> Measurement:
    return Measurement(
        engine="test",
        audio=AudioInfo(duration_s=duration_s, sample_rate_hz=48_000, channels=1, codec="opus", sha256="0" * 64),
        capture=Capture(-60.0, 40.0, clipped=False, level_control_suspected=False, readable=True),
        tones=tones,
        evenness=Evenness(),
        missing=missing,
        extra=(),
        cautions=(),
    )


def silence(duration_s: float = 12.0) -> np.ndarray:
    return np.zeros(int(duration_s * RATE_HZ), dtype=np.float32)


def sheet(plot: TakePlot) -> ET.Element:
    return ET.fromstring(render_to_string("analysis/take_plot.svg.html", {"plot": plot, "title": "evening.m4a, alto"}))


def test_a_full_scale_sine_has_an_envelope_of_minus_three_db() -> None:
    """RMS of a sine is its peak over the root of two (definition)."""
    sine = np.sin(2 * np.pi * 400 * np.arange(RATE_HZ) / RATE_HZ).astype(np.float32)
    assert envelope_db([sine], RATE_HZ, 0.05) == pytest.approx(np.full(20, -10 * math.log10(2)), abs=0.01)


def test_the_envelope_is_the_same_in_blocks_of_any_length() -> None:
    noise = np.random.default_rng(4).normal(0, 0.1, 10_000).astype(np.float32)
    whole = envelope_db([noise], RATE_HZ, 0.033)
    assert np.array_equal(whole, envelope_db(np.split(noise, [1, 700, 5_003]), RATE_HZ, 0.033))


def test_tones_stand_where_they_sound() -> None:
    plot = take_plot(measured(tone(start_s=3.0, lasts_s=8.0)), silence(), RATE_HZ)
    px_per_s = (plot.right - plot.left) / 12.0
    assert plot.tones[0].x0 == pytest.approx(LEFT + 3 * px_per_s, abs=0.1)
    assert plot.tones[0].x1 == pytest.approx(LEFT + 11 * px_per_s, abs=0.1)
    assert plot.tones[0].note == "C♯5"


def test_the_target_is_a_band_and_what_leaves_it_is_filled() -> None:
    plot = take_plot(measured(tone(between(2, 4, 25.0))), silence(), RATE_HZ, targets=[target()])
    drawn = plot.tones[0]
    assert drawn.band is not None
    assert drawn.band[0] + drawn.band[1] / 2 == pytest.approx(plot.pitch_zero)
    assert drawn.outside.count("z") == 1


def test_a_tone_without_a_target_has_no_band() -> None:
    plot = take_plot(measured(tone(), tone(index=1, start_s=11.5)), silence(30), RATE_HZ, targets=[target(), None])
    assert [drawn.band is None for drawn in plot.tones] == [False, True]


def test_wide_targets_widen_the_axis_so_that_they_are_seen() -> None:
    narrow = take_plot(measured(tone()), silence(), RATE_HZ, targets=[target(8.0)])
    wide = take_plot(measured(tone()), silence(), RATE_HZ, targets=[target(60.0)])
    for plot in (narrow, wide):
        top, height = plot.tones[0].band or (0, 0)
        assert plot.pitch_top < top < top + height < plot.pitch_bottom
    assert max(int(word.replace("−", "-")) for _, word in wide.cents) >= 100


def test_the_flagged_second_is_marked() -> None:
    plot = take_plot(measured(tone()), silence(), RATE_HZ, flagged=[(6.0, 7.5)])
    px_per_s = (plot.right - plot.left) / 12.0
    assert plot.flags[0].x0 == pytest.approx(LEFT + 6 * px_per_s, abs=0.1)
    assert "here, 6.0 s" in "".join(sheet(plot).itertext())


def test_what_could_not_be_read_says_why_and_what_was_not_heard_is_named() -> None:
    plot = take_plot(measured(tone(reasons=("too_noisy",)), missing=("Bb3", "F#6")), silence(), RATE_HZ)
    words = "".join(sheet(plot).itertext())
    assert "too_noisy" in words
    assert "B♭3, F♯6" in words


def test_a_take_without_a_tone_says_so() -> None:
    assert "No tone was found." in "".join(sheet(take_plot(measured(), silence(), RATE_HZ)).itertext())


def test_silence_has_no_envelope() -> None:
    assert take_plot(measured(), silence(), RATE_HZ).envelope == ""


def test_loud_stands_higher_than_soft_and_both_stay_on_the_sheet() -> None:
    plot = take_plot(measured(tone(level_db=lambda at_s: 10.0 - 30 * at_s)), silence(), RATE_HZ)
    ys = [float(pair.split(" ")[1]) for pair in plot.tones[0].level[1:].split("L")]
    assert ys == sorted(ys)
    assert ys[0] >= LEVEL_TOP
    assert ys[-1] <= LEVEL_TOP + LEVEL_HEIGHT


def test_a_long_take_stays_a_file_that_opens() -> None:
    plot = take_plot(measured(duration_s=1_500.0), silence(1_500), RATE_HZ)
    assert plot.width == 4_200
    assert len(plot.seconds) < 60


def test_the_file_needs_nothing_from_elsewhere() -> None:
    text = render_to_string(
        "analysis/take_plot.svg.html", {"plot": take_plot(measured(tone()), silence(), RATE_HZ), "title": "a <b>.wav"}
    )
    assert ET.fromstring(text).tag == f"{SVG}svg"
    assert "a &lt;b&gt;.wav" in text
    assert "url(" not in text
    assert "href" not in text


def test_numbers_of_the_drawing_keep_their_points_in_other_languages() -> None:
    plot = take_plot(measured(tone(between(2, 4, 25.0))), silence(), RATE_HZ, targets=[target()], flagged=[(6.0, 7.0)])
    with translation.override("de"):
        for element in sheet(plot).iter():
            assert all("," not in element.get(name, "") for name in ("x", "y", "d", "width", "height", "viewBox"))
