"""Saying no to a request in words that say what to do next."""

from __future__ import annotations


class Refusal(Exception):  # noqa: N818  # it is an answer, not an error
    """``text`` is for the person; ``status`` is the HTTP answer; ``code`` is stable for programs.

    ``again_in_s``: when it is worth asking again, where that is known.
    """

    def __init__(self, code: str, text: str, status: int = 400, *, again_in_s: int | None = None) -> None:
        super().__init__(text)
        self.code = code
        self.text = str(text)
        self.status = status
        self.again_in_s = again_in_s
