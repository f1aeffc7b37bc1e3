"""The practice card of a week: seven days of tones with a box under each, on one sheet."""

from __future__ import annotations

from django.template.defaultfilters import capfirst
from django.template.defaultfilters import date as date_words
from django.utils.formats import number_format
from django.utils.translation import gettext as _

from analysis.core.records import Target
from assignments.queries.card import DAYS, CardDay, CardPage
from assignments.sheets import faces, staff
from assignments.sheets.records import Outline, Paper, Rule, Sheet, Words
from studio.qr import drawn as qr_drawn

MARGIN_MM = 10.0
DAYS_TOP_MM, FOOT_MM = 43.0, 26.5
DAY_ROOM_MM = 15.5  # for the day's name, left of its stave
QR_MM = 24.0
TITLE_PT, LEAD_PT, TEXT_PT, SMALL_PT = 21.0, 12.5, 11.0, 9.5
RULE_MM = 0.2
LINE_MM = 4.6  # of a text that goes on


def laid(page: CardPage, paper: Paper, address: str) -> Sheet:
    """``address``: where the QR code leads."""
    words, outlines = _head(page, paper, address)
    rules = _box_in_words(words)
    room = (paper.height_mm - DAYS_TOP_MM - FOOT_MM) / DAYS
    places = max((len(day.tones) for day in page.days), default=0)
    notes = [tone.written_midi for day in page.days for tone in day.tones]
    left, right = MARGIN_MM + DAY_ROOM_MM, paper.width_mm - MARGIN_MM
    for place, day in enumerate(page.days):
        row = staff.Row(left, right, DAYS_TOP_MM + place * room, room, places=places, notes=notes)
        lines, heads = staff.stave(row, day.tones)
        marks, shapes = staff.marks(row, day.tones)
        rules += lines + staff.boxes(row, len(day.tones))
        outlines += heads + shapes
        words += marks + _day(row, day)
    words += _foot(page, paper)
    ground = paper.height_mm - MARGIN_MM
    rules.append(Rule((MARGIN_MM, ground), (paper.width_mm - MARGIN_MM, ground), RULE_MM))
    title = _title(page)
    return Sheet(title, _said(page), paper, tuple(words), tuple(rules), tuple(outlines))


def _title(page: CardPage) -> str:
    places = {"name": page.first_name}
    if not page.days:
        return _("%(name)s’s tones") % places
    first, last = page.days[0].on, page.days[-1].on
    places |= {"first": date_words(first, "j F"), "last": date_words(last, "j F")}
    return _("%(name)s’s tones, %(first)s to %(last)s") % places


def _said(page: CardPage) -> str:
    return _("%(days)d days of tones in written pitch, with a box to fill under each.") % {"days": len(page.days)}


def _head(page: CardPage, paper: Paper, address: str) -> tuple[list[Words], list[Outline]]:
    room = paper.width_mm - 2 * MARGIN_MM - QR_MM - 4.0
    focus = capfirst(page.week.focus) if page.week else ""
    about = _("%(horn)s, written pitch.") % {"horn": capfirst(page.build)}
    beats = page.week.beats_per_minute if page.week else 60
    count = _("Count 8 to play and 4 to breathe, %(beats)d beats a minute. Rest a minute after the last one.")
    words = [
        Words(MARGIN_MM, 17.5, faces.shortened(_title(page), "head", TITLE_PT, room), TITLE_PT, "head"),
        Words(MARGIN_MM, 24.5, about, LEAD_PT),
        _line(30.5, count % {"beats": beats}, room),
    ]
    after = MARGIN_MM + faces.width_mm(f"{about} ", "plain", LEAD_PT)
    words.append(
        Words(after, 24.5, faces.shortened(focus, "strong", LEAD_PT, MARGIN_MM + room - after), LEAD_PT, "strong")
    )
    if page.target is not None:
        words.append(_line(36.0, _aim(page.target), room))
    return words, _code(words, paper, address)


def _line(y: float, text: str, room: float) -> Words:
    """Of a language with longer words a little smaller, so that nothing of it is lost."""
    size = faces.fitting_pt(text, "plain", TEXT_PT, SMALL_PT, room)
    return Words(MARGIN_MM, y, faces.shortened(text, "plain", size, room), size)


def _aim(target: Target) -> str:
    """The week's targets of a plain tone, for whoever checks one with the teacher."""
    return _(
        "Targets: within %(cents)s cents of the note, level steady within %(db)s dB, speaking within %(ms)s ms."
    ) % {
        "cents": number_format(target.pitch_cents, 0),
        "db": number_format(target.level_spread_db, 1),
        "ms": number_format(target.rise_s * 1000.0, 0),
    }


def _code(words: list[Words], paper: Paper, address: str) -> list[Outline]:
    code = qr_drawn(address)
    left = paper.width_mm - MARGIN_MM - QR_MM
    below = _("Today, on a phone")
    half = faces.width_mm(below, "plain", SMALL_PT) / 2.0
    middle = min(left + QR_MM / 2.0, paper.width_mm - MARGIN_MM - half)
    words.append(Words(middle, MARGIN_MM + QR_MM + 2.5, below, SMALL_PT, "plain", "middle"))
    return [Outline(code.path, left, MARGIN_MM - 2.0, QR_MM / code.size, QR_MM / code.size)]


def _box_in_words(words: list[Words]) -> list[Rule]:
    """How a box is filled: said once, with a full and an open one between the words."""
    y, x = 41.5, MARGIN_MM
    full, still_open = _("Fill the box when it spoke at once and stayed still:"), _("leave it open for not yet:")
    width, height = staff.BOX_ROOM_MM
    words.append(Words(x, y, full, TEXT_PT))
    x += faces.width_mm(full, "plain", TEXT_PT) + 1.5
    middle = x + width / 2.0
    rules = [*staff.box(x, y + 0.3, width, height), Rule((middle, y + 0.3 - height), (middle, y + 0.3), width)]
    x += width + 4.0
    words.append(Words(x, y, still_open, TEXT_PT))
    return [*rules, *staff.box(x + faces.width_mm(still_open, "plain", TEXT_PT) + 1.5, y + 0.3, width, height)]


def _day(row: staff.Row, day: CardDay) -> list[Words]:
    return [
        Words(MARGIN_MM, row.line_mm + 2.2, date_words(day.on, "D"), 14.0, "head"),
        Words(MARGIN_MM, row.line_mm + 7.2, date_words(day.on, "j M"), SMALL_PT),
    ]


def _foot(page: CardPage, paper: Paper) -> list[Words]:
    bold = _("Work for the air, never pain.")
    rest = _("If lip, jaw, neck, hand or head hurts, or you feel light-headed, stop for today.")
    y, room = paper.height_mm - FOOT_MM + 3.5, paper.width_mm - 2 * MARGIN_MM
    # Never shortened: without its last words nobody would know what to do.
    safe = [
        Words(MARGIN_MM, y + place * LINE_MM, line, TEXT_PT)
        for place, line in enumerate(faces.lines(rest, "plain", TEXT_PT, room), 1)
    ]
    teacher = page.week.set_by.get_short_name() if page.week and page.week.set_by else ""
    word = _("A word for %(name)s:") % {"name": teacher} if teacher else _("A word for your teacher:")
    return [
        Words(MARGIN_MM, y, bold, TEXT_PT, "strong"),
        *safe,
        Words(MARGIN_MM, paper.height_mm - MARGIN_MM - 1.2, word, TEXT_PT),
    ]
