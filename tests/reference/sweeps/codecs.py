"""What a codec may change, and no more. Truth: the same take as 16-bit PCM.

Source of the limits: encoded synthetic tones (139 and 440 Hz) as Praat reads them, computed once and rounded outward: mean pitch within 0.03 cents at 64 kb/s and up, 0.7 at Opus 32k, 1.7 at Opus 16k; centroid
within 3 %; level within 0.1 dB; noise 20 dB under the tone still reads 16 to 21 dB.
"""

from __future__ import annotations

from collections.abc import Callable

from analysis.core.records import Tone
from tests.reference.codecs import FORMS, heard
from tests.reference.sweep import MISSED, Sweep

PITCH_LIMITS = {"Opus 16k": 1.7, "Opus 32k": 0.7, "Opus 64k": 0.05, "AAC 64k": 0.05, "AAC 128k": 0.05}


def pairs(form: str, hnr_db: float) -> list[tuple[Tone, Tone]] | None:
    plain, coded = heard("PCM", hnr_db).tones, heard(form, hnr_db).tones
    return list(zip(plain, coded, strict=True)) if len(plain) == len(coded) == 4 else None


def differences(difference: Callable[[Tone, Tone], float], forms: tuple[str, ...], hnr_db: float = 40.0) -> list[float]:
    errors = []
    for form in forms:
        both = pairs(form, hnr_db)
        errors += [MISSED] * 4 if both is None else [difference(plain, coded) for plain, coded in both]
    return errors


def pitch(form: str) -> list[float]:
    return differences(lambda a, b: b.pitch_cents - a.pitch_cents, (form,)) + differences(
        lambda a, b: b.pitch_cents - a.pitch_cents, (form,), 20.0
    )


CODED = tuple(form for form in FORMS if form != "PCM")
AT_LEAST_32K = CODED[1:]
SWEEPS = (
    *(
        Sweep("pitch", "cents", form, "the same take as PCM", limit, limit, lambda form=form: pitch(form))
        for form, limit in PITCH_LIMITS.items()
    ),
    Sweep(
        "level",
        "dB",
        "Opus 16-64k, AAC 64-128k",
        "the same take as PCM",
        0.15,
        0.15,
        lambda: differences(lambda a, b: b.level_db - a.level_db, CODED),
    ),
    Sweep(
        "centroid",
        "%",
        "Opus 32-64k, AAC 64-128k",
        "the same take as PCM",
        2,
        2,
        lambda: differences(lambda a, b: 100 * (b.colour.centroid_hz / a.colour.centroid_hz - 1), AT_LEAST_32K),
    ),
    Sweep(
        "harmonics to noise",
        "dB",
        "Opus 32-64k, AAC 64-128k, noise 20 dB under",
        "the same take as PCM",
        1.5,
        1.5,
        lambda: differences(lambda a, b: b.hnr_db - a.hnr_db, AT_LEAST_32K, 20.0),
    ),
    Sweep(
        "start",
        "ms",
        "Opus 16-64k, AAC 64-128k",
        "the same take as PCM",
        15,
        15,
        lambda: differences(lambda a, b: 1000 * (b.start_s - a.start_s), CODED),
    ),
)
