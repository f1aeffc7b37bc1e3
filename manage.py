#!/usr/bin/env python
"""Footing's command line."""

import os
import sys

OWN = ("studio", "assignments", "analysis", "tests")


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.config.settings")
    try:
        from django.core.exceptions import ImproperlyConfigured
        from django.core.management import execute_from_command_line

        try:
            execute_from_command_line(sys.argv)
        except ImproperlyConfigured as refused:
            sys.exit(str(refused))
    except ModuleNotFoundError as missing:
        if str(missing.name).split(".")[0] in OWN:
            raise
        sys.exit(
            f"Python cannot find the module {missing.name}. Install what Footing needs "
            "(.venv/bin/pip install -r requirements.txt) and start it with .venv/bin/python."
        )


if __name__ == "__main__":
    main()
