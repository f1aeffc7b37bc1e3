"""One unison or chord as it was sent: who has played it, how even the section is, and how surely that can be said."""

from __future__ import annotations

import json
import math
import statistics
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from analysis import drawing, results
from analysis.core import section
from analysis.core.just import just_cents
from analysis.models import Result
from assignments import naming
from assignments.models import Chord, Part, Take, Try
from assignments.progress import Progress, progress
from assignments.queries.parts import title
from assignments.queries.section_words import Sentence, off, sentences, signed
from assignments.queries.sounding import Sounding, with_relations

LOUDEST_DB = -20.0  # of all together: louder, the sum of many would be cut off
MOST_GAIN_DB = 20.0


@dataclass(frozen=True, slots=True)
class Heard:
    """The newest tone that answers a part, and what its room may do to its colour."""

    sounding: Sounding
    colour_error_pct: float


@dataclass(frozen=True, slots=True)
class SeatRow:
    """One seat. ``pitch``: against equal temperament; ``others``: what else was read, by measure."""

    part: Part
    progress: Progress | None  # of the newest take; None: nothing was sent
    sounding: Sounding | None
    readings: Mapping[str, section.Reading]
    middle_cents: float | None  # of the whole section
    pure_cents: float  # where a pure interval over the root lies
    drawn: drawing.VoiceRow | None
    gain_db: float

    @property
    def name(self) -> str:
        return str(self.part.horn.player.user)

    @property
    def instrument(self) -> str:
        return self.part.horn.get_kind_display()

    @property
    def is_heard(self) -> bool:
        """Whether it can be played now: a recording may have been deleted when its time was over."""
        return self.drawn is not None and self.sounding is not None and self.sounding.is_kept

    @property
    def pitch(self) -> str:
        return self._read("pitch", 1)

    @property
    def from_middle(self) -> str:
        """Against the middle of the section; empty where it would be its own middle.

        Without ±: the middle moves with the very readings that are held against it, so the error of one isn't its own.
        """
        found = self.readings.get("pitch")
        return signed(found.value - self.middle_cents) if found and self.middle_cents is not None else ""

    @property
    def pure(self) -> str:
        return signed(self.pure_cents)

    @property
    def wavers(self) -> str:
        return self._read("pitch_spread", 1)

    @property
    def level(self) -> str:
        return self._read("level_spread", 1)

    @property
    def speaks(self) -> str:
        return self._read("rise", 2)

    @property
    def words(self) -> str:
        """Why there is no number, where there is none."""
        if self.drawn is not None:
            return "" if self.is_heard else _("The recording was deleted when its time was over.")
        if self.progress is None:
            return _("Not sent yet.")
        if self.sounding is not None and self.sounding.tone is not None:
            played = naming.note_plain(self.sounding.tone.written_midi)
            return _("Another note: written %(note)s. Ask for another take.") % {"note": played}
        return _("Couldn’t be heard. Ask for another take.") if self.progress.is_over else self.progress.words

    def _read(self, measure: str, digits: int) -> str:
        found = self.readings.get(measure)
        return off(found.value, found.error, digits) if found else ""


@dataclass(frozen=True, slots=True)
class SectionPage:
    chord: Chord
    rows: tuple[SeatRow, ...]
    drawn: drawing.SectionDrawing
    sentences: tuple[Sentence, ...]

    @property
    def title(self) -> str:
        return title(self.chord)

    @property
    def sent(self) -> int:
        return sum(row.progress is not None for row in self.rows)

    @property
    def heard(self) -> tuple[SeatRow, ...]:
        return tuple(row for row in self.rows if row.is_heard)

    @property
    def is_unison(self) -> bool:
        return len({row.part.sounding_midi for row in self.rows}) == 1

    @property
    def together_json(self) -> str:
        """For hear.js: each tone from its own start to its end, so that they begin at once."""
        tones = [(row.sounding.address, row.sounding.tone) for row in self.heard if row.sounding]
        return json.dumps([(address, round(tone.start_s, 3), round(tone.end_s, 3)) for address, tone in tones if tone])

    @property
    def gains_json(self) -> str:
        """Equally loud, and together as loud as one."""
        fewer = 10.0 * math.log10(max(1, len(self.heard)))
        return json.dumps([round(row.gain_db - fewer, 1) for row in self.heard])


def page(chord: Chord) -> SectionPage:
    """Four queries for any number of seats. ``chord``: with its ensemble."""
    parts = list(chord.parts.select_related("horn__player__user", "horn__player__studio").order_by("position"))
    newest = {
        take.exercise.part_id: progress(take)
        for take in Take.objects.filter(exercise__part__chord=chord)
        .select_related("analysis", "exercise")
        .order_by("received_at")
    }
    heard = _heard(chord)
    voices = [_voice(part, heard.get(part.pk)) for part in parts]
    found = section.read(voices, chord.a4_hz)
    pitches = [section.pitch(voice, chord.a4_hz) if voice else None for voice in voices]
    pure = [just_cents(part.sounding_midi, chord.root_sounding_midi) for part in parts]
    drawn = drawing.section(
        [(one.value, one.error, cents) if one else None for one, cents in zip(pitches, pure, strict=True)],
        allowance_cents=section.least("pitch") / 2,
        sure=section.SURE,
    )
    gains = _gains(voices)
    middle = next((one.middle for one in found if one.measure == "pitch"), None)
    rows = tuple(
        SeatRow(
            part=part,
            progress=newest.get(part.pk),
            sounding=heard[part.pk].sounding if part.pk in heard else None,
            readings={"pitch": pitch} | _others(found, place) if (pitch := pitches[place]) else {},
            middle_cents=middle,
            pure_cents=pure[place],
            drawn=drawn.rows[place],
            gain_db=gains[place],
        )
        for place, part in enumerate(parts)
    )
    names = [part.horn.player.user.get_short_name() for part in parts]
    return SectionPage(chord, rows, drawn, sentences(found, voices, names))


def _heard(chord: Chord) -> dict[uuid.UUID | None, Heard]:
    """By part, the newest tone that was heard. Two queries."""
    tries = with_relations(Try.objects.filter(take__exercise__part__chord=chord, tone_index__isnull=False))
    newest = {row.take.exercise.part_id: row for row in tries.order_by("played_at")}
    analyses = [row.take.analysis_id for row in newest.values()]
    counted = {row.analysis_id: row for row in Result.objects.filter(analysis__in=analyses).order_by("-made_at")}
    found = {}
    for part, row in newest.items():
        measured = results.measurement(counted[row.take.analysis_id].report)
        tone = next((one for one in measured.tones if one.index == row.tone_index), None)
        found[part] = Heard(Sounding(row, tone, None), measured.evenness.colour_error_pct or 0.0)
    return found


def _voice(part: Part, heard: Heard | None) -> section.Voice | None:
    """The part's tone where it is the note that was asked for, and readable."""
    tone = heard.sounding.tone if heard else None
    if heard is None or tone is None or not tone.readable or tone.sounding_midi != part.sounding_midi:
        return None
    return section.Voice(part.sounding_midi, tone, heard.colour_error_pct)


def _others(found: Sequence[section.Across], place: int) -> dict[str, section.Reading]:
    """What else was read of one voice."""
    return {one.measure: reading for one in found if (reading := one.readings[place])}


def _gains(voices: Sequence[section.Voice | None]) -> list[float]:
    """What makes each voice as loud as the middle one: loudness says nothing between phones, so it is taken out."""
    levels = [voice.tone.level_db for voice in voices if voice]
    aim = min(statistics.median(levels), LOUDEST_DB) if levels else 0.0
    return [max(-MOST_GAIN_DB, min(MOST_GAIN_DB, aim - voice.tone.level_db)) if voice else 0.0 for voice in voices]
