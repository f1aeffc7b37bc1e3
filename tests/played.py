"""Days that a student has played, as rows: measured, settled and folded, without the sound being rendered."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Collection, Sequence
from typing import Any

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.utils import timezone

from analysis.models import Analysis, Result
from assignments import standings, weeks
from assignments.exercises import SHAPED
from assignments.models import Take, Try, Week
from studio.models import Horn, User
from tests import builders

NOTES = range(58, 91)
EVERY_NOTE = tuple((note, "mf") for note in NOTES)
TONE_S = 8.0
STARTS_S = 0.5
COURSE_STEP_S = 0.1


def long_week(horn: Horn, by: User) -> Week:
    """The foundation, set so long ago that everything a test wants played lies in it."""
    on = horn.studio.today()
    return weeks.set_week(
        horn=horn,
        by=by,
        routine=builders.routine(),
        starts_on=on - dt.timedelta(days=60),
        ends_on=on + dt.timedelta(days=6),
    )


def day(
    week: Week,
    on: dt.date,
    tones: Sequence[tuple[int, str]] = EVERY_NOTE,
    *,
    missed: Collection[tuple[int, str]] = (),
    unreadable: Collection[tuple[int, str]] = (),
    code: str = "pitch_climbs",
    audio: bytes | None = b"any bytes",
    tone_s: float = TONE_S,
) -> list[Try]:
    """One take a tone, in this order. ``audio`` None: the recordings were deleted when their time was over."""
    made = [_try(week, on, place, tone, missed, unreadable, code, audio) for place, tone in enumerate(tones)]
    Analysis.objects.bulk_create(tried.take.analysis for tried in made)
    Result.objects.bulk_create(
        Result(analysis=tried.take.analysis, engine="rows", report=report(tried.written_midi, tried.tone, tone_s))
        for tried in made
    )
    Take.objects.bulk_create(tried.take for tried in made)
    Try.objects.bulk_create(made)
    standings.fold(week.horn, on)
    return made


def good_days(week: Week, last: dt.date, count: int = 10, **more: Any) -> list[Try]:
    """So many days in a row up to ``last``, every note on target: what the rule asks for."""
    return [tried for ago in reversed(range(count)) for tried in day(week, last - dt.timedelta(days=ago), **more)]


def check(code: str | None, at_s: tuple[float, float] = (3.0, 5.0)) -> dict[str, Any]:
    """A check of the pitch as a try keeps it; with a code it was missed."""
    return {
        "measure": "pitch",
        "verdict": "missed" if code else "met",
        "must": True,
        "part": "pitch_cents",
        "value": 22.0 if code else 3.0,
        "limit": 12.0,
        "code": code,
        "at_s": list(at_s) if code else None,
    }


def _try(
    week: Week,
    on: dt.date,
    place: int,
    tone: tuple[int, str],
    missed: Collection[tuple[int, str]],
    unreadable: Collection[tuple[int, str]],
    code: str,
    audio: bytes | None,
) -> Try:
    at = timezone.now() - (week.horn.studio.today() - on) + dt.timedelta(seconds=place)
    outcome = "unreadable" if tone in unreadable else "miss" if tone in missed else "hit"
    take = _take(week, on, place, tone, at, audio)
    return Try(
        take=take,
        horn=week.horn,
        on=on,
        played_at=at,
        slot=0,
        written_midi=tone[0],
        tone=tone[1],
        lane="coverage",
        outcome=outcome,
        tone_index=None if outcome == "unreadable" else 0,
        checks=[] if outcome == "unreadable" else [check(code if outcome == "miss" else None)],
        reasons=["room_too_loud"] if outcome == "unreadable" else [],
    )


def _take(week: Week, on: dt.date, place: int, tone: tuple[int, str], at: dt.datetime, audio: bytes | None) -> Take:
    name = default_storage.save(f"takes/{uuid.uuid4()}", ContentFile(audio)) if audio else ""
    analysis = Analysis(
        audio=name,
        audio_bytes=len(audio or b""),
        sha256="0" * 64,
        request={},
        state=Analysis.State.MEASURED,
        sent_at=at,
    )
    return Take(
        horn=week.horn,
        exercise=builders.daily(week),
        analysis=analysis,
        on=on,
        client_key=uuid.uuid4(),
        asked=[{"slot": place, "written_midi": tone[0], "tone": tone[1], "partial": None, "lane": "coverage"}],
        received_at=at,
        settled_at=at,
    )


def report(written_midi: int, tone: str, tone_s: float = TONE_S) -> dict[str, Any]:
    """A report of one steady tone, as measuring leaves it."""
    steps = int(tone_s / COURSE_STEP_S)
    shape = tone if tone in SHAPED else "sustained"
    heard = {
        "index": 0,
        "start_s": STARTS_S,
        "end_s": STARTS_S + tone_s,
        "written": "",
        "written_midi": written_midi,
        "sounding_midi": written_midi - 9,
        "expected": True,
        "asked_index": 0,
        "partial": None,
        "readable": True,
        "reasons": [],
        "f0_hz": 300.0,
        "pitch_cents": 1.0,
        "pitch_spread_cents": 2.0,
        "pitch_drift_cents": 0.0,
        "level_db": -26.0,
        "level_spread_db": 0.5,
        "level_drift_db_per_s": 0.0,
        "vibrato": {"present": False},
        "attack": {},
        "release": {},
        "noise": {"hnr_db": 25.0},
        "colour": {},
        "shape": {"kind": shape},
        "course": {"step_s": COURSE_STEP_S, "cents": [1.0] * steps, "level_db": [-26.0] * steps},
        "steady_start_s": STARTS_S + 0.3,
        "steady_end_s": STARTS_S + tone_s - 0.3,
    }
    return {
        "format": 1,
        "engine": "rows",
        "audio": {"duration_s": 9.0, "sample_rate_hz": 16000, "channels": 1, "codec": "pcm", "sha256": "0" * 64},
        "capture": {
            "noise_floor_dbfs": -70.0,
            "snr_db": 40.0,
            "clipped": False,
            "level_control_suspected": False,
            "readable": True,
        },
        "tones": [heard],
        "evenness": {},
        "missing": [],
        "extra": [],
        "cautions": [],
    }
