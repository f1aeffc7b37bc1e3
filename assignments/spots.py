"""Evenness over the places where the phone lay: worked out when a run settles, because it is numeric; pages read it.

One mark for the phone makes the room's error a constant that no repeating removes. So the student says before a run
that the phone was moved, and of the last runs one from each of three places count together.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from analysis import results
from analysis.core import evenness
from analysis.core.records import Evenness, Measurement
from analysis.models import Analysis
from assignments.exercises import MOVED, SPOTS
from assignments.models import Take
from studio.models import Horn

LOOK_BACK = dt.timedelta(days=28)  # house figure: two fortnightly checks; a horn and a reed change over longer times


def look(horn: Horn) -> None:
    """Write with the newest run what the last three places say together. Call it after a take has settled."""
    runs = of_other_spots(_runs(horn))
    heard = [(run, measurement) for run in runs if (measurement := _heard(run)) is not None]
    if heard:
        Take.objects.filter(pk=heard[0][0].pk).update(across_spots=_together(heard))


def _runs(horn: Horn) -> list[Take]:
    """Settled runs, newest first, as far back as the newest one's time reaches."""
    runs = Take.objects.filter(
        horn=horn, exercise__kind="evenness_run", analysis__state=Analysis.State.MEASURED, settled_at__isnull=False
    )
    newest = runs.order_by("-received_at").first()
    if newest is None:
        return []
    return list(runs.filter(on__gt=newest.on - LOOK_BACK).select_related("analysis").order_by("-received_at"))


def of_other_spots(runs: Sequence[Take]) -> list[Take]:
    """Of ``runs``, newest first, the newest of each place of the phone; three at most."""
    chosen: list[Take] = []
    elsewhere = True  # than the run that was looked at before, which is the one played after it
    for run in runs:
        if elsewhere and len(chosen) < SPOTS:
            chosen.append(run)
        elsewhere = run.recorder.get("spot") == MOVED
    return chosen


def _heard(run: Take) -> Measurement | None:
    result = run.analysis.results.order_by("made_at").first()
    return results.measurement(result.report) if result else None


def _together(heard: Sequence[tuple[Take, Measurement]]) -> dict[str, Any]:
    tones = [measurement.tones for _, measurement in heard]
    rooms = [one for _, measurement in heard if (one := measurement.evenness.direct_over_room_db) is not None]
    over_room_db = min(rooms) if len(rooms) == len(heard) else None  # the wettest; one unknown leaves all unknown
    found = (
        evenness.of_spots(tones, direct_over_room_db=over_room_db)
        if len(heard) > 1
        else evenness.read(tones[0], direct_over_room_db=over_room_db)
    )
    return {
        "takes": [str(run.pk) for run, _ in heard],
        "level": [[midi, round(level_db, 2)] for midi, level_db in evenness.course(tones, "level")],
        **_plain(found),
    }


def _plain(found: Evenness) -> dict[str, Any]:
    return {
        "spots": found.spots,
        "level_error_db": found.level_error_db,
        "colour_error_pct": found.colour_error_pct,
        "holes": [asdict(hole) for hole in found.holes],
        "unsure": [asdict(hole) for hole in found.unsure],
    }
