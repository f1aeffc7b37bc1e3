"""Work: what a teacher sets, what was played of it, and what that opens."""

from assignments.models.ear import AdoptedLimit, EarAnswer
from assignments.models.kept import Milestone
from assignments.models.played import JudgedAgain, PlayedDay, Take, Try
from assignments.models.said import Comment, Decision, Hearing, Opening
from assignments.models.set import DayPlan, Exercise, Routine, Week

__all__ = [
    "AdoptedLimit",
    "Comment",
    "DayPlan",
    "Decision",
    "EarAnswer",
    "Exercise",
    "Hearing",
    "JudgedAgain",
    "Milestone",
    "Opening",
    "PlayedDay",
    "Routine",
    "Take",
    "Try",
    "Week",
]
