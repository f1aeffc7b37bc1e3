"""A quartet of four saxophones, for the tests of ensembles."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.core.files.base import ContentFile

from assignments import ensembles, plans, takes
from assignments.models import Chord, Ensemble, Exercise, Take
from studio.models import Horn, Studio, User
from tests import people

DAY = dt.timedelta(days=1)
NAMES = {"soprano": "Saskia Brill", "alto": "Pim Larkspur", "tenor": "Rufus Tarn", "baritone": "Jonah Pell"}


@pytest.fixture
def horns(studio: Studio) -> list[Horn]:
    return [people.horn(studio, name, kind) for kind, name in NAMES.items()]


@pytest.fixture
def second_horn(horns: list[Horn]) -> Horn:
    """Of the player of the first."""
    return Horn.objects.create(player=horns[0].player, kind="tenor", in_use_since_on=horns[0].in_use_since_on)


@pytest.fixture
def quartet(studio: Studio, teacher: User, horns: list[Horn]) -> Ensemble:
    return ensembles.keep(studio=studio, by=teacher, name="Harbour Quartet", horns=horns)


def unison(quartet: Ensemble, sounding: int = 58, days: int = 3, notes: list[int] | None = None, **more) -> Chord:
    horns = ensembles.sitting(quartet)
    return ensembles.set_chord(
        ensemble=quartet,
        by=quartet.made_by,
        quality=more.pop("quality", "unison"),
        root_sounding_midi=sounding,
        notes=list(zip(horns, notes or [sounding] * len(horns), strict=True)),
        tone="mf",
        for_on=quartet.studio.today() + days * DAY,
        **more,
    )


def mine(horn: Horn) -> Exercise:
    return Exercise.objects.get(part__horn=horn)


def send(exercise: Exercise, on: dt.date, sound: bytes = b"any bytes") -> Take:
    _, slots = plans.asked_for(exercise, None, None)
    horn = exercise.week.horn
    key = uuid.uuid4()
    audio = ContentFile(sound, name="take")
    return takes.submit(horn=horn, exercise=exercise, on=on, slots=slots, client_key=key, audio=audio, recorder={})[0]
