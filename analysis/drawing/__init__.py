"""Geometry of sound for the eye: values in, points out. No template, no database, no clock.

What is drawn lies in boxes of 1000 by 1000 (y downwards) or in per cent of the picture, so that one drawing serves a phone, a
laptop and paper: the templates stretch the box and keep line widths and lettering as they are.
"""

from analysis.drawing.run import Neighbours, Profile, Wall, neighbours, profile, wall
from analysis.drawing.strip import Strip, strip
from analysis.drawing.take import TakePlot, take_plot

__all__ = ["Neighbours", "Profile", "Strip", "TakePlot", "Wall", "neighbours", "profile", "strip", "take_plot", "wall"]
