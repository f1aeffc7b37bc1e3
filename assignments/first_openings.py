"""The day on which a rule first opens, for thousands of simulated students at once.

``gate.evaluate`` tells everything about one student and needs a millisecond for it; here one thing is asked about all
of them, so the days are gone through once, with all students side by side. It is the gate's rule without a teacher's
yes, shutting or rest, and gives the very days that ``gate.evaluate`` gives (tests/reference/test_first_openings.py).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from assignments import gate
from assignments.gate.ledger import TOLERANCE

NOT_READ = 255
NEVER = -1


def first_openings(rule: gate.Rule, heard: NDArray[np.uint8], on: Sequence[int], notes: int) -> NDArray[np.int64]:
    """For each student the place of the day that opened, NEVER where none did.

    ``heard``: (students, days, tones), a byte a tone as in ``gate.Day``, ``NOT_READ`` where nothing could be heard;
    its notes run from 0. ``on``: what day of the calendar each of the days is, in order.
    """
    is_read = heard != NOT_READ
    days = np.asarray(on)
    is_met = is_read.any(axis=2) & _has_full_window(rule, heard, is_read, days)
    if rule.note_tries:
        who = is_met.any(axis=1)  # of the others no note need be looked at
        is_met[who] &= _has_every_note(rule, heard[who], is_read[who], days, notes)
    return np.where(is_met.any(axis=1), is_met.argmax(axis=1), NEVER)


def _has_full_window(
    rule: gate.Rule, heard: NDArray[np.uint8], is_read: NDArray[np.bool_], days: NDArray[np.int64]
) -> NDArray[np.bool_]:
    """(students, days): the latest judged days are enough, not too old, and enough of them on target."""
    read, hits = is_read.sum(axis=2), (is_read & (heard >= gate.HIT)).sum(axis=2)
    is_judged = read >= rule.minimum_readable
    on_target = is_judged & (hits >= rule.on_target_share * read - TOLERANCE)
    judged, kept = is_judged.cumsum(axis=1), on_target.cumsum(axis=1)
    in_order = np.argsort(~is_judged, axis=1, kind="stable")  # the judged days first
    latest = np.take_along_axis(in_order, np.maximum(judged - 1, 0), axis=1)
    oldest = np.take_along_axis(in_order, np.maximum(judged - rule.window_days, 0), axis=1)
    in_window = np.take_along_axis(kept, latest, axis=1) - np.take_along_axis(kept - on_target, oldest, axis=1)
    is_full = (judged >= rule.window_days) & (days[latest] - days[oldest] < rule.window_span_days)
    return is_full & (in_window >= rule.opens_at)


def _has_every_note(
    rule: gate.Rule, heard: NDArray[np.uint8], is_read: NDArray[np.bool_], days: NDArray[np.int64], notes: int
) -> NDArray[np.bool_]:
    """(students, days): each note hit often enough in its last tries, and was tried often enough of late."""
    students, _days, tones = heard.shape
    rows = np.arange(students)
    asked = np.where(is_read, heard & (gate.HIT - 1), notes)  # what could not be heard goes beside the notes
    lately = np.zeros((students, notes + 1), np.int64)  # the last tries of each note, one bit a try, the newest lowest
    tried = np.zeros((len(days), students, notes), np.uint8)
    all_tries = (1 << rule.note_tries) - 1
    hit_often = np.array([tries.bit_count() >= rule.note_hits for tries in range(all_tries + 1)])
    found = np.zeros(heard.shape[:2], np.bool_)
    recent = np.zeros((students, notes), np.int64)
    forgotten = 0
    for place, day in enumerate(days):
        for tone in range(tones):
            note = asked[:, place, tone]
            lately[rows, note] = (lately[rows, note] << 1 | heard[:, place, tone] >> 7) & all_tries
            tried[place, rows[note < notes], note[note < notes]] += 1
        recent += tried[place]
        while forgotten <= place and days[forgotten] <= day - rule.note_fresh_days:
            recent -= tried[forgotten]
            forgotten += 1
        stands = hit_often[lately[:, :notes]] & (recent >= rule.note_fresh_tries)
        found[:, place] = stands.all(axis=1)
    return found
