"""One tone against its target: hit, miss, or not to be told.

At most four must-haves decide: the right note without a crack; pitch; steadiness (of graduated tones the shape, of
pulsed ones the vibrato); the start. For the eight plain marks a coarse look at the level joins them when the day's
scale is known. Everything else is advice.

A check nearer to its limit than the reading can tell is "unsure" and never makes a miss: the player gets the benefit
of the doubt. A tone whose pitch, steadiness or shape could not be read at all is unreadable: neither hit nor miss.
What spoils one measure hides that measure only.
"""

from __future__ import annotations

from analysis.core import checks_body, checks_ends
from analysis.core.records import Asked, Capture, Check, LevelScale, Outcome, Target, Tone, Verdict

GRADUATED = ("crescendo", "decrescendo", "swell", "reverse_swell", "stepped")
HEARTS = ("pitch_cents", "pitch_spread_cents", "shape", "rate_hz")  # without these nobody can say how the tone was


def judge(tone: Tone, asked: Asked, target: Target, capture: Capture, scale: LevelScale | None) -> Verdict:
    """How ``tone`` answers what was ``asked``. ``scale`` None: today's soft and loud are not known."""
    if not (capture.readable and tone.readable):
        return Verdict("unreadable", (), tone.reasons or capture.reasons)
    right_note = checks_ends.note(tone, asked)
    if right_note.verdict == "missed":
        return Verdict("miss", (right_note,))
    level_known = not capture.level_control_suspected
    checks = [
        right_note,
        checks_ends.crack(tone),
        checks_body.pitch(tone, asked, target),
        *_middle(tone, asked, target, scale, level_known),
        *checks_ends.start(tone, asked, target),
        *checks_ends.stop(tone, target),
        *checks_ends.clean(tone, target),
    ]
    reasons = _reasons(checks, tone, capture)
    return Verdict(_outcome(checks), tuple(checks), reasons)


def not_heard(reasons: tuple[str, ...] = ("not_heard",)) -> Verdict:
    """The verdict on a tone that was asked for and of which nothing sounded that could be read."""
    return Verdict("unreadable", (), reasons)


def _middle(tone: Tone, asked: Asked, target: Target, scale: LevelScale | None, level_known: bool) -> list[Check]:
    if asked.shape in GRADUATED:
        return checks_body.shape(tone, target, level_known=level_known)
    waved = asked.pulses_per_second > 0.0
    checks = checks_body.steadiness(tone, target, level_known=level_known, waved=waved)
    if waved:
        checks += checks_body.vibrato(tone, asked, target)
    else:
        checks.append(checks_body.unasked_vibrato(tone))
    if asked.shape == "sustained" and asked.partial is None:
        checks += checks_body.level(tone, asked, target, scale, level_known=level_known)
    return checks


def _outcome(checks: list[Check]) -> Outcome:
    deciding = [check for check in checks if check.must]
    if any(check.verdict == "missed" for check in deciding):
        return "miss"
    if any(check.verdict == "not_measured" and check.part in HEARTS for check in deciding):
        return "unreadable"
    return "hit"


def _reasons(checks: list[Check], tone: Tone, capture: Capture) -> tuple[str, ...]:
    """Why some checks could not be made: codes, each once."""
    blind = {check.part for check in checks if check.verdict == "not_measured"}
    codes = [code for part, code in tone.hidden.items() if part in blind]
    if capture.level_control_suspected and blind & {"level_db", "level_spread_db", "shape"}:
        codes.append("level_control_suspected")
    return tuple(dict.fromkeys(codes))
