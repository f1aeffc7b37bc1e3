"""Looking ahead: can the slots still to come be filled without a note or a word too often?

Slots flow to notes they may hold, notes to tone words through cells not played yet that day, words to the end; notes
and words let through what is left of their limits. All slots can be filled when a whole flow exists (Ford and
Fulkerson), so no greedy choice early in the day forces a breach late in it.
"""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Callable, Sequence
from itertools import pairwise

Assigned = dict[int, tuple[int, int]]  # slot -> (note, word)
Allows = Callable[[int, int], bool]


class Room:
    """What is left of the limits. ``slot_allows(slot, note)``; ``is_unused(note, word)``."""

    def __init__(
        self,
        slots: Sequence[int],
        notes_left: Sequence[int],
        words_left: Sequence[int],
        slot_allows: Allows,
        is_unused: Allows,
    ) -> None:
        self._notes, self._words = list(notes_left), list(words_left)
        self._slot_allows, self._is_unused = slot_allows, is_unused
        self._taken: set[tuple[int, int]] = set()
        found = self._assign(slots, {})
        self.is_enough = found is not None
        self._assigned = found or {}

    def take(self, slot: int, note: int, word: int) -> bool:
        """Settle a slot, if the others can still be filled; else leave all as it was and say False."""
        if not self._notes[note] or not self._words[word]:
            return False
        self._spend(note, word, -1)
        rest = {other: pair for other, pair in self._assigned.items() if other != slot}
        found = self._assign(list(rest), rest)
        if found is None:
            self._spend(note, word, 1)
            return False
        self._assigned = found
        return True

    def _spend(self, note: int, word: int, change: int) -> None:
        self._notes[note] += change
        self._words[word] += change
        self._taken ^= {(note, word)}

    def _assign(self, slots: Sequence[int], hint: Assigned) -> Assigned | None:
        """A whole flow, begun from what ``hint`` still allows; None if there is none."""
        flow = _Flow()
        for note, left in enumerate(self._notes):
            flow.left["in", note]["out", note] = left
            for word in range(len(self._words)):
                if (note, word) not in self._taken and self._is_unused(note, word):
                    flow.left["out", note]["word", word] = 1
        for word, left in enumerate(self._words):
            flow.left["word", word]["end", 0] = left
        for slot in slots:
            for note in range(len(self._notes)):
                if self._slot_allows(slot, note):
                    flow.left["slot", slot]["in", note] = 1
        for slot, (note, word) in hint.items():
            flow.push([("slot", slot), ("in", note), ("out", note), ("word", word), ("end", 0)])
        if all(flow.carries(("slot", slot)) or flow.augment(("slot", slot)) for slot in slots):
            return flow.assigned(slots)
        return None


Node = tuple[str, int]


class _Flow:
    def __init__(self) -> None:
        self.left: defaultdict[Node, dict[Node, int]] = defaultdict(dict)
        self._begun: set[Node] = set()

    def carries(self, start: Node) -> bool:
        return start in self._begun

    def push(self, path: Sequence[Node]) -> bool:
        """Send one more along ``path`` if every step lets it through."""
        steps = list(pairwise(path))
        if any(self.left[one].get(other, 0) < 1 for one, other in steps):
            return False
        for one, other in steps:
            self.left[one][other] -= 1
            self.left[other][one] = self.left[other].get(one, 0) + 1
        self._begun.add(path[0])
        return True

    def augment(self, start: Node) -> bool:
        """Find a way from ``start`` to the end, rerouting what is in the way, and use it."""
        came_from: dict[Node, Node] = {start: start}
        waiting = deque([start])
        while waiting:
            node = waiting.popleft()
            if node == ("end", 0):
                path = [node]
                while path[-1] != start:
                    path.append(came_from[path[-1]])
                return self.push(path[::-1])
            for other, left in self.left[node].items():
                if left and other not in came_from:
                    came_from[other] = node
                    waiting.append(other)
        return False

    def assigned(self, slots: Sequence[int]) -> Assigned:
        """Which note and word each slot came to."""
        words: defaultdict[int, list[int]] = defaultdict(list)
        notes: dict[int, int] = {}
        for node, ways in list(self.left.items()):
            for other, left in ways.items():
                if left and node[0] == "word" and other[0] == "out":
                    words[other[1]].append(node[1])
                elif left and node[0] == "in" and other[0] == "slot":
                    notes[other[1]] = node[1]
        return {slot: (notes[slot], words[notes[slot]].pop()) for slot in slots}
