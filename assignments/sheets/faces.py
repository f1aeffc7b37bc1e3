"""The typefaces of the pages, for paper: the same files, and how wide a text runs in them."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from django.conf import settings
from fontTools.ttLib import TTFont as OpenedFont
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from assignments.sheets.records import PT_MM, Face

FOLDER = Path(settings.BASE_DIR) / "studio" / "static" / "studio" / "fonts"
FILES = {"head": "alegreya-700", "level": "alegreya-700", "plain": "alegreya-sans-500", "strong": "alegreya-sans-800"}
ACCIDENTALS = "accidentals"  # ♭ ♮ ♯: no text face has them
STRETCH = re.compile("([♭♮♯]+)")


@cache
def ready() -> None:
    """Make the faces known to the PDF library, once a process: it reads no compressed fonts, so they are unpacked."""
    for name in (*sorted(set(FILES.values())), ACCIDENTALS):
        with OpenedFont(FOLDER / f"{name}.woff2") as font:
            font.flavor = None
            unpacked = io.BytesIO()
            font.save(unpacked)
        unpacked.seek(0)
        pdfmetrics.registerFont(TTFont(name, unpacked))


def stretches(text: str, face: Face) -> Iterator[tuple[str, str]]:
    """``text`` in pieces of one font each: (font, piece)."""
    for piece in STRETCH.split(text):
        if piece:
            yield (ACCIDENTALS if STRETCH.match(piece) else FILES[face]), piece


def width_mm(text: str, face: Face, size_pt: float) -> float:
    ready()
    return float(sum(pdfmetrics.stringWidth(piece, font, size_pt) for font, piece in stretches(text, face)) * PT_MM)


def lines(text: str, face: Face, size_pt: float, room_mm: float) -> list[str]:
    """``text`` broken between words so that no line is wider than ``room_mm``; a longer word stands alone."""
    broken: list[str] = []
    for word in text.split():
        longer = f"{broken[-1]} {word}" if broken else word
        if broken and width_mm(longer, face, size_pt) <= room_mm:
            broken[-1] = longer
        else:
            broken.append(word)
    return broken


def fitting_pt(text: str, face: Face, size_pt: float, least_pt: float, room_mm: float) -> float:
    """The size at which ``text`` fits, at most ``size_pt`` and never under ``least_pt``."""
    wide = width_mm(text, face, size_pt)
    return size_pt if wide <= room_mm else max(least_pt, 0.995 * size_pt * room_mm / wide)


def shortened(text: str, face: Face, size_pt: float, room_mm: float) -> str:
    """``text`` itself where it fits, else as many of its words as do, and dots."""
    if width_mm(text, face, size_pt) <= room_mm:
        return text
    kept = text.split()
    while kept and width_mm(" ".join(kept) + " …", face, size_pt) > room_mm:
        kept.pop()
    return " ".join(kept) + " …"
