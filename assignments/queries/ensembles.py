"""Ensembles of a studio: who sits there, what is set, and who has sent it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from assignments import ensembles, voicing
from assignments.models import Chord, Ensemble, Part, Take
from assignments.naming import note_plain
from assignments.queries.parts import title
from studio.models import Horn, Studio


@dataclass(frozen=True, slots=True)
class ChordLine:
    chord: Chord
    asked: int
    sent: int

    @property
    def title(self) -> str:
        return title(self.chord)

    @property
    def state(self) -> str:
        """“2 of 4 have sent it”, “taken back”."""
        sent = ngettext("%(sent)d of %(asked)d has sent it", "%(sent)d of %(asked)d have sent it", self.sent) % {
            "sent": self.sent,
            "asked": self.asked,
        }
        return _("%(sent)s; taken back") % {"sent": sent} if self.chord.taken_back_on else sent


@dataclass(frozen=True, slots=True)
class EnsembleView:
    ensemble: Ensemble
    seats: tuple[Horn, ...]
    chords: tuple[ChordLine, ...]  # by their day, the latest first


def overview(studio: Studio) -> tuple[EnsembleView, ...]:
    """Those that are open, then those that are closed. Four queries."""
    rows = studio.ensembles.prefetch_related("seats__horn__player__user", "chords").order_by("name", "made_at")
    return tuple(sorted(_views(rows), key=lambda view: view.ensemble.closed_on is not None))


def view(ensemble: Ensemble) -> EnsembleView:
    (found,) = _views(
        Ensemble.objects.filter(pk=ensemble.pk)
        .select_related("studio")
        .prefetch_related("seats__horn__player__user", "chords")
    )
    return found


def _views(rows: Iterable[Ensemble]) -> list[EnsembleView]:
    found = list(rows)
    parts = Part.objects.filter(chord__ensemble__in=found).values_list("chord", "pk")
    sent = set(Take.objects.filter(exercise__part__chord__ensemble__in=found).values_list("exercise__part", flat=True))
    of_chord: dict[object, list[object]] = {}
    for chord, part in parts:
        of_chord.setdefault(chord, []).append(part)
    return [
        EnsembleView(
            ensemble=one,
            seats=tuple(seat.horn for seat in one.seats.all()),
            chords=tuple(
                ChordLine(chord, len(of_chord.get(chord.pk, ())), sum(part in sent for part in of_chord[chord.pk]))
                for chord in one.chords.all()
                if chord.pk in of_chord
            ),
        )
        for one in found
    ]


@dataclass(frozen=True, slots=True)
class SeatNote:
    """One seat while a chord is chosen. ``options``: sounding notes to choose from, with what that player reads."""

    horn: Horn
    sounding_midi: int
    written_midi: int
    obstacle: str  # why it can't be played, and what could be instead; empty: it can
    options: tuple[tuple[int, str], ...]


def seat_notes(notes: Sequence[tuple[Horn, int]], sounding: Sequence[tuple[int, str]]) -> tuple[SeatNote, ...]:
    """By seat; ``sounding``: every note that may be chosen, with its name. No query."""
    blocked = {one.horn.pk: one.words for one in ensembles.obstacles(notes)}
    return tuple(
        SeatNote(
            horn,
            midi,
            voicing.written(horn, midi),
            blocked.get(horn.pk, ""),
            tuple(_option(horn, midi, name) for midi, name in sounding),
        )
        for horn, midi in notes
    )


def _option(horn: Horn, sounding_midi: int, name: str) -> tuple[int, str]:
    if not voicing.is_reached(sounding_midi, voicing.reach_of(horn)):
        return sounding_midi, _("%(sounding)s, out of range") % {"sounding": name}
    written = note_plain(voicing.written(horn, sounding_midi))
    return sounding_midi, _("%(sounding)s, written %(written)s") % {"sounding": name, "written": written}
