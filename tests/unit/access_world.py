"""Two studios with everybody in them who might ask, and three of everything that might be asked for."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterator
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver

from assignments import calendars, plans, reminder_letters
from assignments.models import DayPlan, Routine
from studio import devices, invitations
from studio.invitations import Whom
from studio.models import Membership, Studio, User
from tests import builders, people
from tests.unit import belonging

ROLES = {  # the letters of the table, in its order
    "a": "anonymous",
    "s": "student",
    "o": "other student",
    "g": "guardian of the student",
    "h": "guardian of the other",
    "i": "assistant",
    "t": "teacher",
    "x": "teacher of another studio",
    "w": "owner",
    "f": "former teacher",
}
OBJECTS = "soy"  # of the student, of the other student, of a student of the other studio
Role = Membership.Role


class World:
    """``people[letter]``: the user; ``objects[name]``: three keys, of each student or studio."""

    def __init__(self) -> None:
        near, far = people.studio(), people.studio("Far Quay")
        self.people: dict[str, User] = {}
        for letter, name, role, where in (
            ("t", "Marisa Oakhanger", Role.TEACHER, near),
            ("i", "Teo Wrenfield", Role.ASSISTANT, near),
            ("w", "Orla Keel", Role.OWNER, near),
            ("f", "Former Fell", Role.TEACHER, near),
            ("x", "Sela Brand", Role.TEACHER, far),
        ):
            self.people[letter] = people.person(name, where, role).user
        Membership.objects.filter(user=self.people["f"]).update(ends_on=near.today() - dt.timedelta(days=1))
        self.horns = {
            "s": belonging.student(near, self.people["t"], "Pim Larkspur", "Jo Larkspur"),
            "o": belonging.student(near, self.people["t"], "Ottilie Fenn", "Edda Fenn"),
            "y": belonging.student(far, self.people["x"], "Yara Dale", "Uma Dale"),
        }
        for letter, horn in self.horns.items():
            self.people[letter] = horn.player.user
            plans.plan_for(horn, horn.studio.today())  # the first look at a day lays its plan: here, it is laid
        self.people["g"] = User.objects.get(name="Jo Larkspur")
        self.people["h"] = User.objects.get(name="Edda Fenn")
        self.objects = self._objects(near, far)

    def _objects(self, near: Studio, far: Studio) -> dict[str, list[uuid.UUID]]:
        horns = [self.horns[letter] for letter in OBJECTS]
        t, w, x = (self.people[letter] for letter in "twx")
        return {
            "horn_id": [horn.pk for horn in horns],
            "membership_id": [horn.player_id for horn in horns],
            "exercise_id": [builders.daily(horn.weeks.order_by("set_at").last()).pk for horn in horns],
            "plan_id": [DayPlan.objects.get(horn=horn).pk for horn in horns],
            "take_id": [horn.takes.order_by("received_at").first().pk for horn in horns],
            "try_id": [horn.tries.order_by("played_at").first().pk for horn in horns],
            "client_key": [horn.takes.order_by("received_at").first().client_key for horn in horns],
            "routine_id": [
                Routine.objects.create(studio=where, name="Own", blocks=[]).pk for where in (near, near, far)
            ],
            "ensemble_id": [horn.seats.get().ensemble_id for horn in horns],
            "chord_id": [horn.parts.get().chord_id for horn in horns],
            "comment_id": [horn.comments.get(voice__isnull=False).pk for horn in horns],
            "demonstration_id": [builders.demonstration(where).pk for where in (near, near, far)],
            "invitation_id": [
                invitations.invite(Whom(role=role), studio=where, by=by)[0].pk
                for role, where, by in ((Role.STUDENT, near, t), (Role.ASSISTANT, near, w), (Role.STUDENT, far, x))
            ],
            "key": [reminder_letters.key(horn.player.reminder) for horn in horns],
            "secret": [calendars.make(horn.player.user) for horn in horns],
            "device_id": [
                devices.enrol(studio=horn.studio, by=by, name="tablet", players=[horn.player])[0].pk
                for horn, by in zip(horns, (self.people["g"], t, x), strict=True)
            ],
            "colleague": [Membership.objects.get(user=user).pk for user in (t, w, x)],
        }

    def keys(self, name: str, parameters: tuple[str, ...]) -> list[dict[str, Any]]:
        """What to put into a route's address: nothing, or each of three objects."""
        if not parameters:
            return [{}]
        (parameter,) = parameters
        return [{parameter: key} for key in self.objects["colleague" if name == "colleague" else parameter]]


def routes() -> Iterator[tuple[str, tuple[str, ...]]]:
    """Every route that the site answers, by its name and what its address takes."""
    yield from _walk(get_resolver(), "")


def _walk(resolver: URLResolver, before: str) -> Iterator[tuple[str, tuple[str, ...]]]:
    for pattern in resolver.url_patterns:
        if isinstance(pattern, URLPattern):
            yield f"{before}{pattern.name}", tuple(pattern.pattern.converters)
        else:
            yield from _walk(pattern, f"{before}{pattern.namespace}:" if pattern.namespace else before)
