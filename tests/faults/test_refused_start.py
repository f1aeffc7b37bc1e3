"""Trouble at the start is one sentence that says what to do, never a traceback."""

from __future__ import annotations

import secrets
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from tests.faults.serving import ROOT, free_port, run_manage


def refusal(done: subprocess.CompletedProcess[str]) -> str:
    """What was said on standard error: one line, and the exit status is 1."""
    assert done.returncode == 1, done.stdout + done.stderr
    assert "Traceback" not in done.stderr
    assert done.stderr.count("\n") == 1, done.stderr
    return done.stderr


def test_a_taken_port(tmp_path: Path) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        said = refusal(run_manage("serve", f"--port={port}", var=tmp_path / "var"))
    assert f"Port {port}" in said
    assert "--port" in said


def test_a_folder_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    said = refusal(run_manage("serve", var=tmp_path / "file" / "var"))
    assert "FOOTING_VAR" in said
    assert str(tmp_path / "file" / "var") in said


def test_a_missing_module() -> None:
    bare = [sys.executable, "-I", "-S", "manage.py", "serve"]
    said = refusal(subprocess.run(bare, cwd=ROOT, capture_output=True, text=True, timeout=60, check=False))
    assert "django" in said
    assert "requirements.txt" in said


def test_a_database_that_does_not_answer(tmp_path: Path) -> None:
    url = "postgresql://nobody@127.0.0.1:9/footing"
    done = run_manage("serve", "--port=0", var=tmp_path / "var", DATABASE_URL=url)
    assert done.returncode == 1
    assert "DATABASE_URL" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_public_site_without_a_redis_server_of_its_own(tmp_path: Path) -> None:
    site = {"FOOTING_MODE": "production", "FOOTING_ORIGINS": "https://tones.example.org"}
    key = secrets.token_urlsafe(64)
    done = run_manage("serve", f"--port={free_port()}", var=tmp_path / "var", FOOTING_SECRET_KEY=key, **site)
    assert "REDIS_URL" in refusal(done)


@pytest.mark.parametrize(
    ("name", "value", "hint"),
    [
        ("FOOTING_PROT", "80", "FOOTING_PORT"),
        ("REDIS_URI", "redis://a/0", "REDIS_URL"),
        ("DATABASE_UR", "x", "DATABASE_URL"),
        ("FOOTING_PORT", "eighty", "whole number"),
        ("FOOTING_MODE", "prod", "production"),
        ("FOOTING_SECRET_KEY", "secret", "50 random characters"),
    ],
)
def test_a_setting_that_is_not_understood(tmp_path: Path, name: str, value: str, hint: str) -> None:
    said = refusal(run_manage("serve", var=tmp_path / "var", **{name: value}))
    assert name in said
    assert hint in said
