"""Work: what a teacher sets, what was played of it, and what that opens."""

from assignments.models.agreed import GateRule, TargetChange
from assignments.models.around import EquipmentChange
from assignments.models.ear import AdoptedLimit, EarAnswer
from assignments.models.kept import Milestone
from assignments.models.met import Agenda, CalendarAddress, LessonDay
from assignments.models.played import JudgedAgain, PaperDay, PlayedDay, Take, Try
from assignments.models.reminded import Reminder, ReminderDevice
from assignments.models.said import Comment, Decision, Hearing, Opening, PrivateNote
from assignments.models.set import DayPlan, Exercise, Routine, Week
from assignments.models.shown import Demonstration
from assignments.models.together import Chord, Ensemble, Part, Seat

__all__ = [
    "AdoptedLimit",
    "Agenda",
    "CalendarAddress",
    "Chord",
    "Comment",
    "DayPlan",
    "Decision",
    "Demonstration",
    "EarAnswer",
    "Ensemble",
    "EquipmentChange",
    "Exercise",
    "GateRule",
    "Hearing",
    "JudgedAgain",
    "LessonDay",
    "Milestone",
    "Opening",
    "PaperDay",
    "Part",
    "PlayedDay",
    "PrivateNote",
    "Reminder",
    "ReminderDevice",
    "Routine",
    "Seat",
    "Take",
    "TargetChange",
    "Try",
    "Week",
]
