"""The commands ``standing`` and ``plan``, as somebody runs them: files, pipes, exit statuses."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
GOOD = {"id": "a", "on": "2026-03-01", "range": [58, 90], "tries": [], "slots": 20, "seed": 7}
BOTH = pytest.mark.parametrize("command", ["standing", "plan"])


def run(command: str, *arguments: str, given: str | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "manage.py", command, *arguments],
        cwd=ROOT,
        env=os.environ | NOWHERE,
        input=given,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


# Neither database nor broker: whoever asked one of these would fail.
NOWHERE = {"DATABASE_URL": "postgresql://nobody:x@127.0.0.1:9/none", "REDIS_URL": "redis://127.0.0.1:9/0"}


@BOTH
def test_a_file_of_good_histories_ends_with_status_0(command: str, tmp_path: Path) -> None:
    file = tmp_path / "histories.jsonl"
    file.write_text(json.dumps(GOOD) + "\n\n" + json.dumps(GOOD | {"id": 2}) + "\n")
    done = run(command, str(file))
    assert (done.returncode, done.stderr) == (0, "")
    assert [json.loads(line)["id"] for line in done.stdout.splitlines()] == ["a", 2]


@BOTH
def test_a_bad_line_ends_with_status_1(command: str) -> None:
    done = run(command, "-", given=f'{json.dumps(GOOD)}\n{{"id": 5}}\n{json.dumps(GOOD)}\n')
    first, second, third = map(json.loads, done.stdout.splitlines())
    assert done.returncode == 1
    assert first == third
    assert set(second) == {"id", "error"}


@BOTH
def test_no_such_file_ends_with_status_2_and_says_so(command: str, tmp_path: Path) -> None:
    for name in (str(tmp_path / "nothing.jsonl"), str(tmp_path)):
        done = run(command, name)
        assert (done.returncode, done.stdout) == (2, "")
        assert name in done.stderr
        assert "Traceback" not in done.stderr


@BOTH
@pytest.mark.parametrize("arguments", [[], ["one", "two"], ["--nothing", "-"]])
def test_wrong_arguments_end_with_status_2(command: str, arguments: list[str]) -> None:
    assert run(command, *arguments, given="").returncode == 2


@BOTH
def test_nothing_in_gives_nothing_out(command: str) -> None:
    done = run(command, "-", given="")
    assert (done.returncode, done.stdout) == (0, "")


@BOTH
def test_each_answer_is_written_before_the_next_line_comes(command: str) -> None:
    with subprocess.Popen(
        [sys.executable, "manage.py", command, "-"], cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as running:
        assert running.stdin
        assert running.stdout
        for number in range(3):
            running.stdin.write(json.dumps(GOOD | {"id": number}) + "\n")
            running.stdin.flush()
            assert json.loads(running.stdout.readline())["id"] == number
        running.stdin.close()
        assert running.wait(timeout=30) == 0


@BOTH
def test_a_reader_who_has_seen_enough_ends_it_quietly(command: str, tmp_path: Path) -> None:
    file = tmp_path / "histories.jsonl"
    file.write_text((json.dumps(GOOD) + "\n") * 3000)
    with subprocess.Popen(
        [sys.executable, "manage.py", command, str(file)], cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as running:
        assert running.stdout
        assert running.stderr
        running.stdout.readline()
        running.stdout.close()
        assert running.wait(timeout=60) == 1
        assert running.stderr.read() == b""
