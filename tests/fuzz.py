"""The API fuzzed as a release is: ``python -m tests.fuzz``, 200 examples an operation; ``python -m tests`` has 30."""

from __future__ import annotations

import argparse
import os
import sys

import pytest


def main() -> int:
    parser = argparse.ArgumentParser(description="Fuzzes every operation of the API.")
    parser.add_argument("examples", type=int, nargs="?", default=200, help="an operation (default: %(default)s)")
    os.environ["TESTS_FUZZ_EXAMPLES"] = str(parser.parse_args().examples)
    return int(pytest.main(["-q", "tests/faults/test_api_fuzz.py"]))


if __name__ == "__main__":
    sys.exit(main())
