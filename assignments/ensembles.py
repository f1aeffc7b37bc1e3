"""Ensembles: who sits in one, and what they are asked to sound together."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Q
from django.utils.translation import gettext as _

from assignments import parts, voicing
from assignments.models import Chord, DayPlan, Ensemble, Part, Seat
from assignments.naming import note_plain
from assignments.refusals import Refusal
from studio.models import Horn, Studio, User

FEWEST, MOST = 2, 24  # seats
AHEAD = dt.timedelta(days=370)  # so far ahead a chord may be set


@dataclass(frozen=True, slots=True)
class Obstacle:
    """A note that lies outside of one horn's normal range."""

    horn: Horn
    sounding_midi: int
    nearest_midi: int  # sounding

    @property
    def words(self) -> str:
        """Which seat, why, and what could stand there instead."""
        lowest, highest = voicing.reach_of(self.horn)
        why = (
            _("“%(sounding)s” is too low for %(name)s’s %(horn)s, which begins at %(end)s.")
            if self.sounding_midi < lowest
            else _("“%(sounding)s” is too high for %(name)s’s %(horn)s, whose keys end at %(end)s.")
        )
        written = voicing.written(self.horn, self.nearest_midi)
        instead = _("The nearest octave is %(sounding)s, written %(written)s.")
        return " ".join(
            (
                why
                % {
                    "sounding": note_plain(self.sounding_midi),
                    "name": self.horn.player.user.get_short_name(),
                    "horn": self.horn.get_kind_display(),
                    "end": note_plain(lowest if self.sounding_midi < lowest else highest),
                },
                instead % {"sounding": note_plain(self.nearest_midi), "written": note_plain(written)},
            )
        )


def keep(*, studio: Studio, by: User, name: str, horns: Sequence[Horn], ensemble: Ensemble | None = None) -> Ensemble:
    """Write who sits where, in this order. What was set before stays with those it was set for.

    Raises Refusal for fewer than two seats, too many, or one player in two of them: nobody plays two horns at once.
    """
    if len({horn.player_id for horn in horns}) < len(horns):
        raise Refusal("seat_taken_twice", _("Somebody sits in two seats. Give each seat to another player."))
    if not FEWEST <= len(horns) <= MOST:
        raise Refusal("seats", _("Choose two horns or more, %(most)d at most.") % {"most": MOST})
    with transaction.atomic():
        ensemble = ensemble or Ensemble(studio=studio, made_by=by)
        ensemble.name = name
        ensemble.save()
        ensemble.seats.all().delete()
        Seat.objects.bulk_create(Seat(ensemble=ensemble, horn=horn, position=place) for place, horn in enumerate(horns))
    return ensemble


def close(ensemble: Ensemble) -> None:
    """Nothing more is asked of it, and nothing of it stands in anybody's day. What was played stays."""
    ensemble.closed_on = ensemble.studio.today()
    ensemble.save(update_fields=["closed_on"])


def open_again(ensemble: Ensemble) -> None:
    ensemble.closed_on = None
    ensemble.save(update_fields=["closed_on"])


def sitting(ensemble: Ensemble) -> list[Horn]:
    """Who can be asked today, by seat: horns that are put away, and students who have left, are not. One query."""
    stays = Q(horn__player__ends_on=None) | Q(horn__player__ends_on__gte=ensemble.studio.today())
    seats = ensemble.seats.filter(stays, horn__put_away_on=None)
    return [seat.horn for seat in seats.select_related("horn__player__user", "horn__player__studio")]


def obstacles(notes: Sequence[tuple[Horn, int]]) -> list[Obstacle]:
    """Each seat whose sounding note lies outside of its horn's normal range."""
    reached = [(horn, note, voicing.reach_of(horn)) for horn, note in notes]
    return [
        Obstacle(horn, note, voicing.nearest_octave(note, reach))
        for horn, note, reach in reached
        if not voicing.is_reached(note, reach)
    ]


def set_chord(
    *,
    ensemble: Ensemble,
    by: User,
    quality: str,
    root_sounding_midi: int,
    notes: Sequence[tuple[Horn, int]],
    tone: str,
    for_on: dt.date,
    words: str = "",
    key: uuid.UUID | None = None,
) -> Chord:
    """Ask each of ``notes`` (horn and sounding note, by seat) for one tone. It stands in their days from now on.

    ``key`` becomes its id: sent twice, the second finds the first. Raises Refusal when the ensemble is closed, the day
    is past or far off, nobody sits there, or a note lies outside of a normal range.
    """
    today = ensemble.studio.today()
    if ensemble.closed_on:
        raise Refusal("closed", _("This ensemble is closed. Open it again first."), 409)
    if not today <= for_on <= today + AHEAD:
        raise Refusal("day", _("Choose a day from today on, within a year."))
    if not notes:
        raise Refusal("seats", _("Nobody sits here who can play. Change the seats first."))
    blocked = obstacles(notes)
    if blocked:
        raise Refusal("out_of_range", " ".join(one.words for one in blocked))
    fits = voicing.fits(voicing.qualities()[quality], root_sounding_midi, [note for _horn, note in notes])
    if key and Chord.objects.filter(pk=key).exclude(ensemble=ensemble).exists():
        key = None  # one of another ensemble is as good as none
    with transaction.atomic():
        chord, is_new = ensemble.chords.get_or_create(
            pk=key or uuid.uuid4(),
            defaults={
                "quality": quality if fits else voicing.OWN,
                "root_sounding_midi": root_sounding_midi,
                "tone": tone,
                "a4_hz": ensemble.studio.a4_hz,
                "for_on": for_on,
                "words": words,
                "by": by,
            },
        )
        if not is_new:
            return chord
        Part.objects.bulk_create(
            Part(chord=chord, horn=horn, position=place, sounding_midi=note) for place, (horn, note) in enumerate(notes)
        )
        for plan in DayPlan.objects.filter(horn__in=[horn for horn, _note in notes], on=today).select_related("week"):
            parts.lay(plan.week, today)  # whoever opened the day already
    return chord


def take_back(chord: Chord) -> None:
    """It stands in nobody's day any more. What was played of it stays."""
    chord.taken_back_on = chord.ensemble.studio.today()
    chord.save(update_fields=["taken_back_on"])
