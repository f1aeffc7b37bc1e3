"""The generator: what it says it sounded is what can be read off the samples by other means."""

from __future__ import annotations

import time
from pathlib import Path

import av
import numpy as np
import parselmouth
import pytest
from scipy.signal import sosfilt

from analysis.synthesis import (
    DYNAMIC_DB,
    SAMPLE_RATE_HZ,
    Faults,
    GainControl,
    Place,
    Room,
    ToneSpec,
    Truth,
    render,
    write,
)
from analysis.synthesis.noises import Noises
from analysis.synthesis.placing import placed
from analysis.synthesis.spectra import K_WEIGHTING_SOS

SILENT = Place(noise_dbfs=None)


def part(samples: np.ndarray, start_s: float, end_s: float) -> np.ndarray:
    return samples[round(start_s * SAMPLE_RATE_HZ) : round(end_s * SAMPLE_RATE_HZ)]


def steady(samples: np.ndarray, truth: Truth) -> np.ndarray:
    return part(samples, truth.steady_start_s, truth.steady_end_s)


def rms_db(samples: np.ndarray) -> float:
    return float(10 * np.log10(np.mean(np.square(samples, dtype=np.float64)) + 1e-20))


def k_level_db(samples: np.ndarray, truth: Truth) -> float:
    return rms_db(steady(sosfilt(K_WEIGHTING_SOS, samples.astype(np.float64)), truth)) - 0.691


def praat_hz(samples: np.ndarray, f0_hz: float) -> np.ndarray:
    sound = parselmouth.Sound(samples.astype(np.float64), SAMPLE_RATE_HZ)
    pitch = sound.to_pitch_ac(time_step=0.01, pitch_floor=f0_hz / 1.6, pitch_ceiling=f0_hz * 2, very_accurate=True)
    f0 = pitch.selected_array["frequency"]
    return f0[f0 > 0]


@pytest.mark.parametrize(
    ("instrument", "written"),
    [("soprano", 90), ("alto", 58), ("alto", 75), ("tenor", 65), ("baritone", 58), ("bass", 62)],
)
def test_a_tone_has_the_pitch_and_level_that_its_truth_states(instrument, written):
    spec = ToneSpec(written_midi=written, dynamic="f", faults=Faults(cents=13.0, level_db=-2.0))
    samples, (truth,) = render([spec], instrument, a4_hz=442.0, place=SILENT)
    assert 1200 * np.log2(np.median(praat_hz(steady(samples, truth), truth.f0_hz)) / truth.f0_hz) == pytest.approx(
        0, abs=0.1
    )
    assert truth.level_db == pytest.approx(DYNAMIC_DB["f"] - 2.0)
    assert k_level_db(samples, truth) == pytest.approx(truth.level_db, abs=0.03)


def test_a_louder_tone_is_brighter_and_a_dull_one_is_as_loud():
    dynamics = [ToneSpec(written_midi=67, dynamic=dynamic) for dynamic in ("pp", "mf", "ff")]
    dull = ToneSpec(written_midi=67, dynamic="mf", faults=Faults(colour_db=-10.0))
    _, truths = render([*dynamics, dull])
    centroids = [truth.centroid_hz for truth in truths]
    assert centroids[0] < centroids[1] < centroids[2]
    assert centroids[3] < 0.9 * centroids[1]
    assert truths[3].level_db == pytest.approx(truths[1].level_db)


def test_tones_lie_where_the_truth_places_them_with_silence_around():
    samples, truths = render([ToneSpec(written_midi=60 + i, seconds=1.5, gap_s=0.6) for i in range(4)], place=SILENT)
    for truth in truths:
        full = rms_db(part(samples, truth.start_s + 0.2, truth.end_s - 0.2))
        assert rms_db(part(samples, truth.start_s - 0.3, truth.start_s - 0.02)) < full - 60
        assert rms_db(part(samples, truth.start_s + 0.1, truth.start_s + 0.2)) == pytest.approx(full, abs=1.5)
        assert rms_db(part(samples, truth.end_s + 0.1, truth.end_s + 0.4)) < full - 60


def test_slurred_tones_touch_without_a_click_or_a_gap():
    specs = [ToneSpec(written_midi=m, seconds=1.0, slurred=True) for m in (64, 66, 67, 71)]
    samples, truths = render(specs, place=SILENT)
    assert [t.start_s for t in truths[1:]] == pytest.approx([t.end_s for t in truths[:-1]])
    whole = part(samples, truths[0].start_s + 0.1, truths[-1].end_s - 0.1)
    levels = [rms_db(block) for block in np.array_split(whole, len(whole) // 480)]
    assert max(levels) - min(levels) < 6
    for truth in truths:
        assert np.median(praat_hz(steady(samples, truth), truth.f0_hz)) == pytest.approx(truth.f0_hz, rel=1e-4)


def test_a_swell_peaks_where_it_should_and_terraces_have_their_steps():
    swell = ToneSpec(written_midi=67, shape="swell", seconds=6.0, range_db=20.0, peak_at=0.4)
    stepped = ToneSpec(written_midi=67, shape="stepped", seconds=6.0, steps_db=(4.0, 4.0, -2.0))
    samples, (of_swell, of_steps) = render([swell, stepped], place=SILENT)
    blocks = [rms_db(part(samples, of_swell.start_s + t, of_swell.start_s + t + 0.1)) for t in np.arange(0.1, 5.8, 0.1)]
    assert (0.15 + 0.1 * int(np.argmax(blocks))) / 6 == pytest.approx(of_swell.peak_at, abs=0.02)
    plateaus = [k_level_db(samples, _cut(of_steps, 0.3 + 1.5 * i, 1.2 + 1.5 * i)) for i in range(4)]
    np.testing.assert_allclose(np.diff(plateaus), of_steps.steps_db, atol=0.1)


def _cut(truth: Truth, start_s: float, end_s: float) -> Truth:
    fields = {name: getattr(truth, name) for name in Truth.__dataclass_fields__}
    return Truth(**fields | {"steady_start_s": truth.start_s + start_s, "steady_end_s": truth.start_s + end_s})


def test_vibrato_drift_and_scoop_are_in_the_pitch_as_stated():
    specs = [
        ToneSpec(written_midi=70, seconds=3, faults=Faults(vibrato_cents=30.0, vibrato_hz=4.0)),
        ToneSpec(written_midi=70, seconds=3, faults=Faults(drift_cents=24.0)),
        ToneSpec(written_midi=70, seconds=3, faults=Faults(scoop_cents=-60.0, scoop_s=0.25)),
    ]
    samples, (waves, slide, scoop) = render(specs, place=SILENT)
    cents = 1200 * np.log2(praat_hz(steady(samples, waves), waves.f0_hz) / waves.f0_hz)
    assert cents.std() * np.sqrt(2) == pytest.approx(30.0, rel=0.06)  # Praat's window takes a little of it
    hz = praat_hz(steady(samples, slide), slide.f0_hz)
    assert 1200 * np.log2(hz[-1] / hz[0]) == pytest.approx(slide.pitch_drift_cents, abs=0.6)
    start = praat_hz(part(samples, scoop.start_s, scoop.start_s + 0.6), scoop.f0_hz)
    assert 1200 * np.log2(start[0] / scoop.f0_hz) < -25
    assert scoop.scoop_cents == pytest.approx(-48.0, abs=1.0)


def test_each_stated_fault_is_heard_where_it_belongs():
    specs = [
        ToneSpec(written_midi=70, faults=Faults(crack_s=0.15, crack_partial=2.0)),
        ToneSpec(written_midi=70, faults=Faults(air_before_s=0.3)),
        ToneSpec(written_midi=70, faults=Faults(double_start=True)),
        ToneSpec(written_midi=70, faults=Faults(collapse_db=8.0)),
        ToneSpec(written_midi=70, faults=Faults(dropout_s=0.12)),
    ]
    samples, truths = render(specs, place=SILENT)
    cracked, airy, double, collapsed, dropped = truths
    assert [t.faults for t in truths] == [
        ("crack_s",),
        ("air_before_s",),
        ("double_start",),
        ("collapse_db",),
        ("dropout_s",),
    ]
    wrong = praat_hz(part(samples, cracked.start_s + 0.02, cracked.start_s + 0.14), 2 * cracked.f0_hz)
    assert np.median(wrong) == pytest.approx(2 * cracked.f0_hz, rel=2e-3)
    air = rms_db(part(samples, airy.start_s - 0.25, airy.start_s - 0.05))
    assert -30 < air - rms_db(steady(samples, airy)) < -15
    gap = rms_db(part(samples, double.start_s + 0.11, double.start_s + 0.14))
    assert gap < rms_db(part(samples, double.start_s + 0.03, double.start_s + 0.08)) - 15
    after = rms_db(part(samples, collapsed.start_s + 2.75, collapsed.start_s + 3.1))
    assert after == pytest.approx(rms_db(part(samples, collapsed.start_s + 1, collapsed.start_s + 2)) - 8, abs=1.5)
    assert rms_db(part(samples, dropped.start_s + 1.98, dropped.start_s + 2.02)) < -100


def test_the_noise_in_a_tone_is_as_far_under_it_as_stated():
    clean, (truth,) = render([ToneSpec(written_midi=70, faults=Faults(hnr_db=90.0))], place=SILENT)
    noisy, _ = render([ToneSpec(written_midi=70, faults=Faults(hnr_db=20.0))], place=SILENT)
    noise = steady(noisy, truth) - steady(clean, truth)
    power = np.abs(np.fft.rfft(noise)) ** 2
    to_5_khz = power[np.fft.rfftfreq(len(noise), 1 / SAMPLE_RATE_HZ) <= 5_000].sum() / power.sum()
    assert rms_db(steady(clean, truth)) - rms_db(noise) - 10 * np.log10(to_5_khz) == pytest.approx(20, abs=0.5)


def test_place_adds_noise_reflections_gain_control_and_clipping():
    specs = [ToneSpec(written_midi=65 + i, seconds=2.0, gap_s=1.5, dynamic=d) for i, d in enumerate(("pp", "ff", "pp"))]
    dry, truths = render(specs, place=SILENT)
    first, loud = truths[0], truths[1]
    noisy, _ = render(specs, place=Place(noise_dbfs=-55.0))
    assert rms_db(part(noisy, first.end_s + 0.3, first.end_s + 1.2)) == pytest.approx(-55, abs=0.5)
    wet, _ = render(specs, place=Place(noise_dbfs=None, room=Room(direct_to_reverberant_db=0.0, decay_s=0.6)))
    assert (
        rms_db(part(wet, loud.end_s + 0.05, loud.end_s + 0.15))
        > rms_db(part(dry, loud.end_s + 0.05, loud.end_s + 0.15)) + 20
    )
    levelled, _ = render(specs, place=Place(gain_control=GainControl()))
    apart = [
        rms_db(part(s, loud.end_s - 0.8, loud.end_s - 0.2)) - rms_db(part(s, first.end_s - 0.8, first.end_s - 0.2))
        for s in (dry, levelled)
    ]
    assert apart[1] < 0.5 * apart[0]
    cut, _ = render(specs, place=Place(gain_db=30.0))
    assert np.abs(cut).max() == 1.0
    assert np.count_nonzero(np.abs(cut) == 1.0) > 1_000
    gated, _ = render(specs, place=Place(noise_dbfs=-55.0, suppress_below_dbfs=-50.0))
    assert rms_db(part(gated, first.end_s + 0.4, first.end_s + 1.0)) < -70


@pytest.mark.parametrize("ratio_db", [12.0, 6.0, 0.0, -3.0])
def test_a_room_is_as_wet_as_asked_where_the_tones_are(ratio_db: float) -> None:
    """A unit impulse in: what comes out later, to 3 kHz, against the impulse itself."""
    room = Place(noise_dbfs=None, room=Room(direct_to_reverberant_db=ratio_db))
    found = []
    for seed in range(12):
        impulse = np.zeros(2 * SAMPLE_RATE_HZ, np.float32)
        impulse[0] = 0.5
        rng = np.random.default_rng(seed)
        power = np.abs(np.fft.rfft(placed(impulse, room, Noises.draw(rng), rng)[1:] / 0.5)) ** 2
        f_hz = np.fft.rfftfreq(len(impulse) - 1, 1 / SAMPLE_RATE_HZ)
        found.append(-10 * np.log10(power[(f_hz > 100) & (f_hz < 3_000)].mean()))
    assert np.mean(found) == pytest.approx(ratio_db, abs=0.6)


def test_the_same_seed_gives_the_same_sound_and_another_seed_another():
    specs = [ToneSpec(written_midi=64, breath=True, faults=Faults(unsteady_cents=3.0))] * 2
    one, again, other = (render(specs, seed=seed, place=Place(room=Room()))[0] for seed in (5, 5, 6))
    np.testing.assert_array_equal(one, again)
    assert not np.array_equal(one, other)


@pytest.mark.parametrize("codec", ["wav", "flac", "ogg", "webm", "m4a", "mp3"])
def test_written_files_are_read_back_by_their_decoder_and_written_the_same_again(codec, tmp_path: Path):
    samples, _ = render([ToneSpec(written_midi=64, seconds=1.0)])
    for name in ("one", "two"):
        write(tmp_path / name, samples, codec)
    assert (tmp_path / "one").read_bytes() == (tmp_path / "two").read_bytes()
    with av.open(str(tmp_path / "one")) as container:
        assert container.streams.audio[0].rate == SAMPLE_RATE_HZ
        read = np.concatenate([frame.to_ndarray()[0] for frame in container.decode(audio=0)])
    assert len(read) == pytest.approx(len(samples), abs=4_096)  # frames of lossy codecs are whole


def test_what_cannot_be_sounded_is_refused_in_words(tmp_path: Path):
    with pytest.raises(ValueError, match="no dynamic is called 'loud'"):
        render([ToneSpec(written_midi=60, dynamic="loud")])  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="too short to be one"):
        render([ToneSpec(written_midi=60, seconds=0.1)])
    with pytest.raises(KeyError, match="There is no instrument 'kazoo'"):
        render([ToneSpec(written_midi=60)], "kazoo")
    with pytest.raises(ValueError, match="choose one of wav"):
        write(tmp_path / "x", np.zeros(10, np.float32), "aiff")  # type: ignore[arg-type]


def test_sounding_is_much_faster_than_playing():
    specs = [ToneSpec(written_midi=58 + i, breath=True) for i in range(20)]
    render(specs[:1])
    start = time.process_time()
    samples, _ = render(specs, place=Place(room=Room()))
    assert len(samples) / SAMPLE_RATE_HZ > 30 * (time.process_time() - start)  # 150 on a quiet machine
