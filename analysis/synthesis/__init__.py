"""Saxophone-like tones with exact truth and stated faults, for the demo studio and the tests.

``render(specs, …)`` makes the samples of a take and the truth of its tones; ``write(path, samples, codec)`` makes
the file that a phone would send. Nothing here pretends to be a recording of a person.
"""

from analysis.synthesis.files import Codec, write
from analysis.synthesis.rendering import render
from analysis.synthesis.specs import DYNAMIC_DB, SAMPLE_RATE_HZ, Faults, GainControl, Place, Room, ToneSpec, Truth

__all__ = [
    "DYNAMIC_DB",
    "SAMPLE_RATE_HZ",
    "Codec",
    "Faults",
    "GainControl",
    "Place",
    "Room",
    "ToneSpec",
    "Truth",
    "render",
    "write",
]
