"""The teacher's picks: as many as fit, the longest unplayed first."""

from __future__ import annotations

from collections.abc import Callable, Sequence

Fits = Callable[[int, int], bool]  # (cell, slot) -> may this cell stand in this slot?


def place_pins(pins: Sequence[int], slots: Sequence[int], fits: Fits) -> dict[int, int]:
    """Which pin goes into which slot: {slot: pin}.

    ``pins`` are in order of preference. A pin is taken when it fits somewhere together with all that were taken before
    it; those taken go into the earliest slots, in the same order as far as they fit, since a session may be cut short.
    """
    taken: list[int] = []
    for pin in pins:
        if len(taken) < len(slots) and _all_fit([*taken, pin], slots, fits):
            taken.append(pin)
    placed: dict[int, int] = {}
    for place, slot in enumerate(slots):
        later = slots[place + 1 :]
        for pin in taken:
            rest = [other for other in taken if other != pin]
            if fits(pin, slot) and _all_fit(rest, later, fits):
                placed[slot], taken = pin, rest
                break
    return placed


def _all_fit(pins: Sequence[int], slots: Sequence[int], fits: Fits) -> bool:
    """Whether each pin can have a slot of its own (augmenting paths)."""
    holder: dict[int, int] = {}

    def find(pin: int, tried: set[int]) -> bool:
        for slot in slots:
            if slot in tried or not fits(pin, slot):
                continue
            tried.add(slot)
            if slot not in holder or find(holder[slot], tried):
                holder[slot] = pin
                return True
        return False

    return len(pins) <= len(slots) and all(find(pin, set()) for pin in pins)
