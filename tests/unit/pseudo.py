"""A language that nobody speaks: every translated text between ⟦ and ⟧, so that what was not marked stands out."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from html.parser import HTMLParser

import pytest
from django.utils import translation

from assignments import naming

OPEN, CLOSE = "⟦", "⟧"
SPOKEN = ("aria-label", "title", "alt", "placeholder", "content", "value")  # attributes with words; data-… besides
SILENT = {"script", "style", "template", "code"}
LETTERS = re.compile(r"[^\W\d_]{2,}")  # a single letter is a mark, a unit or a note


def marked(text: str) -> str:
    return f"{OPEN}{text}{CLOSE}" if text.strip() else text


def longer(text: str) -> str:
    """By a third, in words of five letters: as much as German and French need."""
    return f"{text}{' nanan' * round(len(text) / 18)}"


@contextmanager
def spoken(change: Callable[[str], str] = marked, *, from_the_right: bool = False) -> Iterator[None]:
    """Until the end everything that goes through gettext is changed. Names kept from before are forgotten."""
    with pytest.MonkeyPatch.context() as patch:
        for name in ("gettext", "pgettext", "ngettext", "npgettext"):
            patch.setattr(translation._trans, name, _changing(getattr(translation._trans, name), change))
        patch.setattr(translation._trans, "get_language_bidi", lambda: from_the_right)
        _forget()
        yield
    _forget()


def _changing(original, change):  # type: ignore[no-untyped-def]  # any of gettext's four
    return lambda *args: change(original(*args))


def _forget() -> None:
    naming._pitch_classes.cache_clear()
    naming._tones_said.cache_clear()


class Words(HTMLParser):
    """``found``: each text of a page that people see or hear, as (where, text)."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, str]] = []
        self._inside: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = dict(attrs)
        if tag not in ("input", "meta", "link", "br", "img", "col", "hr", "use", "path", "rect", "line", "circle"):
            self._inside.append(tag)
        for name, value in attrs:
            if name == "value" and (tag, named.get("type")) not in (("input", "submit"), ("input", "button")):
                continue
            if name == "content" and named.get("name") != "description":
                continue
            if value and name in SPOKEN:
                self.found.append((f"{tag} {name}", value))

    def handle_endtag(self, tag: str) -> None:
        if tag in self._inside:
            while self._inside.pop() != tag:
                pass

    def handle_data(self, data: str) -> None:
        if data.strip() and not SILENT & set(self._inside):
            self.found.append((self._inside[-1] if self._inside else "", data.strip()))


def outside(text: str) -> str:
    """What stands outside all marks."""
    depth, kept = 0, []
    for sign in text:
        depth += (sign == OPEN) - (sign == CLOSE)
        kept.append(" " if depth > 0 or sign == CLOSE else sign)
    return "".join(kept)


def unmarked(page: str, allowed: set[str]) -> list[str]:
    """The texts of a page with words outside the marks; ``allowed``: names and the like, in small letters."""
    words = Words()
    words.feed(page)
    return [
        f"{where}: {text}"
        for where, text in words.found
        if {word.lower() for word in LETTERS.findall(outside(text))} - allowed
    ]
