"""Passphrases are kept slowly and in much memory, but never in so much that the computer has none left."""

from __future__ import annotations

import threading
import time
from concurrent.futures import ThreadPoolExecutor

import argon2.low_level
import pytest
from django.contrib.auth.hashers import check_password, make_password

from studio import hashers


@pytest.fixture(autouse=True)
def real_hasher(settings):
    settings.PASSWORD_HASHERS = ["studio.hashers.Argon2"]


def test_what_is_kept_is_argon2id_and_at_least_as_strong_as_asked():
    kept = argon2.extract_parameters(make_password("otter-lamp-cedar-plum").removeprefix("argon2"))
    assert kept.type is argon2.low_level.Type.ID
    assert kept.memory_cost >= 19 * 1024
    assert kept.time_cost >= 2
    assert kept.parallelism >= 1


def test_of_many_who_knock_at_once_two_are_looked_at_and_all_are_answered(monkeypatch):
    kept, inside, most, lock = make_password("otter-lamp-cedar-plum"), 0, 0, threading.Lock()

    def slow(_self, password: str, _encoded: str) -> bool:
        nonlocal inside, most
        with lock:
            inside += 1
            most = max(most, inside)
        time.sleep(0.02)
        with lock:
            inside -= 1
        return password == "otter-lamp-cedar-plum"

    monkeypatch.setattr(hashers.Argon2PasswordHasher, "verify", slow)
    tried = ["otter-lamp-cedar-plum", "wrong"] * 6
    with ThreadPoolExecutor(12) as doors:
        answers = list(doors.map(lambda typed: check_password(typed, kept), tried))
    assert answers == [True, False] * 6
    assert most == hashers.AT_ONCE


@pytest.mark.parametrize("length", [10, 128])
def test_a_passphrase_of_any_allowed_length_counts_to_its_last_letter(length):
    kept = make_password("x" * length)
    assert check_password("x" * length, kept)
    assert not check_password("x" * (length - 1), kept)
    assert not check_password("x" * (length - 1) + "y", kept)
