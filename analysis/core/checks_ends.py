"""Checks of a tone's two ends: the note that speaks, its start, its stop."""

from __future__ import annotations

from analysis.core.against import against, error_of, flag, hidden
from analysis.core.moments import around, end_part, first_part
from analysis.core.records import Asked, Check, Target, Tone

RISING = ("crescendo", "swell")
SLOW_ALONE = 2.0  # rise time hardly tells when an attack is heard: alone it decides from twice its limit on


def note(tone: Tone, asked: Asked) -> Check:
    """Whether it is the note, or the partial, that was asked for. This comes before everything else."""
    if asked.partial is not None:
        return flag("note", "partial", tone.partial != asked.partial, code="other_partial", at_s=first_part(tone))
    return flag(
        "note", "written_midi", tone.written_midi != asked.written_midi, code="other_note", at_s=first_part(tone)
    )


def crack(tone: Tone) -> Check:
    at_s = tone.attack.cracked_at_s
    place = first_part(tone) if at_s is None else around(tone, at_s)
    return flag("crack", "cracked", tone.attack.cracked, code="cracks", at_s=place)


def start(tone: Tone, asked: Asked, target: Target) -> list[Check]:
    """Double start, air, scoop, settling, rise. A tone that was slurred into has no start to check.

    A crescendo or swell rises by design: there rise says nothing.
    """
    attack, place = tone.attack, first_part(tone)
    checks = [flag("start", "double_start", attack.double_start, code="starts_twice", at_s=place)]
    scoop = attack.scoop_cents
    sizes: tuple[tuple[str, float | None, float, str], ...] = (
        ("air_before_s", attack.air_before_s, target.air_before_s, "starts_with_air"),
        (
            "scoop_cents",
            None if scoop is None else abs(scoop),
            target.scoop_cents,
            "starts_below" if (scoop or 0.0) < 0.0 else "starts_above",
        ),
        ("settle_s", attack.settle_s, target.settle_s, "settles_late"),
    )
    for part, value, limit, code in sizes:
        if part in tone.hidden:
            checks.append(hidden("start", part))
        else:
            error = error_of(tone, part)
            checks.append(against("start", part, value, limit, error=error, code=code, at_s=place))
    if asked.shape in RISING:
        return checks
    if "rise_s" in tone.hidden:
        return [*checks, hidden("start", "rise_s", must=False)]
    rise_error_s = error_of(tone, "rise_s")
    late = against(
        "start",
        "rise_s",
        attack.rise_s,
        target.rise_s,
        error=rise_error_s,
        must=attack.rise_s is not None and attack.rise_s - rise_error_s > SLOW_ALONE * target.rise_s,
        code="starts_late",
        at_s=place,
    )
    return [*checks, late]


def stop(tone: Tone, target: Target) -> list[Check]:
    """Sag and bump at the end: advice, never a miss."""
    release, place = tone.release, end_part(tone)
    if release.kind is None and release.sag_cents is None:
        return []
    sag = None if release.sag_cents is None else -release.sag_cents  # only falling is a sag
    error = error_of(tone, "sag_cents")
    return [
        against("stop", "sag_cents", sag, target.sag_cents, error=error, must=False, code="ends_sagging", at_s=place),
        flag("stop", "kind", release.kind == "bumped", must=False, code="ends_with_bump", at_s=place),
    ]


def clean(tone: Tone, target: Target) -> list[Check]:
    """Noise in the tone: advice. What a codec or a room caps can only be met, not missed."""
    if tone.hnr_db is None or ("hnr_db" in tone.hidden and tone.hnr_db < target.hnr_db):
        return []
    error = error_of(tone, "hnr_db")
    place = (tone.steady_start_s, tone.steady_end_s)
    return [
        against(
            "noise",
            "hnr_db",
            tone.hnr_db,
            target.hnr_db,
            error=error,
            must=False,
            code="airy",
            at_s=place,
            at_least=True,
        )
    ]
