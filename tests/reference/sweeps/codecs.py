"""What a codec may change, and no more. Truth: the same take as 16-bit PCM; for noise, Praat on the decoded sound.

Source of the limits: encoded synthetic tones (139 and 440 Hz) as Praat reads them, computed once and rounded outward:
mean pitch within 0.05 cents at 64 kb/s and up, 0.7 at Opus 32k, 1.7 at Opus 16k; from 32 kb/s on centroid within 2 %,
level within 0.15 dB. Noise is different: a codec really adds some, so the product is held to what Praat hears of it.
"""

from __future__ import annotations

from collections.abc import Callable

from analysis.core.records import Tone
from tests.reference.codecs import RATE_HZ, heard
from tests.reference.hearing import praat_hnr_db, steady
from tests.reference.sweep import MISSED, Sweep

PITCH_LIMITS = {"Opus 16k": 1.7, "Opus 32k": 0.7, "Opus 64k": 0.05, "AAC 64k": 0.05, "AAC 128k": 0.05}
FROM_32K = ("Opus 32k", "Opus 64k", "AAC 64k", "AAC 128k")


def differences(difference: Callable[[Tone, Tone], float], forms: tuple[str, ...], hnr_db: float = 40.0) -> list[float]:
    errors = []
    for form in forms:
        plain, coded = heard("PCM", hnr_db)[1].tones, heard(form, hnr_db)[1].tones
        if len(plain) == len(coded) == 4:
            errors += [difference(a, b) for a, b in zip(plain, coded, strict=True)]
        else:
            errors += [MISSED] * 4
    return errors


def pitch(form: str) -> list[float]:
    return [
        error
        for hnr_db in (40.0, 20.0)
        for error in differences(lambda plain, coded: coded.pitch_cents - plain.pitch_cents, (form,), hnr_db)
    ]


def level() -> list[float]:
    return differences(lambda plain, coded: coded.level_db - plain.level_db, FROM_32K)


def centroid() -> list[float]:
    return differences(lambda plain, coded: 100 * (coded.colour.centroid_hz / plain.colour.centroid_hz - 1), FROM_32K)


def start() -> list[float]:
    return differences(lambda plain, coded: 1000 * (coded.start_s - plain.start_s), FROM_32K)


def noise_against_praat() -> list[float]:
    """Of tones with noise 20 dB under them, after the codec."""
    return [
        MISSED if tone.hnr_db is None else tone.hnr_db - praat_hnr_db(steady(tone, samples, RATE_HZ), RATE_HZ)
        for form in FROM_32K
        for samples, measurement in [heard(form, 20.0)]
        for tone in measurement.tones
    ]


CODED = "Opus 32-64k, AAC 64-128k"
SWEEPS = (
    *(
        Sweep("pitch", "cents", form, "the same take as PCM", limit, limit, lambda form=form: pitch(form))
        for form, limit in PITCH_LIMITS.items()
    ),
    Sweep("level", "dB", CODED, "the same take as PCM", 0.15, 0.15, level),
    Sweep("centroid", "%", CODED, "the same take as PCM", 2, 2, centroid),
    Sweep("start", "ms", CODED, "the same take as PCM", 15, 15, start),
    Sweep(
        "harmonics to noise",
        "dB",
        f"{CODED}; noise 20 dB under",
        "Praat cross-correlation",
        1.5,
        2.0,
        noise_against_praat,
    ),
)
