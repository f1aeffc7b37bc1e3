"""One student's month for the family, on one sheet: what was practised, what came on, what is next."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django.template.defaultfilters import capfirst
from django.template.defaultfilters import date as date_words
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from assignments.naming import note_placed_short
from assignments.queries.at_home import HomeMonth, HornMonth
from assignments.sheets import faces
from assignments.sheets.records import PT_MM, Face, Paper, Rule, Sheet, Words

MARGIN_MM = 20.0
TITLE_PT, HEAD_PT, TEXT_PT, SMALL_PT = 24.0, 15.0, 12.5, 10.0
LINE = 1.4  # of a face's height
MOST_NOTES = 8  # named one by one; more are counted
MOST_HORNS = 2
RULE_MM = 0.3
SAID_LINES = 3


class _Writing:
    """A column that fills downwards."""

    def __init__(self, paper: Paper) -> None:
        self.left, self.y = MARGIN_MM, MARGIN_MM
        self.room = paper.width_mm - 2 * MARGIN_MM
        self.words: list[Words] = []
        self.rules: list[Rule] = []

    def write(self, text: str, size_pt: float = TEXT_PT, face: Face = "plain", most: int | None = None) -> None:
        """A paragraph. ``most``: so many lines; the rest is left to the page on the screen."""
        lines = faces.lines(text, face, size_pt, self.room)
        if most and len(lines) > most:
            lines = [*lines[: most - 1], faces.shortened(f"{lines[most - 1]} …", face, size_pt, self.room)]
        for line in lines:
            self.y += size_pt * PT_MM * LINE
            self.words.append(Words(self.left, self.y, line, size_pt, face))

    def part(self, title: str) -> None:
        self.y += 7.0
        self.rules.append(Rule((self.left, self.y), (self.left + self.room, self.y), RULE_MM))
        self.y += 1.0
        self.write(title, HEAD_PT, "head")
        self.y += 0.8


def laid(page: HomeMonth, paper: Paper) -> Sheet:
    """No figure in it compares the student with anybody."""
    writing = _Writing(paper)
    name = page.ward.user.get_short_name()
    writing.write(f"{page.ward.studio.name}, {date_words(page.first_on, 'F Y')}", SMALL_PT)
    writing.y += 2.0
    writing.write(_("%(name)s: %(headline)s") % {"name": name, "headline": page.headline}, TITLE_PT, "head")
    writing.part(_("What was practised"))
    _write(writing, _practised(page))
    writing.part(_("What came on"))
    for one in page.horns[:MOST_HORNS]:
        _write(writing, _came_on(one, alone=len(page.horns) == 1))
    if not page.horns:
        writing.write(_("No horn is in use just now."))
    if page.said:
        writing.part(_("Said this month"))
        for comment in page.said:
            writing.write(f"“{comment.text}” {comment.by.get_short_name()}", most=SAID_LINES)
    writing.part(_("What is next"))
    _write(writing, _next(page))
    writing.part(_("What helps at home"))
    writing.write(
        _("A room where loud is allowed, the phone in the same spot, and no making up for days without playing.")
    )
    _foot(writing, paper)
    said = _("A month of practising in plain words.")
    title = _("%(name)s, %(month)s") % {"name": name, "month": date_words(page.first_on, "F Y")}
    return Sheet(title, said, paper, tuple(writing.words), tuple(writing.rules), ())


def _write(writing: _Writing, sentences: Iterable[str]) -> None:
    writing.write(" ".join(sentences))


def _practised(page: HomeMonth) -> Sequence[str]:
    if not page.days:
        return [_("Nothing was played this month. That breaks nothing: tones wait.")]
    said = [
        ngettext("Tones were played on %(n)d day.", "Tones were played on %(n)d days.", page.days) % {"n": page.days}
    ]
    if page.minutes:
        said.append(
            ngettext("It took about %(n)d minute a day.", "It took about %(n)d minutes a day.", page.minutes)
            % {"n": page.minutes}
        )
    if page.stopped:
        said.append(
            ngettext(
                "On %(n)d day playing was stopped because something hurt; stopping was right.",
                "On %(n)d days playing was stopped because something hurt; stopping was right.",
                page.stopped,
            )
            % {"n": page.stopped}
        )
        said.append(_("Pain, numbness or a sore that lasts more than a few days needs a doctor or dentist."))
    return said


def _came_on(one: HornMonth, *, alone: bool) -> Sequence[str]:
    said = [] if alone else [f"{capfirst(one.horn.get_kind_display())}:"]
    if one.came_on:
        said.append(_("New and steady since the month began: %(notes)s.") % {"notes": _named(one.came_on)})
    if one.notes_asked:
        said.append(one.sentence)
    said.append(_("High notes: %(where)s.") % {"where": one.high_notes})
    return said


def _named(notes: Sequence[int]) -> str:
    """A few notes by name; more are counted."""
    if len(notes) > MOST_NOTES:
        return ngettext("%(n)d note", "%(n)d notes", len(notes)) % {"n": len(notes)}
    return ", ".join(note_placed_short(midi) for midi in notes)


def _next(page: HomeMonth) -> Sequence[str]:
    said = [_("This week: %(focus)s.") % {"focus": page.focus.rstrip(".")}] if page.focus else []
    wanted = [_named(one.wanted) for one in page.horns[:MOST_HORNS] if one.wanted and one.stand]
    said += [_("Still to settle: %(notes)s.") % {"notes": notes} for notes in wanted]
    if page.lesson_on:
        at = f", {page.lesson_at:%H:%M}" if page.lesson_at else ""
        said.append(_("The next lesson is on %(day)s.") % {"day": date_words(page.lesson_on, "l j F") + at})
    return said or [_("The teacher sets what comes next in the lesson.")]


def _foot(writing: _Writing, paper: Paper) -> None:
    note = _("A note stands when it is on target most of the times it comes round. Nothing here compares with anybody.")
    lines = faces.lines(note, "plain", SMALL_PT, writing.room)
    for place, line in enumerate(lines):
        y = paper.height_mm - MARGIN_MM + (place - len(lines) + 1) * SMALL_PT * PT_MM * LINE
        writing.words.append(Words(writing.left, y, line, SMALL_PT))
