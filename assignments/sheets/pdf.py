"""Drawing a sheet as a PDF of one page."""

from __future__ import annotations

import io
import math
from typing import Any

from fontTools.pens.basePen import BasePen
from fontTools.svgLib.path import parse_path
from reportlab.pdfgen.canvas import Canvas

from assignments.sheets import faces
from assignments.sheets.records import PT_MM, Outline, Sheet, Words

MM = 1.0 / PT_MM  # points
SLANT = math.tan(math.radians(11.0))  # as a browser slants a face that has no italic, about


def drawn(sheet: Sheet) -> bytes:
    """The file: its fonts inside it, nothing from elsewhere, no date in it but the library's own."""
    faces.ready()
    file = io.BytesIO()
    size = (sheet.paper.width_mm * MM, sheet.paper.height_mm * MM)
    canvas = Canvas(file, pagesize=size, pageCompression=1)
    canvas.setTitle(sheet.title)
    canvas.setSubject(sheet.said)
    for rule in sheet.rules:
        left, top, width, height = (one * MM for one in rule.bar_mm)
        canvas.rect(left, size[1] - top - height, width, height, stroke=0, fill=1)
    for outline in sheet.outlines:
        _outline(canvas, outline, size[1])
    for words in sheet.words:
        _words(canvas, words, size[1])
    canvas.showPage()
    canvas.save()
    return file.getvalue()


def _words(canvas: Any, words: Words, height_pt: float) -> None:
    x = words.x_mm
    if words.anchor == "middle":
        x -= faces.width_mm(words.text, words.face, words.size_pt) / 2.0
    canvas.saveState()
    slant = SLANT if words.face == "level" else 0.0
    canvas.transform(1, 0, slant, 1, x * MM, height_pt - words.y_mm * MM)
    text = canvas.beginText(0, 0)
    for font, piece in faces.stretches(words.text, words.face):
        text.setFont(font, words.size_pt)
        text.textOut(piece)
    canvas.drawText(text)
    canvas.restoreState()


def _outline(canvas: Any, outline: Outline, height_pt: float) -> None:
    canvas.saveState()
    canvas.transform(
        outline.scale_x * MM, 0, 0, -outline.scale_y * MM, outline.x_mm * MM, height_pt - outline.y_mm * MM
    )
    path = canvas.beginPath()
    parse_path(outline.path, _Pen(path))
    canvas.drawPath(path, stroke=0, fill=1, fillMode=1)
    canvas.restoreState()


class _Pen(BasePen):
    """SVG path data onto the canvas's own path."""

    def __init__(self, path: Any) -> None:
        super().__init__()
        self._path = path

    def _moveTo(self, pt: tuple[float, float]) -> None:  # noqa: N802  # the library's names
        self._path.moveTo(*pt)

    def _lineTo(self, pt: tuple[float, float]) -> None:  # noqa: N802
        self._path.lineTo(*pt)

    def _curveToOne(self, pt1: tuple[float, float], pt2: tuple[float, float], pt3: tuple[float, float]) -> None:  # noqa: N802
        self._path.curveTo(*pt1, *pt2, *pt3)

    def _closePath(self) -> None:  # noqa: N802
        self._path.close()
