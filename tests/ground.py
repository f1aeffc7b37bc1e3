"""What tests stand on: a folder of their own, a real database, a real broker.

A pytest plugin (``-p tests.ground``), because pytest-django reads Django's settings before it reads any
conftest, and settings read too early would be those of another parallel test process.
"""

import os
from pathlib import Path

from tests import servers

# Whatever the caller's shell holds is not what is tested.
for name in [n for n in os.environ if n.startswith("FOOTING_") or n in ("DATABASE_URL", "REDIS_URL")]:
    del os.environ[name]
# Compiled numeric code is kept between runs: compiling it takes longer than the tests. Each parallel process keeps its
# own: two that compile one function for different kinds of numbers at once write over each other's, and then crash.
OWN = os.environ.get("PYTEST_XDIST_WORKER", "alone")
os.environ.setdefault("NUMBA_CACHE_DIR", str(Path(__file__).resolve().parents[1] / "var" / "numba" / OWN))
os.environ.update(servers.environment())
