"""Geometry of sound for the eye: values in, points out. No template, no database, no clock.

What is drawn lies in boxes of 1000 by 1000 (y downwards) or in per cent of the picture, so that one drawing serves a
phone, a laptop and paper: the templates stretch the box and keep line widths and lettering as they are. A whole take
(drawing.take) is laid out in pixels; it counts in numpy and is left out here, so that web pages need not load that.
"""

from analysis.drawing.partials import Partials, partials
from analysis.drawing.run import Neighbours, Profile, Wall, neighbours, profile, wall
from analysis.drawing.section import SectionDrawing, VoiceRow, section
from analysis.drawing.strip import Strip, strip

__all__ = [
    "Neighbours",
    "Partials",
    "Profile",
    "SectionDrawing",
    "Strip",
    "VoiceRow",
    "Wall",
    "neighbours",
    "partials",
    "profile",
    "section",
    "strip",
    "wall",
]
