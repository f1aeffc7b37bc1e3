"""How soon a take is measured whose worker was killed in the middle of it: seconds from the kill, printed.

python -m tests.chaos.missed
"""

from __future__ import annotations

import os
import sys
import tempfile
import threading
import time
import uuid
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
LONG_S = 1080.0  # so long a recording is in work for a few seconds


def main() -> int:
    with tempfile.TemporaryDirectory(prefix="footing-missed-") as folder:
        var = Path(folder) / "var"
        os.environ.update(FOOTING_VAR=str(var), DJANGO_SETTINGS_MODULE="studio.config.settings", PYTHONPATH=str(ROOT))
        os.environ.setdefault("NUMBA_CACHE_DIR", str(ROOT / "var" / "numba"))

        import django

        django.setup()
        from django.core.management import call_command

        call_command("migrate", interactive=False, verbosity=0)
        print(f"measured again after {_seconds(Path(folder), var):.1f}")
    return 0


def _seconds(folder: Path, var: Path) -> float:
    import random

    from analysis.models import Analysis
    from analysis.synthesis import ToneSpec, render, write
    from tests.chaos import laid
    from tests.chaos.phones import Kind, Phone, Sent
    from tests.faults.serving import Serving, wait_until

    student = laid.students(1)[0]
    file = folder / "long.webm"
    write(
        file,
        render([ToneSpec(written_midi=60, dynamic="mf", seconds=60.0)] * int(LONG_S / 60), "alto", seed=1)[0],
        "webm",
    )
    serving = Serving(var)
    try:
        serving.wait_until_ready()
        phone = Phone(student, serving.port, {}, 0, 0.0, threading.Event(), random.Random(0))
        key = uuid.uuid4()
        status, _body = phone.post(Sent(student.horn, key, file.read_bytes(), Kind.TONE), 0)
        assert status == 201, status
        mine = Analysis.objects.filter(take__client_key=key)
        assert wait_until(lambda: mine.filter(state=Analysis.State.RUNNING).exists(), 60), "nobody took it in hand"
        serving.children()["worker"].kill()
        killed = time.monotonic()
        assert mine.get().state == Analysis.State.RUNNING, "it was measured before the worker died"
        assert wait_until(lambda: mine.get().state == Analysis.State.MEASURED, 180), "never measured"
        assert mine.get().lost == 1
        return time.monotonic() - killed
    finally:
        serving.end()


if __name__ == "__main__":
    sys.exit(main())
