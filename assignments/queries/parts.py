"""What one player is told of an ensemble: their own note, and which instruments sit there. No names, no results."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.template.defaultfilters import date as date_words
from django.utils.translation import gettext as _

from assignments import naming, voicing
from assignments.models import Chord, Ensemble, Part
from assignments.spelled import capital
from studio.models import Membership


@dataclass(frozen=True, slots=True)
class PartView:
    part: Part
    seats: tuple[tuple[str, bool], ...]  # the instruments in their order; whether it is the player's own

    @property
    def written_midi(self) -> int:
        return self.part.written_midi

    @property
    def sounding_midi(self) -> int:
        return self.part.sounding_midi

    @property
    def chord(self) -> str:
        return title(self.part.chord)


def view(part: Part) -> PartView:
    """One query. ``part``: with its chord, ensemble and horn."""
    seats = part.chord.parts.select_related("horn")
    return PartView(part, tuple((seat.horn.get_kind_display(), seat.pk == part.pk) for seat in seats))


def line(part: Part) -> str:
    """“Harbour Quartet, Sunday 6 December: play written G4.”"""
    return _("%(ensemble)s, %(day)s: play written %(note)s.") % {
        "ensemble": part.chord.ensemble.name,
        "day": date_words(part.chord.for_on, "l j F"),
        "note": naming.note_plain(part.written_midi),
    }


def at_home(ward: Membership, on: dt.date) -> tuple[str, ...]:
    """The ensembles that a student sits in, each with what is asked of the student there. Two queries."""
    asked = list(
        Part.objects.filter(Part.still_to_play(on), horn__player=ward)
        .select_related("chord__ensemble", "horn")
        .order_by("chord__for_on", "chord__set_at")
    )
    quiet = (
        Ensemble.objects.filter(seats__horn__player=ward, closed_on=None)
        .distinct()
        .exclude(pk__in=[part.chord.ensemble_id for part in asked])
    )
    return (*map(line, asked), *(_("%(ensemble)s: nothing is set.") % {"ensemble": one.name} for one in quiet))


def title(chord: Chord) -> str:
    """“B♭ major”, “Unison B♭3”, as it sounds."""
    name = _(voicing.qualities()[chord.quality].title)
    if chord.quality == voicing.OWN:
        return capital(name)
    if chord.quality == voicing.UNISON:
        return f"{capital(name)} {naming.note_plain(chord.root_sounding_midi)}"
    return f"{naming.note_name(chord.root_sounding_midi)} {name}"
