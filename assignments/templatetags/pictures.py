"""``{% range_table rows %}``, ``{% days days %}`` …: plain values become the record that a picture's partial draws.

Each tag says what its values must have; the partials say the same in their first line. Nothing here asks the database.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, cast

from django import template
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analysis.core.records import Dynamic, Shape
from analysis.drawing import Neighbours, Partials, Profile, SectionDrawing, Strip, VoiceRow, Wall
from analysis.drawing.level import board, sides
from assignments import naming
from assignments.exercises import LEVELS, SHAPED, TONE_WORDS, USUAL_BEATS
from assignments.piers import piers_of
from assignments.range_rows import UNPLAYED, Record, range_rows, value_of
from assignments.staves import Stave, stave_of

register = template.Library()

KINDS = {True: "hit", False: "miss", None: "unreadable"}  # the mark of a day
STROKE, DOT = "M%d 0h2.6v14h-2.6z", "M%d.9 12.8a1.1 1.1 0 1 0 2.2 0a1.1 1.1 0 1 0-2.2 0z"  # of a tally, outlines


# --- marks and signs -------------------------------------------------------------------------


@register.inclusion_tag("assignments/_mark.svg.html")
def mark(outcome: str | None, today: bool = False, word: bool = False) -> Record:
    """``outcome``: hit, miss, unreadable or None (not played). ``word``: the word stands beside it."""
    return {"kind": outcome or UNPLAYED, "today": today, "word": naming.outcome_word(outcome) if word else ""}


@register.inclusion_tag("assignments/_legend.html")
def legend(today: bool = False, stands: str = "") -> Record:
    """The marks with their words. ``stands``: what a post means, such as "3 of 5"."""
    kinds = (None, "miss", "hit", "unreadable")
    return {
        "kinds": [(kind or UNPLAYED, naming.outcome_word(kind)) for kind in kinds],
        "today": today,
        "stands": stands,
    }


@register.inclusion_tag("assignments/_icon.svg.html")
def icon(name: str) -> Record:
    """``horn`` (sound) or ``phone``; the words beside it say the same."""
    return {"name": name}


@register.inclusion_tag("assignments/_shape.svg.html")
def shape_icon(shape: str) -> Record:
    """``stepped``, ``swell``, ``reverse_swell``, ``crescendo``, ``decrescendo``."""
    return {"shape": shape}


# --- what is to be played ---------------------------------------------------------------------


@register.inclusion_tag("assignments/_stave.svg.html")
def stave(written: int | Sequence[int], size: str = "") -> Record:
    """Written notes on a treble stave: one number or several."""
    notes = [written] if isinstance(written, int) else list(written)
    drawn: Stave = stave_of(notes)
    said = ", ".join(naming.note_said(midi) for midi in notes)
    return {"stave": drawn, "size": size, "sentence": _("On the stave, written: %(notes)s.") % {"notes": said}}


@register.inclusion_tag("assignments/_plan.svg.html")
def plan_grid(tones: Iterable[Any]) -> Record:
    """``tones``: each with written_midi, tone, outcome (None: not played yet) and perhaps href."""
    return {"tones": [_planned(tone) for tone in tones]}


def _planned(tone: Any) -> Record:
    outcome = value_of(tone, "outcome")
    return {
        "written_midi": value_of(tone, "written_midi"),
        "tone": value_of(tone, "tone"),
        "is_shape": value_of(tone, "tone") in SHAPED,
        "kind": outcome or UNPLAYED,
        "word": naming.outcome_word(outcome),
        "href": value_of(tone, "href", ""),
    }


@register.inclusion_tag("assignments/_to_play.svg.html")
def to_play(tone: str, beats: int = USUAL_BEATS, rest: int = 4) -> Record:
    """The board that the sound is to fill. ``tone``: a level or a shape; 100 units of the picture are a beat."""
    shape, level = _asked_as(tone)
    return {
        "board": board(shape, level, steps=beats),
        "sides": sides(shape, level),
        "beats": range(1, beats + 1),
        "rests": range(beats + 1, beats + rest + 1),
        "long": beats > USUAL_BEATS,
        "sentence": _("To play: %(tone)s, %(beats)d beats, then breathe for %(rest)d.")
        % {"tone": naming.tone_said(tone), "beats": beats, "rest": rest},
    }


def _asked_as(tone: str) -> tuple[Shape, Dynamic]:
    """A tone word is a level of a plain tone or a shape."""
    if tone in LEVELS:
        return "sustained", cast(Dynamic, tone)
    return cast(Shape, tone), "mf"


# --- what was played --------------------------------------------------------------------------


@register.inclusion_tag("assignments/_range.svg.html")
def range_table(rows: Iterable[Any], tones: Sequence[str] = TONE_WORDS, caption: str = "") -> Record:
    """Notes by tones, a real table.

    ``rows``, high to low: each with written_midi, cells (by tone word), stands, short ("2 of 5" or ""), perhaps href.
    A cell has outcome, played_on (a date or None), today (in today's set), perhaps href; without a cell: not played.
    """
    levels = [tone for tone in tones if tone in LEVELS]
    shapes = [tone for tone in tones if tone in SHAPED]
    order = [*levels, *shapes]
    return {
        "levels": levels,
        "shapes": shapes,
        "rows": range_rows(rows, order, first_shape=shapes[0] if shapes else ""),
        "caption": caption or _("Your range: notes from high to low, tones from soft to loud, then shapes."),
    }


@register.inclusion_tag("assignments/_days.svg.html")
def days(days: Iterable[Any]) -> Record:
    """Practice days, oldest first, each with on (a date) and on_target: True, False, None (couldn't be counted)."""
    return _days(days)


@register.inclusion_tag("assignments/_days_small.svg.html")
def days_small(days: Iterable[Any]) -> Record:
    """The same as small squares with the number on target: one row of a ledger."""
    return _days(days)


def _days(days: Iterable[Any]) -> Record:
    drawn = [(value_of(day, "on"), KINDS[value_of(day, "on_target")]) for day in days]
    kinds = [kind for _on, kind in drawn]
    hits = kinds.count("hit")
    sentence = ngettext(
        "%(hits)d of the last %(days)d practice day on target.",
        "%(hits)d of the last %(days)d practice days on target.",
        len(drawn),
    ) % {"hits": hits, "days": len(drawn)}
    return {"days": drawn, "kinds": kinds, "hits": hits, "sentence": sentence if drawn else _("No practice days yet.")}


@register.inclusion_tag("assignments/_tally14.svg.html")
def tally(days: Iterable[Any]) -> Record:
    """Calendar days, oldest first: true or with a true practised where something was played."""
    practised = [bool(value_of(day, "practised", day)) for day in days]
    return {
        "strokes": "".join(STROKE % (i * 9 + 1) for i, played in enumerate(practised) if played),
        "dots": "".join(DOT % (i * 9) for i, played in enumerate(practised) if not played),
        "width": max(1, len(practised) * 9 - 5),
        "sentence": _("Practised on %(played)d of the last %(days)d days.")
        % {"played": sum(practised), "days": len(practised)},
    }


# --- the gate, and sound ----------------------------------------------------------------------


@register.inclusion_tag("assignments/_piers.svg.html")
def piers(ground: Any) -> Record:
    """``ground``: days_on_target, opens_at (None: no such rule), notes_standing, notes_in_range (None: no such rule),
    teacher_confirms, teacher_said_yes, open, and perhaps just_opened (the beam comes down once)."""
    drawn = piers_of(
        days_on_target=value_of(ground, "days_on_target"),
        opens_at=value_of(ground, "opens_at"),
        notes_standing=value_of(ground, "notes_standing"),
        notes_in_range=value_of(ground, "notes_in_range"),
        teacher_confirms=value_of(ground, "teacher_confirms"),
        teacher_said_yes=value_of(ground, "teacher_said_yes"),
        is_open=value_of(ground, "open"),
    )
    words: Record = {"days": _("Days"), "notes": _("Notes"), "teacher": _("Teacher")}
    return {
        "drawn": drawn,
        "names": [words[pier.name] for pier in drawn.piers],
        "just_opened": value_of(ground, "just_opened", False),
        "sentence": " ".join(_ground_sentences(ground)),
    }


def _ground_sentences(ground: Any) -> Iterable[str]:
    yield _("The high notes are open.") if value_of(ground, "open") else _("The high notes wait.")
    if value_of(ground, "opens_at") is not None:
        laid, needed = value_of(ground, "days_on_target"), value_of(ground, "opens_at")
        yield _("Days: %(laid)d of %(needed)d.") % {"laid": laid, "needed": needed}
    if value_of(ground, "notes_in_range") is not None:
        laid, needed = value_of(ground, "notes_standing"), value_of(ground, "notes_in_range")
        yield _("Notes: %(laid)d of %(needed)d.") % {"laid": laid, "needed": needed}
    if value_of(ground, "teacher_confirms"):
        yield _("Teacher: yes.") if value_of(ground, "teacher_said_yes") else _("Teacher: not asked yet.")


@register.inclusion_tag("analysis/_strip.svg.html")
def strip(strip: Strip, sentence: str, compact: bool = False) -> Record:
    """One tone. ``sentence``: what it shows, in words; ``compact``: no labels, no beats."""
    return {"strip": strip, "sentence": sentence, "compact": compact}


@register.inclusion_tag("analysis/_wall.svg.html")
def wall(wall: Wall, sentence: str) -> Record:
    return {"wall": wall, "sentence": sentence}


@register.inclusion_tag("analysis/_neighbours.svg.html")
def neighbours(neighbours: Neighbours, sentence: str) -> Record:
    return {"neighbours": neighbours, "sentence": sentence}


@register.inclusion_tag("analysis/_voice.svg.html")
def voice(section: SectionDrawing, row: VoiceRow, cents: str) -> Record:
    """One row of a section. ``cents``: its pitch with how far it may be off."""
    sentence = _("%(cents)s cents against equal temperament.") % {"cents": cents}
    return {"section": section, "row": row, "sentence": sentence}


@register.inclusion_tag("analysis/_partials.svg.html")
def partials(partials: Partials, sentence: str) -> Record:
    return {"partials": partials, "sentence": sentence}


@register.inclusion_tag("analysis/_profile.svg.html")
def profile(profile: Profile, sentence: str) -> Record:
    return {"profile": profile, "sentence": sentence}
