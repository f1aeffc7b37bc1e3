"""Is this student ready? The rule as it stands, six tones to hear, and which of them this teacher has heard."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.template.defaultfilters import lower
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analysis.drawing import Strip
from assignments import gate, six_tones, stages, standings
from assignments.models import Hearing, Try
from assignments.queries import past
from assignments.queries.around import Before, around, before
from assignments.queries.said import picture
from assignments.queries.sounding import Sounding, soundings, with_relations
from assignments.queries.whose import OfOneHorn
from assignments.spelled import capital, spelled
from studio.models import Horn, User

FEWEST = 3  # to hear before a yes; with fewer left a teacher can still open by hand, with a reason


@dataclass(frozen=True, slots=True)
class ToHear:
    """One of the six. ``sounding`` is None when nothing of its kind can be heard."""

    number: int
    kind: six_tones.Kind
    sounding: Sounding | None
    heard: bool
    ago: Before | None  # the same tone four weeks ago
    ask_for: str  # a pin that would bring one, as the week's form takes it
    strip: Strip | None

    @property
    def words(self) -> str:
        """Why this one."""
        return {
            "just_right": _("one of the weakest notes"),
            "lowest_soft": _("lowest, soft"),
            "across_break": _("across the break"),
            "top": _("top of the keys, loud"),
            "shape": _("a shape"),
        }[self.kind]

    @property
    def sentence(self) -> str:
        return picture(self.sounding.row, ()) if self.sounding else ""


@dataclass(frozen=True, slots=True)
class DecidePage(OfOneHorn):
    horn: Horn
    on: dt.date
    stage: int
    standing: gate.Standing
    asked: bool  # the rule is met and nobody has answered
    tones: tuple[ToHear, ...]

    @property
    def fewest(self) -> int:
        return FEWEST

    @property
    def question(self) -> str:
        return _("Is %(name)s ready: %(what)s?") % {"name": self.first_name, "what": lower(stages.title(self.stage))}

    @property
    def rule_line(self) -> str:
        """How the rule stands, in its own numbers."""
        window, rule, asked = self.standing.window, self.standing.rule, self.standing.notes_asked
        days = _("%(hits)d of the last %(days)d counted days on target.") % {
            "hits": window.on_target,
            "days": window.days,
        }
        if not rule.note_tries:
            return days
        notes = _("%(now)d of %(all)d notes have hit at least %(hits)d of their last %(tries)d tries.") % {
            "now": asked - len(self.standing.notes_short),
            "all": asked,
            "hits": rule.note_hits,
            "tries": rule.note_tries,
        }
        return f"{days} {notes}"

    @property
    def not_asked(self) -> str:
        """Why there is no yes or no to say."""
        if self.standing.is_open:
            return _("It is open already.")
        if "teacher_not_yet" in self.standing.reasons:
            return _("“Not yet” was said. It asks again in a week, or you open it by hand.")
        if self.standing.state == "ready":
            return _("The stage below it is shut.")
        return _("The rule isn’t met now, so nothing is asked.")

    @property
    def yes_words(self) -> str:
        return _("Yes, open %(what)s") % {"what": stages.short(self.stage)}

    @property
    def left_line(self) -> str:
        if self.too_few:
            return _("Too few recordings are left for a yes. Ask for some, or open by hand.")
        if not self.left:
            return _("All heard.")
        text = ngettext("One more to hear before a yes.", "%(n)s more to hear before a yes.", self.left)
        return text % {"n": capital(spelled(self.left))}

    @property
    def there(self) -> tuple[ToHear, ...]:
        return tuple(tone for tone in self.tones if tone.sounding)

    @property
    def missing(self) -> tuple[ToHear, ...]:
        return tuple(tone for tone in self.tones if not tone.sounding)

    @property
    def left(self) -> int:
        """How many are still to be heard before a yes."""
        return sum(not tone.heard for tone in self.there)

    @property
    def too_few(self) -> bool:
        return len(self.there) < FEWEST

    @property
    def may_say_yes(self) -> bool:
        return self.asked and not self.left and not self.too_few


def deciding(horn: Horn, user: User, stage: int | None = None) -> DecidePage:
    """The page for one stage; without one for the stage that is asked about. A fixed number of queries.

    The six are chosen from the days before today, so that what is played while a teacher listens does not move them.
    """
    on = horn.studio.today()
    ladder = standings.ladders([horn], on)[horn.pk]
    stage = stage or standings.stage_asked(ladder)
    low, high = horn.written_range
    history = past.of_horn(horn)
    picks = six_tones.choose([_played(row) for row in history], lowest=low, highest=high, on=on - dt.timedelta(days=1))
    keys = [pick.key for pick in picks if pick.key]
    ago = _four_weeks_ago(keys, history)
    heard = soundings(with_relations(Try.objects.filter(pk__in=[*keys, *ago.values()])))
    known = set(Hearing.objects.filter(by=user, about_try__in=keys).values_list("about_try", flat=True))
    below_open = all(ladder[below].state == "open" for below in range(1, stage))
    return DecidePage(
        horn=horn,
        on=on,
        stage=stage,
        standing=ladder[stage],
        asked=ladder[stage].state == "ready" and below_open,
        tones=tuple(
            _to_hear(number, pick, heard, ago, known=pick.key in known, ask_for=_pin(pick.kind, low, high))
            for number, pick in enumerate(picks, 1)
        ),
    )


def _four_weeks_ago(keys: Sequence[uuid.UUID], history: Sequence[past.Past]) -> dict[uuid.UUID, uuid.UUID]:
    """By try: the same tone about four weeks before it, where it was played and is kept."""
    found = {row.key: around(row, history).get("28") for row in history if row.key in keys}
    return {key: row.key for key, row in found.items() if row}


def _to_hear(
    number: int,
    pick: six_tones.Pick,
    heard: Mapping[uuid.UUID, Sounding],
    ago: Mapping[uuid.UUID, uuid.UUID],
    *,
    known: bool,
    ask_for: str,
) -> ToHear:
    now = heard.get(pick.key) if pick.key else None
    then = heard.get(ago[pick.key]) if pick.key and pick.key in ago else None
    return ToHear(
        number=number,
        kind=pick.kind,
        sounding=now,
        heard=known,
        ago=before(4, then, now) if now and then and then.tone else None,
        ask_for=ask_for,
        strip=now.drawn(flag=False) if now else None,
    )


def _pin(kind: six_tones.Kind, low: int, high: int) -> str:
    """A tone of that kind that every horn has."""
    middle = six_tones.BREAK[1] if low <= six_tones.BREAK[1] <= high else (low + high) // 2
    note, tone = {
        "just_right": (middle, "mf"),
        "lowest_soft": (low, "p"),
        "across_break": (middle, "mf"),
        "top": (high, "f"),
        "shape": (middle, "swell"),
    }[kind]
    return f"{note}-{tone}"


def _played(row: past.Past) -> six_tones.Played:
    return six_tones.Played(
        row.key, row.on, row.order, row.written_midi, row.tone, row.outcome == Try.Outcome.HIT, row.readable, row.kept
    )
