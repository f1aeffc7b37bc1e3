"""The signs of the stave and the shapes of tones as path data: those that the pages draw, from the same place."""

from __future__ import annotations

import re
from functools import cache

from django.template.loader import render_to_string

SHAPE_SIZE = (24.0, 12.0)  # of the shapes' symbols, in their units


@cache
def table() -> dict[str, str]:
    """By the symbol's id: ``stave-clef``, ``shape-swell`` …"""
    page = render_to_string("_symbols.svg.html")
    signs = re.findall(r'<path id="(stave-\w+)" d="([^"]+)"/>', page)
    shapes = re.findall(r'<symbol id="(shape-\w+)"[^>]*><path d="([^"]+)"/></symbol>', page)
    return dict(signs + shapes)
