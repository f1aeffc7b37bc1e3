"""What was asked for, and the words of asking."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Shape = Literal["sustained", "crescendo", "decrescendo", "swell", "reverse_swell", "stepped", "evenness"]
Dynamic = Literal["ppp", "pp", "p", "mp", "mf", "f", "ff", "fff"]


@dataclass(frozen=True, slots=True)
class Asked:
    """One tone that the player was asked for, in playing order."""

    written_midi: int  # of overtone work: the fingered note
    partial: int | None = None  # overtone work: which partial of the fingered note
    shape: Shape = "sustained"
    dynamic: Dynamic = "mf"
    pulses_per_second: float = 0.0  # 0: no vibrato was asked for


@dataclass(frozen=True, slots=True)
class Request:
    """How a recording is to be heard. ``asked`` empty: the notes are found from the sound alone."""

    instrument: str = "alto"
    a4_hz: float = 440.0
    asked: tuple[Asked, ...] = ()
    shape: Shape = "sustained"  # of tones that nobody asked for by name
    dynamic: Dynamic = "mf"
    pulses_per_second: float = 0.0
