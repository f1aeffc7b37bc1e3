"""What cannot be measured is said to be so, and never turned into a number or a miss.

Limits: readability gate of common practice in pitch tracking, shown by Praat on 20 partials in white noise (its
frame-to-frame SD is under 1 cent from 20 dB on, 3 to 5 cents at 10 dB); the rest is the project's own contract.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.core.measure import unheard
from analysis.core.records import Asked, AudioInfo, Request
from tests.reference.codecs import heard
from tests.reference.hearing import PRODUCT_RATE_HZ as RATE_HZ
from tests.reference.hearing import hear, hear_one, praat_pitch_hz, steady
from tests.reference.signals import (
    between_silences,
    edged,
    harmonic,
    low_passed,
    reedy,
    row_of_tones,
    scaled_to,
    times,
    white,
)
from tests.reference.sweeps.hum import hum


def reed(f0_hz: float = 330.0, seconds: float = 2.0, rms_dbfs: float = -22.0, seed: int = 0) -> np.ndarray:
    return edged(scaled_to(harmonic(f0_hz, reedy(), seconds, RATE_HZ, seed), rms_dbfs), RATE_HZ)


def clicks() -> np.ndarray:
    out = 1e-4 * white(4, RATE_HZ)
    out[:: RATE_HZ // 3] = 0.5
    return out


def talk() -> np.ndarray:
    """Syllables of a falling, gliding voice of 120 Hz, 0.2 s each, with pauses and hiss."""
    out = 0.002 * white(4, RATE_HZ)
    for i in range(12):
        t_s = times(0.2, RATE_HZ)
        glide = 120 * 2 ** (np.sin(7 * t_s + i) * 0.4 - t_s)
        syllable = scaled_to(harmonic(glide, reedy(20, 8), 0.2, RATE_HZ, i), -28) * np.hanning(len(t_s))
        at = round((0.2 + 0.3 * i) * RATE_HZ)
        out[at : at + len(syllable)] += syllable
    return out


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("rms_dbfs", [-20, -40, -60])
def test_noise_alone_holds_no_tone(seed, rms_dbfs):
    found = hear(10 ** (rms_dbfs / 20) * white(5, RATE_HZ, seed), RATE_HZ)
    assert (found.tones, found.capture.readable) == ((), False)
    assert found.capture.reasons


@pytest.mark.parametrize("samples", [np.zeros(3 * RATE_HZ), clicks()], ids=["silence", "clicks"])
def test_silence_and_clicks_hold_no_tone(samples):
    found = hear(samples, RATE_HZ)
    assert (found.tones, found.capture.readable) == ((), False)
    assert found.capture.reasons


@pytest.mark.parametrize("mains_hz", [50.0, 60.0])
@pytest.mark.parametrize("instrument", ["bass", "baritone", "tenor"])
def test_hum_holds_no_tone_and_is_what_the_room_is_said_to_hold(instrument, mains_hz):
    found = hear(hum(5, mains_hz, "rectifier", -50.0) + 1e-4 * white(5, RATE_HZ), RATE_HZ, instrument=instrument)
    assert (found.tones, found.capture.reasons) == ((), ("no_tone_found",))
    assert found.capture.noise_floor_dbfs == pytest.approx(-50.0, abs=0.5)


@pytest.mark.parametrize("instrument", ["baritone", "alto"])
def test_hum_is_nobody_else_playing(instrument):
    """18 dB under low tones of either horn, with twenty partials in the mains."""
    tones = (
        [reed(f0) for f0 in (110.0, 138.59, 164.81)] if instrument == "baritone" else [reed(f0) for f0 in (220, 330)]
    )
    take, _ = row_of_tones([*tones, *tones], RATE_HZ)
    for mains_hz in (50.0, 60.0):
        found = hear(take + hum(len(take) / RATE_HZ, mains_hz, "dimmer", -40.0), RATE_HZ, instrument=instrument)
        assert len(found.tones) == 2 * len(tones)
        assert found.capture.reasons == ()


def test_talking_between_tones_adds_no_readable_tone():
    take = np.concatenate((between_silences(reed(), RATE_HZ, -60), talk(), between_silences(reed(392), RATE_HZ, -60)))
    assert [tone.written_midi for tone in hear(take, RATE_HZ).tones if tone.readable] == [73, 76]


def test_what_was_asked_for_and_not_heard_is_named_as_missing():
    found = hear(0.01 * white(3, RATE_HZ), RATE_HZ, asked=(Asked(58), Asked(60)))
    assert found.missing == ("Bb3", "C4")


def test_a_tone_shorter_than_half_a_second_is_not_judged():
    tone = hear_one(between_silences(reed(seconds=0.35), RATE_HZ), RATE_HZ)
    assert (tone.readable, tone.reasons) == (False, ("tone_too_short",))


@pytest.mark.parametrize(("snr_db", "steady_read"), [(35, True), (27, True), (15, False), (12, False)])
def test_steadiness_is_not_read_where_noise_would_be_what_is_read(snr_db, steady_read):
    """White noise counted to 5 kHz, as everywhere."""
    tone = hear_one(between_silences(reed(), RATE_HZ, -22 - snr_db + 3.8), RATE_HZ)
    assert tone.readable
    assert ("pitch_spread_cents" not in tone.hidden) is steady_read


def test_where_steadiness_is_hidden_the_mean_pitch_is_still_what_praat_reads():
    samples = between_silences(reed(331.7), RATE_HZ, -32)
    tone = hear_one(samples, RATE_HZ)
    theirs = np.median(praat_pitch_hz(steady(tone, samples, RATE_HZ), RATE_HZ, 200, 600))
    assert 1200 * np.log2(tone.f0_hz / theirs) == pytest.approx(0, abs=0.5)


@pytest.mark.parametrize("snr_db", [4, 0, -4])
def test_in_louder_noise_nothing_is_claimed(snr_db):
    found = hear(between_silences(reed(), RATE_HZ, -22 - snr_db + 3.8), RATE_HZ)
    assert not any(tone.readable for tone in found.tones)
    assert not found.capture.readable


def test_a_short_tone_has_no_vibrato_to_speak_of():
    t_s = times(0.7, RATE_HZ)
    bent = 330 * 2 ** (20 * np.sin(2 * np.pi * 5 * t_s) / 1200)
    samples = edged(scaled_to(harmonic(bent, reedy(), 0.7, RATE_HZ), -22), RATE_HZ)
    vibrato = hear_one(between_silences(samples, RATE_HZ), RATE_HZ).vibrato
    assert (vibrato.present, vibrato.rate_hz, vibrato.extent_cents) == (False, None, None)


def test_a_pulse_in_loudness_alone_is_no_vibrato():
    t_s = times(3, RATE_HZ)
    samples = scaled_to(harmonic(330, reedy(), 3, RATE_HZ), -22) * (1 + 0.4 * np.sin(2 * np.pi * 5 * t_s))
    assert not hear_one(between_silences(edged(samples, RATE_HZ), RATE_HZ), RATE_HZ).vibrato.present


def test_a_slurred_tone_has_no_start_of_its_own():
    t_s = times(3, RATE_HZ)
    f0 = np.where(t_s < 1.5, 330.0, 370.0)
    tones = hear(
        between_silences(edged(scaled_to(harmonic(f0, reedy(), 3, RATE_HZ), -22), RATE_HZ), RATE_HZ), RATE_HZ
    ).tones
    assert [tone.written_midi for tone in tones] == [73, 75]
    assert (tones[1].attack.rise_s, tones[1].attack.air_before_s) == (None, None)
    assert tones[0].release.kind is None


def test_a_recording_that_begins_with_its_tone_cannot_tell_the_air_before_it():
    found = hear(between_silences(reed(seconds=3), RATE_HZ, pad_s=0.6)[round(1.0 * RATE_HZ) :], RATE_HZ)
    assert [tone.attack.air_before_s for tone in found.tones] == [None]


def test_a_clipped_tone_keeps_its_pitch_and_gives_up_its_level():
    samples = np.clip(between_silences(reed(rms_dbfs=3.0), RATE_HZ), -1, 1)
    found = hear(samples, RATE_HZ, clipped_at_s=tuple(np.arange(0.8, 2.2, 0.01)))
    assert found.capture.clipped
    tone = found.tones[0]
    assert tone.readable
    assert {"level_db", "colour", "hnr_db"} <= set(tone.hidden)
    assert tone.f0_hz == pytest.approx(330, rel=1e-4)


def test_a_narrow_microphone_hides_the_colour_and_nothing_else():
    tones = [low_passed(reed(f0, rms_dbfs=-20, seed=i), RATE_HZ, 3_600) for i, f0 in enumerate((294, 330, 392, 440))]
    samples, _ = row_of_tones(tones, RATE_HZ, -95)
    heard = hear(samples, RATE_HZ).tones
    assert len(heard) == len(tones)
    for tone in heard:
        assert tone.readable
        assert "colour" in tone.hidden
        assert not {"pitch_spread_cents", "level_db", "rise_s"} & set(tone.hidden)


def test_noise_under_what_a_codec_lets_through_is_said_to_be_hidden_by_it():
    hidden = {form: [tone.hidden.get("hnr_db") for tone in heard(form, 40.0)[1].tones] for form in ("Opus 16k", "PCM")}
    assert set(hidden["Opus 16k"]) == {"codec_hides_noise"}
    assert "codec_hides_noise" not in hidden["PCM"]


def test_three_notes_have_no_evenness():
    samples, _ = row_of_tones([reed(f0) for f0 in (262, 330, 392)], RATE_HZ)
    even = hear(samples, RATE_HZ).evenness
    assert (even.level_sd_db, even.colour_sd_pct, even.pitch_sd_cents, even.holes) == (None, None, None, ())


def test_a_flat_tone_is_no_swell():
    shape = hear_one(between_silences(reed(seconds=5), RATE_HZ), RATE_HZ, shape="swell").shape
    assert shape.met is False


def test_a_recording_that_cannot_be_opened_still_has_a_whole_report():
    report = unheard(AudioInfo(0.0, 0, 0, "", "0" * 64), Request(asked=(Asked(62),)), "not_audio")
    assert (report.tones, report.missing, report.capture.reasons) == ((), ("D4",), ("not_audio",))
