"""The planner: which tones to play today, so that none is forgotten and the weak ones come more often.

Pure, and standard library only: the same history gives the same plan on every machine. Two lanes share a day:
``coverage`` (three slots in five, a turn that nothing moves, with its proof) and ``focus`` (the teacher's picks, tones
that could not be read, the weakest).

The modules: ``records`` (what goes in and out), ``history`` (what was played last and how it went), ``coverage``,
``weakness`` (draws of what looks weak), ``pins``, ``day`` (limits and playing order), ``room`` (looking ahead),
``focus``, ``easy`` (after a break), ``plan`` (all of it together).
"""

from assignments.planner.coverage import lane_of
from assignments.planner.plan import MOST_SLOTS, plan
from assignments.planner.records import TONES, DayPlan, Lane, NothingToPlanError, Planned, Play, Waits, Why

__all__ = [
    "MOST_SLOTS",
    "TONES",
    "DayPlan",
    "Lane",
    "NothingToPlanError",
    "Planned",
    "Play",
    "Waits",
    "Why",
    "lane_of",
    "plan",
]
