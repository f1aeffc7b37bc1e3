"""``manage.py standing HISTORIES.jsonl``: where each student of a file stands."""

from assignments import histories
from assignments.management.histories import HistoriesCommand


class Command(HistoriesCommand):
    help = "Say for each history, one JSON object a line, where its student stands at the end of its day, and why."
    answer = staticmethod(histories.standing)
