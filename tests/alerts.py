"""When the alerts wake somebody: ``python -m tests.alerts`` has Prometheus itself go through ``tests/alerts.yml``.

Status 0: each alert woke when it should and not before. 75 (EX_TEMPFAIL): Prometheus' own tool is not here; then
nothing is known. It is not among what ``python -m tests`` installs, because with it a server of 96 MB comes along.
"""

from __future__ import annotations

import shutil
import subprocess
import sys

from tests.__main__ import ROOT
from tests.audit import NOT_KNOWN

TOOL = "promtool"
LOOKS = (("check", "studio/config/systemd/alerts.yml"), ("test", "tests/alerts.yml"))


def main() -> int:
    if not shutil.which(TOOL):
        print(f"Not tried: {TOOL} is missing. It is in Debian's package prometheus.")
        return NOT_KNOWN
    looks = [subprocess.run([TOOL, what, "rules", file], cwd=ROOT, check=False) for what, file in LOOKS]
    return int(any(look.returncode for look in looks))


if __name__ == "__main__":
    sys.exit(main())
