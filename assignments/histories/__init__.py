"""Whole histories as lines of JSON: read strictly, judged or planned, answered line by line.

``lines`` reads and answers, ``form`` checks what every history is made of, ``standing`` and ``plan`` ask the gate and
the planner. No rows, no Django: the commands ``standing`` and ``plan`` hand their file over and write what comes back.
"""

from assignments.histories.lines import LONGEST_LINE, Answer, Answered, HistoryError, answers
from assignments.histories.plan import plan
from assignments.histories.standing import standing

__all__ = ["LONGEST_LINE", "Answer", "Answered", "HistoryError", "answers", "plan", "standing"]
