"""Is this student ready? The rule as it stands, six tones to hear, and which of them this teacher has heard."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from assignments import gate, six_tones, standings
from assignments.models import Hearing, Try
from assignments.queries import past
from assignments.queries.sounding import Sounding, soundings, with_relations
from studio.models import Horn, User

FEWEST = 3  # to hear before a yes; with fewer left a teacher can still open by hand, with a reason


@dataclass(frozen=True, slots=True)
class ToHear:
    """One of the six. ``sounding`` is None when nothing of its kind can be heard."""

    number: int
    kind: six_tones.Kind
    sounding: Sounding | None
    heard: bool


@dataclass(frozen=True, slots=True)
class DecidePage:
    horn: Horn
    on: dt.date
    stage: int
    standing: gate.Standing
    asked: bool  # the rule is met and nobody has answered
    tones: tuple[ToHear, ...]

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
    picks = six_tones.choose(
        [_played(row) for row in past.of_horn(horn)], lowest=low, highest=high, on=on - dt.timedelta(days=1)
    )
    keys = [pick.key for pick in picks if pick.key]
    heard = soundings(with_relations(Try.objects.filter(pk__in=keys)))
    known = set(Hearing.objects.filter(by=user, about_try__in=keys).values_list("about_try", flat=True))
    below_open = all(ladder[below].state == "open" for below in range(1, stage))
    return DecidePage(
        horn=horn,
        on=on,
        stage=stage,
        standing=ladder[stage],
        asked=ladder[stage].state == "ready" and below_open,
        tones=tuple(
            ToHear(number, pick.kind, heard.get(pick.key), pick.key in known) for number, pick in enumerate(picks, 1)
        ),
    )


def _played(row: past.Past) -> six_tones.Played:
    return six_tones.Played(
        row.key, row.on, row.order, row.written_midi, row.tone, row.outcome == Try.Outcome.HIT, row.readable, row.kept
    )
