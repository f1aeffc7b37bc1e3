"""How passphrases and PINs are kept: Argon2id (RFC 9106) with Django's own figures, a few at a time."""

from __future__ import annotations

import threading

from django.contrib.auth.hashers import Argon2PasswordHasher

AT_ONCE = 2  # of one process
_room = threading.BoundedSemaphore(AT_ONCE)


class Argon2(Argon2PasswordHasher):
    """Each takes 100 MB while it lasts: whoever knocks at all doors at once must not fill a teacher's small computer.

    Who comes third waits for a moment. The figures stay Django's, since an account that is kept with others would
    answer in another time than a name that nobody has.
    """

    def encode(self, password: str, salt: str) -> str:
        with _room:
            return str(super().encode(password, salt))

    def verify(self, password: str, encoded: str) -> bool:
        with _room:
            return bool(super().verify(password, encoded))
