"""Phones: each sends its student's takes one after the other, and holds on to a take until the server confirms it."""

from __future__ import annotations

import http.client
import json
import random
import threading
import time
import uuid
from contextlib import closing
from dataclasses import dataclass, field
from enum import Enum

from tests.chaos.decoder import KILLS_DECODER, KILLS_WORKER
from tests.chaos.laid import CSRF, NOTES, TONES_A_DAY, Student
from tests.sent import form

AGAIN = 0.06  # of the takes are sent a second time after they were confirmed …
AT_ONCE = 0.04  # … and of them twice at the same time
NO_SOUND = 0.01  # are no recordings at all …
POISON = 0.01  # … and so many end their decoder
OPEN_TROUBLE = (http.client.HTTPException, OSError)


class Kind(Enum):
    """What a file holds, where it is no tone."""

    TONE = b""
    NO_SOUND = b"no sound "
    KILLS_DECODER = KILLS_DECODER
    KILLS_WORKER = KILLS_WORKER


@dataclass
class Sent:
    """One take as its phone knows it."""

    horn: uuid.UUID
    key: uuid.UUID
    audio: bytes
    kind: Kind
    takes: set[str] = field(default_factory=set)  # ids that the server answered
    answers: list[int] = field(default_factory=list)
    confirmed_at: float = 0.0


@dataclass
class Phone:
    """A thread: ``pause_s`` between takes; ``over`` ends the trying when the test's patience ends.

    ``kills_worker``: its first recording does, each time that it is tried.
    """

    student: Student
    port: int
    sounds: dict[int, bytes]
    how_many: int
    pause_s: float
    over: threading.Event
    dice: random.Random
    kills_worker: bool = False
    sent: list[Sent] = field(default_factory=list)

    def play(self) -> None:
        for number in range(self.how_many):
            slot = number % TONES_A_DAY
            kind = Kind.KILLS_WORKER if self.kills_worker and number == 0 else self._kind()
            audio = self.sounds[NOTES[slot % len(NOTES)]] if kind is Kind.TONE else 200 * kind.value
            take = Sent(self.student.horn, uuid.UUID(int=self.dice.getrandbits(128), version=4), audio, kind)
            self.sent.append(take)
            self._send_until_confirmed(take, slot)
            if self.over.wait(self.pause_s * self.dice.uniform(0.5, 1.5)):
                return

    def _kind(self) -> Kind:
        fell = self.dice.random()
        if fell < NO_SOUND:
            return Kind.NO_SOUND
        return Kind.KILLS_DECODER if fell < NO_SOUND + POISON else Kind.TONE

    def _send_until_confirmed(self, take: Sent, slot: int) -> None:
        kind = self.dice.random()
        if kind < AT_ONCE:
            twin = threading.Thread(target=self._until_confirmed, args=(take, slot))
            twin.start()
            self._until_confirmed(take, slot)
            twin.join()
        else:
            self._until_confirmed(take, slot)
        if AT_ONCE <= kind < AT_ONCE + AGAIN:
            self._until_confirmed(take, slot)

    def _until_confirmed(self, take: Sent, slot: int) -> None:
        pause_s = 0.3
        while not self.over.is_set():
            status, body = self.post(take, slot)
            take.answers.append(status)
            if status in (200, 201):
                take.takes.add(json.loads(body)["id"])
                take.confirmed_at = take.confirmed_at or time.monotonic()
                return
            self.over.wait(pause_s)
            pause_s = min(2 * pause_s, 3.0)

    def post(self, take: Sent, slot: int) -> tuple[int, bytes]:
        """Status and body; status 0: no whole answer came."""
        fields = {
            "exercise": self.student.exercise,
            "plan": self.student.plan,
            "slots": slot,
            "client_key": take.key,
            "recorder": "{}",
        }
        body, sort = form(fields, take.audio)
        headers = {"Cookie": self.student.cookies, "X-CSRFToken": CSRF, "Content-Type": sort}
        try:
            with closing(http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)) as line:
                line.request("POST", "/api/takes/", body=body, headers=headers)
                answer = line.getresponse()
                return answer.status, answer.read()
        except OPEN_TROUBLE:
            return 0, b""
