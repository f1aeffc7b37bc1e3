"""What each form asks for, and who sends it: for the tests that send more along."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile

from assignments import builds, routines
from studio import invitations
from studio.invitations import Whom
from tests import people
from tests.unit import belonging
from tests.unit.access_world import World

SHORT = {"name": "Another Name", "horn": builds.USUAL, "level": "beginner"}
SENT: dict[str, tuple[str, Callable[[World], dict[str, Any]]]] = {  # by route: who sends, and what the form asks for
    "join": ("a", lambda world: {"code": code(world)}),
    "language": ("s", lambda world: {"language": "de", "note_names": "fr"}),
    "my_doors": ("s", lambda w: {"what": "passphrase", "old": people.PASSWORD, "new": "otter-lamp-cedar-plum"}),
    "devices": ("g", lambda world: {"name": "tablet", "players": str(world.objects["membership_id"][0])}),
    "end_device": ("g", lambda world: {}),
    "pin": ("g", lambda world: {"digits": "270951"}),
    "api-takes": ("s", lambda world: _take(world)),
    "api-sound-check": ("s", lambda world: {"softest_db": -50.0, "loudest_db": -10.0}),
    "one_tone": ("s", lambda world: {"text": "A word."}),
    "lesson": ("s", lambda world: {"text": "A word."}),
    "hurts": ("s", lambda world: {"tell": "no"}),
    "mine": ("s", lambda world: {"light": "night", "type_size": "125"}),
    "take_file": ("s", lambda world: {"client_key": str(uuid.uuid4()), "slots": "0", "chosen": _sound()}),
    "day_files": ("s", lambda world: {"client_key": str(uuid.uuid4()), "slots": "0", "chosen": _sound()}),
    "home_messages": ("g", lambda world: {"text": "A word."}),
    "home_permission": ("g", lambda world: {"what": "give", "given_by": "Jo Larkspur", "agree": "on"}),
    "home_reminder": ("g", lambda world: _reminder()),
    "device_reminder": ("s", lambda world: _device()),
    "copy_of_everything": ("g", lambda world: {}),
    "delete_everything": ("w", lambda world: {"name": "Pim Larkspur"}),
    "calendar_address": ("s", lambda world: {"what": "make"}),
    "take_up": ("s", lambda world: {}),
    "equipment": ("s", lambda world: {"what": "reed", "words": "", "on": str(world.horns["s"].studio.today())}),
    "lesson_days": ("t", lambda world: {"on": str(world.horns["s"].studio.today()), "at": "16:00", "falls_out": ""}),
    "note": ("t", lambda world: {"text": "A word.", "about_try": "", "at_s": ""}),
    "comment": ("t", lambda world: {"text": "A word.", "about_try": str(world.objects["try_id"][0]), "at_s": "1"}),
    "take_word_back": ("t", lambda world: {}),
    "lesson_take": ("t", lambda world: _tone()),
    "new_demonstration": ("t", lambda world: {**_tone(), "instrument": "alto"}),
    "delete_demonstration": ("t", lambda world: {}),
    "heard": ("t", lambda world: {}),
    "week": ("t", lambda world: _week(world)),
    "milestone": ("t", lambda world: {}),
    "home_kept": ("g", lambda world: {"milestone": "0"}),
    "house_rules": ("w", lambda world: _rules()),
    "ear_answer": ("t", lambda world: {"answer": "take_back", "level": "beginner"}),
    "decide": ("t", lambda world: {"answer": "not_yet", "stage": "1", "words": "Later."}),
    "gate": ("t", lambda world: {"kind": "pause", "words": "Ill.", "on": "", "until_on": "", "stage": ""}),
    "student_rule": ("t", lambda world: {"do": "take", **_rule(world)}),
    "student_targets": ("t", lambda world: {"measure": "scoop_cents", "limit": "25", "written_midi": "", "tone": ""}),
    "many_weeks": ("t", lambda world: _many(world)),
    "agenda": ("t", lambda world: _agenda(world)),
    "paper": ("t", lambda world: {"days": str(world.horns["s"].studio.today())}),
    "agree": ("t", lambda world: {"said": "agree", "back": "student"}),
    "studio_rule": ("t", lambda world: {"do": "take", **_rule(world)}),
    "new_ensemble": ("t", lambda world: {"name": "New Duo", "seats": _duo(world)}),
    "ensemble_seats": ("t", lambda world: {"name": "Quay Duo", "seats": _duo(world)}),
    "new_chord": ("t", lambda world: _chord(world)),
    "take_chord_back": ("t", lambda world: {}),
    "new_routine": ("t", lambda world: _routine()),
    "routine": ("t", lambda world: _routine()),
    "turn_to": ("t", lambda world: {"place": ""}),
    "add_student": ("t", lambda world: {**SHORT, "key": str(uuid.uuid4()), "username": "another", **_no_lesson()}),
    "add_staff": ("w", lambda world: {"key": str(uuid.uuid4()), "name": "New", "username": "new", "role": "assistant"}),
    "student_codes": ("t", lambda world: {**SHORT, "how_many": "1"}),
    "staff_code": ("w", lambda world: {"role": "assistant", "name": "New", "ends_on": ""}),
    "revoke_code": ("t", lambda world: {}),
    "colleague": ("w", lambda world: {"what": "place", "role": "assistant", "ends_on": ""}),
    "person": ("t", lambda world: {"what": "details", "name": "Pim Larkspur", "ends_on": "", **_no_lesson()}),
    "home_code": ("t", lambda world: {}),
    "slip_code": ("t", lambda world: {}),
}


def code(world: World) -> str:
    horn = {"kind": "alto", "lowest_written_midi": 58, "highest_keyed_written_midi": 90, "level": "beginner"}
    whom = Whom(role="student", horn=horn)
    return invitations.invite(whom, studio=world.horns["s"].studio, by=world.people["t"])[1]


def _sound() -> SimpleUploadedFile:
    return SimpleUploadedFile("memo.webm", belonging.SOUND, "audio/webm")


def _take(world: World) -> dict[str, Any]:
    exercise = str(world.objects["exercise_id"][0])
    plan = str(world.objects["plan_id"][0])
    return {"client_key": str(uuid.uuid4()), "exercise": exercise, "plan": plan, "slots": "0", "audio": _sound(),
            "parts": "false", "recorder": "{}"}  # fmt: skip


def _week(world: World) -> dict[str, Any]:
    today = world.horns["s"].studio.today()
    ready_made = str(next(iter(routines.table())))
    return {"routine": ready_made, "blocks": "daily_tones", "budget_minutes": "5", "beats_per_minute": "60",
            "focus": "", "words": "", "pins": [],
            "left_out": [], "starts_on": str(today), "ends_on": str(today + dt.timedelta(days=6))}  # fmt: skip


def _many(world: World) -> dict[str, Any]:
    horn = world.horns["s"]
    return {"what": "pause", "horns": str(horn.pk), "starts_on": str(horn.studio.today()), "until_on": "",
            "reason": "Holidays.", "routine": "", "budget_minutes": "5", "beats_per_minute": "", "focus": "",
            "words": "", "picks": "own", "pins": []}  # fmt: skip


def _rule(world: World) -> dict[str, Any]:
    tomorrow = world.horns["s"].studio.today() + dt.timedelta(days=1)
    numbers = {"hits": 16, "opens_at": 8, "window_days": 10, "window_span_days": 21, "notes": 2, "shuts_at": 4}
    return {**numbers, "minimum_readable": "", "ear_stages": 1, "notice_at": 6, "from_on": str(tomorrow), "words": ""}


def _routine() -> dict[str, Any]:
    return {"name": "Ours", "summary": "", "blocks": "daily_tones", "tones": "mf"}


def _agenda(world: World) -> dict[str, str]:
    on = str(world.horns["s"].studio.today())
    return {"on": on, "take": "1", "text": "Low B first.", "place": "1", "new": ""}


def _duo(world: World) -> list[str]:
    return [str(world.horns[letter].pk) for letter in "so"]


def _chord(world: World) -> dict[str, Any]:
    chord = {"quality": "unison", "root": "58", "inversion": "0", "of": "unison 58 0", "notes": ["58", "58", "58"]}
    chord |= {"key": str(uuid.uuid4()), "do": "set"}
    return {**chord, "tone": "mf", "for_on": str(world.horns["s"].studio.today()), "words": ""}


def _rules() -> dict[str, str]:
    return {"name": "Lantern Quay Studio", "time_zone": "Europe/Lisbon", "a4_hz": "440", "keep_takes_days": "60",
            "second_step_for_staff": ""}  # fmt: skip


def _reminder() -> dict[str, str]:
    return {"at": "17:00", "time_zone": "Europe/Lisbon", "way": "letter", "email": "home@example.org"}


def _device() -> dict[str, str]:
    """What a browser gives; its key is the example's of RFC 8291."""
    public_key = "BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4"
    return {"what": "add", "endpoint": "https://push.example.net/p/JzLQ3raZJfFBR0aqvOMsLrt54w4rJUsV",
            "public_key": public_key, "auth": "BTBZMqHH6r4Tts7J_aSIgg"}  # fmt: skip


def _no_lesson() -> dict[str, str]:
    return {"lesson_weekday": "", "lesson_at": "", "of_age": ""}


def _tone() -> dict[str, Any]:
    """One tone, recorded by a teacher."""
    return {"key": str(uuid.uuid4()), "written_midi": "67", "tone": "mf", "words": "A word.", "audio": _sound()}
