"""What a note, a tone and an outcome are called: short, in full, and aloud. Words only, in the reader's language."""

from __future__ import annotations

from functools import cache

from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import get_language, override, pgettext
from django.utils.translation import gettext as _

from assignments.exercises import LEVELS
from studio.languages import names_language


def _pitch_class(written_midi: int) -> tuple[str, str]:
    """The short name and the spoken one, of the language whose note names are used now."""
    return _pitch_classes(names_language())[written_midi % 12]


@cache
def _pitch_classes(language: str) -> tuple[tuple[str, str], ...]:
    """Those of ``language``, from C up. Spelled as players say it: sharps, but B flat and E flat."""
    with override(language):
        return _pitch_classes_now()


def _pitch_classes_now() -> tuple[tuple[str, str], ...]:
    return (
        (pgettext("note", "C"), pgettext("note, aloud", "C")),
        (pgettext("note", "C♯"), pgettext("note, aloud", "C sharp")),
        (pgettext("note", "D"), pgettext("note, aloud", "D")),
        (pgettext("note", "E♭"), pgettext("note, aloud", "E flat")),
        (pgettext("note", "E"), pgettext("note, aloud", "E")),
        (pgettext("note", "F"), pgettext("note, aloud", "F")),
        (pgettext("note", "F♯"), pgettext("note, aloud", "F sharp")),
        (pgettext("note", "G"), pgettext("note, aloud", "G")),
        (pgettext("note", "G♯"), pgettext("note, aloud", "G sharp")),
        (pgettext("note", "A"), pgettext("note, aloud", "A")),
        (pgettext("note", "B♭"), pgettext("note, aloud", "B flat")),
        (pgettext("note", "B"), pgettext("note, aloud", "B")),
    )


def octave(written_midi: int) -> int:
    """Scientific octave: 60 is C4."""
    return written_midi // 12 - 1


def note_name(written_midi: int) -> str:
    """``C♯``, without its octave."""
    return _pitch_class(written_midi)[0]


def note_plain(written_midi: int) -> str:
    """``C♯5``."""
    return f"{note_name(written_midi)}{octave(written_midi)}"


def note_said(written_midi: int) -> str:
    """``C sharp 5``: for screen readers, which pass over ♯ and ♭."""
    return f"{_pitch_class(written_midi)[1]} {octave(written_midi)}"


def _placed(written_midi: int, name: str) -> str:
    """Low, middle or high, as saxophonists count: each turn begins at A (common practice)."""
    turn = (written_midi - 57) // 12
    if turn <= 0:
        return _("low %(note)s") % {"note": name}
    if turn == 1:
        return _("middle %(note)s") % {"note": name}
    if turn == 2:
        return _("high %(note)s") % {"note": name}
    return _("very high %(note)s") % {"note": name}


def note_placed(written_midi: int) -> str:
    """``middle C sharp``."""
    return _placed(written_midi, _pitch_class(written_midi)[1])


def note_placed_short(written_midi: int) -> str:
    """``middle C♯``."""
    return _placed(written_midi, note_name(written_midi))


def note_html(written_midi: int, *, with_octave: bool = True) -> SafeString:
    """C♯ with a small 5 for the eye, “C sharp 5” for the ear."""
    if not with_octave:
        return _seen_and_said("note", note_name(written_midi), _pitch_class(written_midi)[1])
    shown = format_html("{}<sub>{}</sub>", note_name(written_midi), octave(written_midi))
    return _seen_and_said("note", shown, note_said(written_midi))


def tone_said(tone: str) -> str:
    """A level or shape in words: ``very soft``, ``swell``."""
    return _tones_said(get_language())[tone]


@cache
def _tones_said(language: str | None) -> dict[str, str]:
    return {
        "ppp": _("as soft as it speaks"),
        "pp": _("very soft"),
        "p": _("soft"),
        "mp": _("rather soft"),
        "mf": _("medium"),
        "f": _("loud"),
        "ff": _("very loud"),
        "fff": _("as loud as it stays good"),
        "stepped": _("steps"),
        "swell": _("swell"),
        "reverse_swell": _("dip"),
    }


def tone_html(tone: str) -> SafeString:
    """*pp* for the eye, “very soft” for the ear; shapes are words for both."""
    if tone in LEVELS:
        return _seen_and_said("level", tone, tone_said(tone))
    return format_html("{}", tone_said(tone))


def outcome_word(outcome: str | None) -> str:
    """The word that stands beside a mark. None: nothing was played yet."""
    match outcome:
        case "hit":
            return _("on target")
        case "miss":
            return _("not yet")
        case "unreadable":
            return _("couldn’t hear")
    return _("not played")


def _seen_and_said(kind: str, seen: str, said: str) -> SafeString:
    return format_html('<span class="{}" aria-hidden="true">{}</span><span class="unseen">{}</span>', kind, seen, said)
