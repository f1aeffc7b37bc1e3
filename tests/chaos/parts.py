"""``manage.py serve`` that starts a dead part again at once: pauses that grow are for machines, not for this test."""

import os
import sys

from django.core.management import execute_from_command_line

from studio.config import child

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.config.settings")
    child.LONGEST_PAUSE_S = child.FIRST_PAUSE_S
    execute_from_command_line(["manage.py", *sys.argv[1:]])
