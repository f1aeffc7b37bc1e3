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

from tests.chaos.laid import CSRF, NOTES, TONES_A_DAY, Student

AGAIN = 0.06  # of the takes are sent a second time after they were confirmed …
AT_ONCE = 0.04  # … and of them twice at the same time
GARBAGE = 0.01  # is no recording at all
OPEN_TROUBLE = (http.client.HTTPException, OSError)


@dataclass
class Sent:
    """One take as its phone knows it."""

    horn: uuid.UUID
    key: uuid.UUID
    audio: bytes
    is_sound: bool
    takes: set[str] = field(default_factory=set)  # ids that the server answered
    answers: list[int] = field(default_factory=list)
    confirmed_at: float = 0.0


@dataclass
class Phone:
    """A thread: ``pause_s`` between takes; ``over`` ends the trying when the test's patience ends."""

    student: Student
    port: int
    sounds: dict[int, bytes]
    how_many: int
    pause_s: float
    over: threading.Event
    dice: random.Random
    sent: list[Sent] = field(default_factory=list)

    def play(self) -> None:
        for number in range(self.how_many):
            slot = number % TONES_A_DAY
            sound = self.dice.random() >= GARBAGE
            audio = self.sounds[NOTES[slot % len(NOTES)]] if sound else b"no sound " * 200
            take = Sent(self.student.horn, uuid.UUID(int=self.dice.getrandbits(128), version=4), audio, sound)
            self.sent.append(take)
            self._send_until_confirmed(take, slot)
            if self.over.wait(self.pause_s * self.dice.uniform(0.5, 1.5)):
                return

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
        body, boundary = self._form(take, slot)
        headers = {
            "Cookie": self.student.cookies,
            "X-CSRFToken": CSRF,
            "Content-Type": f"multipart/form-data; boundary={boundary}",
        }
        try:
            with closing(http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)) as line:
                line.request("POST", "/api/takes/", body=body, headers=headers)
                answer = line.getresponse()
                return answer.status, answer.read()
        except OPEN_TROUBLE:
            return 0, b""

    def _form(self, take: Sent, slot: int) -> tuple[bytes, str]:
        boundary = take.key.hex
        fields = {
            "exercise": self.student.exercise,
            "plan": self.student.plan,
            "slots": slot,
            "client_key": take.key,
            "recorder": "{}",
        }
        parts = [
            f'--{boundary}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
            for name, value in fields.items()
        ]
        head = f'--{boundary}\r\nContent-Disposition: form-data; name="audio"; filename="take"\r\n'
        parts.append(head.encode() + b"Content-Type: audio/webm\r\n\r\n" + take.audio + b"\r\n")
        return b"".join(parts) + f"--{boundary}--\r\n".encode(), boundary
