"""Overtone against normal fingering: the newest pair of each partial, in words, in numbers, and to hear in turn."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from django.utils.formats import number_format
from django.utils.translation import gettext as _

from analysis import drawing
from analysis.core.records import Difference, SamePitch
from analysis.core.same_pitch import SURE, compare, is_alike
from assignments import standings
from assignments.exercises import Slot, kinds
from assignments.models import Exercise, Take, Try
from assignments.naming import note_placed_short, note_said
from assignments.queries.around import LOUDEST_CHANGE_DB
from assignments.queries.sounding import Sounding, soundings, with_relations
from studio.models import Horn

BESIDE = tuple(key for key, kind in kinds().items() if kind.beside_fingered)
LOOKED_BACK = 12  # recordings
SHOWN_BEFORE = 4
ALIKE_CENTS = 10.0  # what trained listeners just notice between two tones (one study of a hundred people)
ALIKE_PCT = 10.0  # of the centroid: two steps of what is just noticed under good conditions


@dataclass(frozen=True, slots=True)
class Number:
    label: str
    value: str
    error: str


@dataclass(frozen=True, slots=True)
class Pair:
    """One partial and the note that sounds the same. ``found``: None where one of them couldn’t be compared."""

    overtone: Sounding
    fingered: Sounding
    found: SamePitch | None
    drawn: drawing.Partials | None

    @property
    def on(self) -> dt.date:
        return self.overtone.row.on

    @property
    def partial(self) -> int:
        return self.overtone.row.partial or 1

    @property
    def written_midi(self) -> int:
        """The note that sounds."""
        return self.fingered.row.written_midi

    @property
    def low_midi(self) -> int:
        """The fingering of the partial."""
        return self.overtone.row.written_midi

    @property
    def apart_cents(self) -> Difference | None:
        """How far they lie from each other, beside what lies between them when both are right."""
        if self.found is None:
            return None
        return Difference(self.found.between_cents.value - self.found.in_tune_cents, self.found.between_cents.error)

    @property
    def words(self) -> str:
        """For a student: which partial spoke, then pitch, then colour. Never a number of cents."""
        tone = self.overtone.tone
        if tone is not None and tone.partial is not None and tone.partial != self.partial:
            return _("Partial %(heard)d spoke. Partial %(asked)d is the one to find: hear it before you blow.") % {
                "heard": tone.partial,
                "asked": self.partial,
            }
        apart, found = self.apart_cents, self.found
        if found is None or apart is None:
            return _("I couldn’t hear both of them well enough. Play the two again, a little closer to the phone.")
        higher = _("The overtone is higher than the fingered note."), _("The overtone is lower than the fingered note.")
        pitch = _verdict(apart, ALIKE_CENTS, _("Both have the same pitch."), higher, _("In pitch they are close."))
        if found.brightness_pct is None:
            return pitch
        brighter = _("The overtone is brighter."), _("The overtone is darker.")
        colour = _verdict(
            found.brightness_pct, ALIKE_PCT, _("They sound alike."), brighter, _("In colour I can’t tell them apart.")
        )
        return f"{pitch} {colour}"

    @property
    def sentence(self) -> str:
        """The picture for those who don’t see it."""
        return _("%(note)s as an overtone and fingered. %(words)s") % {
            "note": note_said(self.written_midi),
            "words": self.words,
        }

    @property
    def title(self) -> str:
        return _("partial %(partial)d of %(low)s, then fingered") % {
            "partial": self.partial,
            "low": note_placed_short(self.low_midi),
        }

    @property
    def can_be_heard(self) -> bool:
        return self.overtone.is_kept and self.overtone.tone is not None and self.fingered.tone is not None

    @property
    def list_json(self) -> str:
        """For hear.js: one after the other."""
        return json.dumps([self.overtone.stretch, self.fingered.stretch])

    @property
    def gains_json(self) -> str:
        """The louder one is played as soft as the other, so that nothing breaks up and colour is heard, not level."""
        if self.overtone.tone is None or self.fingered.tone is None:
            return "[0, 0]"
        louder_db = self.overtone.tone.level_db - self.fingered.tone.level_db
        louder_db = max(-LOUDEST_CHANGE_DB, min(LOUDEST_CHANGE_DB, louder_db))
        return json.dumps([round(-max(0.0, louder_db), 1), round(-max(0.0, -louder_db), 1)])

    @property
    def numbers(self) -> tuple[Number, ...]:
        """For a teacher. Errors hold the truth nineteen times in twenty."""
        found, apart = self.found, self.apart_cents
        if found is None or apart is None:
            return ()
        cents, per_octave = _("%(n)s cents"), _("%(n)s dB an octave")
        rows: tuple[tuple[str, Difference | None, str], ...] = (
            (_("overtone, against the exact partial"), found.overtone_cents, cents),
            (_("fingered note, against equal temperament"), found.fingered_cents, cents),
            (_("overtone against fingered note"), found.between_cents, cents),
            (_("the same, less what an exact partial lies off"), apart, cents),
            (_("brightness: centroid of the partials"), found.brightness_pct, _("%(n)s %%")),
            (_("tilt of the partials"), found.tilt_db_per_octave, per_octave),
            (_("odd over even partials"), found.odd_even_db, _("%(n)s dB")),
        )
        return tuple(
            Number(label, unit % {"n": _signed(one.value)}, unit % {"n": number_format(SURE * one.error, 1)})
            for label, one, unit in rows
            if one is not None
        )


@dataclass(frozen=True, slots=True)
class Partial:
    """One partial: its newest pair, and how the ones before it lay."""

    pair: Pair
    before: tuple[Pair, ...]

    @property
    def before_words(self) -> tuple[tuple[dt.date, str], ...]:
        return tuple(
            (one.on, _("%(n)s cents apart") % {"n": _signed(one.apart_cents.value)})
            for one in self.before
            if one.apart_cents is not None
        )


@dataclass(frozen=True, slots=True)
class OvertonesPage:
    horn: Horn
    exercise: Exercise | None  # to play it again
    partials: tuple[Partial, ...]
    waits_for_teacher: bool  # nothing is set, though the stage is open

    @property
    def headline(self) -> str:
        if not self.partials:
            return _("Overtone and fingering")
        alike = sum(
            is_alike(one.pair.apart_cents, ALIKE_CENTS) is True for one in self.partials if one.pair.apart_cents
        )
        return _("%(n)d of %(all)d pairs have the same pitch") % {"n": alike, "all": len(self.partials)}


def page(horn: Horn) -> OvertonesPage:
    """A fixed number of queries."""
    takes = Take.objects.filter(horn=horn, exercise__kind__in=BESIDE, settled_at__isnull=False)
    latest = list(takes.order_by("-received_at").values_list("pk", flat=True)[:LOOKED_BACK])
    rows = list(with_relations(Try.objects.filter(take__in=latest)).order_by("-played_at", "slot"))
    pairs: dict[tuple[int, int], list[Pair]] = {}
    for pair in _pairs(rows, soundings(rows)):
        pairs.setdefault((pair.low_midi, pair.partial), []).append(pair)
    exercise = (
        Exercise.objects.filter(week__horn=horn, kind__in=BESIDE).order_by("-week__starts_on", "position").first()
    )
    found = tuple(Partial(pairs[key][0], tuple(pairs[key][1 : 1 + SHOWN_BEFORE])) for key in sorted(pairs))
    stage = min(kinds()[kind].stage for kind in BESIDE)
    waits = exercise is None and not found and standings.is_open(horn, stage, horn.studio.today())
    return OvertonesPage(horn, exercise, found, waits)


def _pairs(rows: Sequence[Try], heard: Mapping[UUID, Sounding]) -> Iterator[Pair]:
    """A partial and the note after it in one recording."""
    of_place = {(row.take_id, row.slot): row for row in rows}
    for row in rows:
        after = of_place.get((row.take_id, row.slot + 1))
        if row.partial is None or after is None or after.partial is not None:
            continue
        overtone, fingered = heard[row.pk], heard[after.pk]
        asked = Slot(**row.take.asked[row.slot])
        one, other = overtone.tone, fingered.tone
        if one and other and one.readable and other.readable and one.partial == asked.partial:
            drawn = drawing.partials(one.colour.levels_db, other.colour.levels_db)
            yield Pair(overtone, fingered, compare(one, other), drawn)
        else:
            yield Pair(overtone, fingered, None, None)


def _verdict(difference: Difference, limit: float, alike: str, apart: tuple[str, str], near: str) -> str:
    is_one = is_alike(difference, limit)
    if is_one is None:
        return near
    return alike if is_one else apart[0] if difference.value > 0.0 else apart[1]


def _signed(value: float) -> str:
    shown = round(value, 1)
    return f"{'−' if shown < 0.0 else '+' if shown > 0.0 else ''}{number_format(abs(shown), 1)}"
