"""What to do in the next lesson: proposed from what happened since the last one, or as it was kept."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from django.template.defaultfilters import date as date_words
from django.utils.translation import gettext as _

from assignments import equipment, lessons, standings
from assignments.agenda_forms import Line
from assignments.models import Agenda, Comment
from assignments.naming import note_plain, tone_said
from assignments.queries import student as student_query
from assignments.queries.moment import MomentView
from assignments.queries.sounding import Sounding
from assignments.queries.whose import OfOneHorn
from assignments.spelled import capital
from assignments.stages import short
from studio.models import Horn, User

MOMENTS = 4  # of those worth hearing: a lesson is half an hour
EARLIER = 6


@dataclass(frozen=True, slots=True)
class Point:
    """One line. ``number``: of the line, from 1; ``place``: what its field says; ``chosen``: it is ticked."""

    text: str
    number: int
    place: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class AgendaPage(OfOneHorn):
    horn: Horn
    on: dt.date  # of the lesson
    since: dt.date
    kept: Agenda | None
    points: tuple[Point, ...]
    earlier: tuple[Agenda, ...]


def page(horn: Horn, reader: User) -> AgendaPage:
    """For today’s lesson or the next one. What is new since it was kept stands below, not ticked.

    A lesson that is moved takes its agenda along: whatever was kept for a day after the last lesson is of the next.
    """
    today = horn.studio.today()
    seen = student_query.since_lesson(horn, today, reader)
    coming = seen.lesson or lessons.upcoming(horn.player, today)
    on = coming.on if coming else today
    held = seen.since if coming else today - lessons.DAY
    rows = list(Agenda.objects.filter(horn=horn).select_related("by").order_by("-on")[: EARLIER + 1])
    kept = min((row for row in rows if row.on > held), key=lambda row: abs(row.on - on), default=None)
    proposed = list(dict.fromkeys(_proposed(seen)))
    texts = [(text, True) for text in (kept.points if kept else proposed)]
    if kept:
        texts += [(text, False) for text in proposed if text not in kept.points]
    points = tuple(Point(text, number, str(number), chosen) for number, (text, chosen) in enumerate(texts, 1))
    return AgendaPage(horn, on, seen.since, kept, points, tuple(row for row in rows if row.on < on and row != kept))


def _proposed(seen: student_query.StudentPage) -> Iterator[str]:
    """What hurts first, then what was asked, then what to hear, then what went well, then the week."""
    if seen.hurt:
        yield _("Something hurt this week: talk about it before anything else.")
    yield from _asked(seen)
    yield from _about_the_gate(seen)
    if not seen.is_new and not seen.practised:
        yield _("Nothing was played since %(day)s: ask how the week was.") % {"day": date_words(seen.since, "j F")}
    yield from (_moment(view) for view in seen.moments[:MOMENTS])
    for change in equipment.changes(seen.horn, seen.since):
        yield _("%(what)s since %(day)s: hear what it does.") % {
            "what": capital(change.sentence),
            "day": date_words(change.on, "j F"),
        }
    if seen.came_right:
        yield _("Came right: %(tones)s. Hear one together.") % {"tones": ", ".join(map(_tone, seen.came_right))}
    if seen.week is None:
        yield _("Set the first week.")
    elif seen.week.ends_on <= seen.on + lessons.DAY:
        yield _("The week ends on %(day)s: set the next one.") % {"day": date_words(seen.week.ends_on, "j F")}


def _asked(seen: student_query.StudentPage) -> Iterator[str]:
    """What the student wrote since the last lesson, oldest first."""
    horn, since = seen.horn, seen.horn.studio.begins(seen.since)
    words = Comment.objects.filter(horn=horn, by=horn.player.user_id, made_at__gte=since).select_related("about_try")
    for comment in words.order_by("made_at"):
        if comment.text:
            about = comment.about_try
            where = f" ({note_plain(about.written_midi)} {about.tone})" if about else ""
            yield _("%(name)s wrote: “%(words)s”%(where)s") % {
                "name": seen.horn.player.user.get_short_name(),
                "words": comment.text,
                "where": where,
            }


def _about_the_gate(seen: student_query.StudentPage) -> Iterator[str]:
    standing = seen.standing
    if seen.asks:
        stage = standings.stage_asked(seen.ladder)
        yield _("The rule is met for %(what)s: hear six tones, then answer.") % {"what": short(stage)}
    elif standing.notice:
        yield _("The high notes are slipping: %(now)d of the last %(all)d days on target.") % {
            "now": standing.window.on_target,
            "all": standing.window.days,
        }
    elif standing.state == "resting":
        yield _("After a break: three days on target before high notes.")


def _moment(view: MomentView) -> str:
    parts = (f"{_tone(view.now)}:", view.happened, view.why)
    return " ".join(part for part in parts if part)


def _tone(one: Sounding) -> str:
    level = one.row.tone if len(one.row.tone) <= len("fff") else tone_said(one.row.tone)
    return f"{note_plain(one.row.written_midi)} {level}"


def as_sent(page: AgendaPage, on: dt.date, lines: Sequence[Line]) -> AgendaPage:
    """The page again with the lines that could not be kept, so that nothing is lost."""
    points = (Point(line.text, number, line.place, line.is_ticked) for number, line in enumerate(lines, 1))
    return replace(page, on=on, points=tuple(points))
