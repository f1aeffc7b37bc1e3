"""``manage.py plan HISTORIES.jsonl``: the next day's tones of each student of a file."""

from assignments import histories
from assignments.management.histories import HistoriesCommand


class Command(HistoriesCommand):
    help = "Plan for each history, one JSON object a line, the tones of its day, in playing order."
    answer = staticmethod(histories.plan)
