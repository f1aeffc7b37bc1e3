"""``manage.py serve`` whose dead parts start again at once, and whose workers can be poisoned.

Pauses that grow are for machines, not for this test.
"""

import os
import sys

from django.core.management import execute_from_command_line

from studio.config import child, supervisor

APPLICATION = {"--app=studio.config.celery": "--app=tests.chaos.worker"}
whole = supervisor.worker_command


def weak() -> list[str]:
    return [APPLICATION.get(word, word) for word in whole()]


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.config.settings")
    child.LONGEST_PAUSE_S = child.FIRST_PAUSE_S
    assert APPLICATION.keys() <= set(whole()), "the workers have another application by now"
    supervisor.worker_command = weak
    execute_from_command_line(["manage.py", *sys.argv[1:]])
