"""A decoder that breaks, hangs or is killed hurts nobody else, and leaves nothing behind."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import psutil
import pytest

from analysis import audio
from analysis.audio import hear
from analysis.core.records import Request
from analysis.core.words import all_words
from tests.faults.files import horn, wav
from tests.faults.hostile import NOISE, ROOT, measured, names_of, refused


def decoders() -> list[psutil.Process]:
    """Decoding processes of this one that still run (a browser's own children are none)."""
    return [one for one in psutil.Process().children(recursive=True) if "decoding.py" in " ".join(one.cmdline())]


# --- a decoder that breaks ---------------------------------------------------------------------------

READY = "import os, sys, time, socket\nsys.stdout.buffer.write(b'r\\0\\0\\0\\0'); sys.stdout.buffer.flush()\n"
SAY = "sys.stdout.buffer.write({}); sys.stdout.buffer.flush()\n"
READY += "sock = socket.socket(fileno=os.dup(0)); sock.recv(64)\n"
BROKEN = {
    "killed by a signal": "os.kill(os.getpid(), 11)",
    "ends without a word": "sys.exit(0)",
    "breaks off in a block": SAY.format("b'b\\xff\\xff\\0\\0abc'"),
    "claims a block of 4 GB": SAY.format("b'b\\xff\\xff\\xff\\xff'") + "time.sleep(60)",
    "sends what is no number": "import struct\n"
    + SAY.format("b'b' + struct.pack('<If', 4, float('nan'))")
    + "time.sleep(60)",
    "sends for ever": "while True:\n  " + SAY.format("b'b' + (1 << 20).to_bytes(4, 'little') + bytes(1 << 20)"),
    "hangs": "time.sleep(60)",
    "speaks another language": SAY.format("b'i\\3\\0\\0\\0{{{'") + "time.sleep(60)",
    "gives a code nobody knows": SAY.format("b'f\\3\\0\\0\\0abc'") + SAY.format("b'i\\2\\0\\0\\0[]'"),
}


@pytest.mark.parametrize("deed", BROKEN.values(), ids=BROKEN)
def test_a_decoder_that_breaks_is_a_refusal_and_the_next_take_is_measured(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, deed: str
) -> None:
    program = tmp_path / "broken.py"
    program.write_text(READY + deed)
    path = wav(tmp_path / "take.wav", horn(2.0))
    with monkeypatch.context() as patch:
        patch.setattr(audio, "DECODER", program)
        patch.setattr(audio, "LONGEST_WAIT_S", 2.0)
        assert refused(path) == "cannot_be_read_safely"
    began = time.monotonic()
    assert names_of(measured(path)) == ["F#4"]
    assert time.monotonic() - began < 30.0  # nothing of the broken one, which goes on for a minute, is waited for


def test_a_decoder_that_cannot_start_is_our_trouble_and_loud(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    program = tmp_path / "broken.py"
    program.write_text("import nothing_of_that_name")
    monkeypatch.setattr(audio, "DECODER", program)
    with pytest.raises(RuntimeError, match="does not start"):
        hear(wav(tmp_path / "take.wav", horn(1.0)), Request())


def test_nothing_is_left_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No process and no temporary file, after good takes, refused ones and broken decoders."""
    temporary = tmp_path / "temporary"
    temporary.mkdir()
    monkeypatch.setenv("TMPDIR", str(temporary))
    take, text = wav(tmp_path / "take.wav", horn(1.0)), tmp_path / "text.wav"
    text.write_text("no sound")
    open_before = len(psutil.Process().open_files()), psutil.Process().num_fds()
    measured(take)
    refused(text)
    with audio.read(take) as recording:
        next(iter(recording))  # and then no more of it
    assert decoders() == []
    assert (len(psutil.Process().open_files()), psutil.Process().num_fds()) == open_before
    assert list(temporary.iterdir()) == []


def test_a_decoder_in_waiting_is_used_once_and_ends_with_the_program(tmp_path: Path) -> None:
    path = wav(tmp_path / "take.wav", horn(1.0))
    audio.warm()
    try:
        first = audio._spare[0]
        measured(path)
        assert not first.alive
        assert audio._spare[0].alive
        assert refused(tmp_path / "none.wav") == "not_a_file"
    finally:
        audio.Decoder.keep_spare = False
        audio._end_spare()
    assert decoders() == []


def test_the_decoder_has_no_secrets_no_network_and_no_rights_to_gain(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FOOTING_SECRET_KEY", "a secret")
    with audio.read(wav(tmp_path / "take.wav", horn(30.0))) as recording:
        next(iter(recording))
        child = psutil.Process(recording._decoder._process.pid)
        assert set(child.environ()) <= {"OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "LD_LIBRARY_PATH", "LC_CTYPE"}
        status = Path(f"/proc/{child.pid}/status").read_text()
        assert "NoNewPrivs:\t1" in status
        limits = Path(f"/proc/{child.pid}/limits").read_text().splitlines()
        assert any(line.startswith("Max address space") and "1073741824" in line for line in limits)
        if os.geteuid() == 0:
            assert os.readlink(f"/proc/{child.pid}/ns/net") != os.readlink("/proc/self/ns/net")


# --- the command ---------------------------------------------------------------------------------------


def command(*arguments: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    environment = {"PATH": os.environ["PATH"], "FOOTING_VAR": str(cwd / "var"), "HOME": str(cwd)}
    return subprocess.run(
        [sys.executable, str(ROOT / "manage.py"), "measure", *arguments],
        capture_output=True,
        text=True,
        cwd=cwd,
        env=environment,
        timeout=60,
    )


def test_the_command_answers_in_one_plain_sentence(tmp_path: Path) -> None:
    name = "evil\x1b[31m\n\u202ename.wav"
    (tmp_path / name).write_text("no sound")
    answer = command(name, "--json", cwd=tmp_path)
    assert (answer.returncode, answer.stdout) == (2, "")
    assert answer.stderr.strip() == all_words()["not_audio"].advice


def test_noise_alone_ends_with_3_and_a_whole_report(tmp_path: Path) -> None:
    wav(tmp_path / "noise.wav", 0.05 * NOISE)
    answer = command("noise.wav", "--json", "--expect", "C4,D4", cwd=tmp_path)
    report = json.loads(answer.stdout, parse_constant=lambda word: pytest.fail(f"{word} is no JSON"))
    assert answer.returncode == 3
    assert report["capture"]["reasons"] == ["no_tone_found"]
    assert (report["tones"], report["missing"]) == ([], ["C4", "D4"])
    assert len(report["audio"]["sha256"]) == 64
    assert answer.stderr.strip() == all_words()["no_tone_found"].advice


def test_measuring_needs_no_services_and_no_place_to_write(tmp_path: Path) -> None:
    """Database and broker lead nowhere, the folder can't be written: the take is measured all the same."""
    wav(tmp_path / "take.wav", horn(2.0))
    environment = {
        "PATH": os.environ["PATH"],
        "FOOTING_VAR": "/proc/nowhere",
        "DATABASE_URL": "postgresql://nobody@127.0.0.1:1/none",
        "REDIS_URL": "redis://127.0.0.1:1/0",
    }
    answer = subprocess.run(
        [sys.executable, str(ROOT / "manage.py"), "measure", "take.wav", "--expect", "F#4", "--json"],
        capture_output=True,
        text=True,
        cwd=tmp_path,
        env=environment,
        timeout=60,
    )
    assert answer.returncode == 0, answer.stderr
    assert json.loads(answer.stdout)["missing"] == []
    assert sorted(path.name for path in tmp_path.iterdir()) == ["take.wav"]
