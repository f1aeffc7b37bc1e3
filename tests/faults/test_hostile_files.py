"""Recordings from outside are hostile: each one is measured, or refused in words, and hurts nobody else."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import psutil
import pytest

from analysis import audio, faults
from analysis.audio import hear
from analysis.core.records import Measurement, Request
from analysis.core.words import all_words
from tests.faults.files import RATE_HZ, changed, encoded, horn, pictures_only, wav

ROOT = Path(__file__).resolve().parents[2]
CUTTABLE = {"wav": None, "flac": "flac", "mp3": "libmp3lame", "opus": "libopus", "webm": "libopus", "m4a": "aac"}


def refused(path: Path) -> str:
    """The code with which a file is refused; its words are plain."""
    with pytest.raises(faults.Fault) as caught:
        hear(path, Request())
    text = caught.value.text
    assert text == all_words()[caught.value.code].advice
    assert str(path) not in text
    return caught.value.code


def measured(path: Path) -> Measurement:
    return hear(path, Request())


def outcome(path: Path) -> Measurement | str:
    """The measurement, or the code of the refusal."""
    try:
        return hear(path, Request())
    except faults.Fault as fault:
        return fault.code


def names_of(measurement: Measurement) -> list[str]:
    return [tone.written for tone in measurement.tones]


def as_file(folder: Path, kind: str, seconds: float = 3.0) -> Path:
    codec = CUTTABLE[kind]
    path = folder / f"take.{kind}"
    return encoded(path, horn(seconds), codec) if codec else wav(path, horn(seconds))


# --- what is no sound ------------------------------------------------------------------------


def test_nothing_at_all_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    path.touch()
    assert refused(path) == "not_audio"


@pytest.mark.parametrize(
    "content",
    [
        b"hello, this is no sound\n" * 400,
        b"%PDF-1.7\n" + bytes(5000),
        b"\x89PNG\r\n\x1a\n" + bytes(5000),
        b"PK\x03\x04" + bytes(5000),
        b"\x1f\x8b\x08" + bytes(5000),
        bytes(range(256)) * 40,
        b"RIFF\xff\xff\xff\x7fWAVE",
        b"fLaC",
        b"OggS",
        b"ID3\x04\x00\x00\x7f\x7f\x7f\x7f",
    ],
    ids=["text", "pdf", "png", "zip", "gzip", "bytes", "wav head", "flac head", "ogg head", "huge tag"],
)
def test_other_files_under_a_sounds_name_are_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "take.mp3"
    path.write_bytes(content)
    assert refused(path) == "not_audio"


def test_a_film_without_sound_says_that_there_is_none(tmp_path: Path) -> None:
    assert refused(pictures_only(tmp_path / "take.mp4")) == "no_sound_track"


def test_only_ordinary_files_are_opened(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "link.wav").symlink_to(wav(tmp_path / "real.wav", horn(1.0)))
    for path in (tmp_path, tmp_path / "pipe", tmp_path / "link.wav", tmp_path / "none.wav", Path("/dev/zero")):
        assert refused(path) == "not_a_file"
    with pytest.raises(faults.Fault):
        hear("take\0.wav", Request())


# --- what names other files or addresses ---------------------------------------------------------

PLAYLISTS = {
    "m3u8": "#EXTM3U\n#EXT-X-TARGETDURATION:3\n#EXTINF:3,\n{where}\n#EXT-X-ENDLIST\n",
    "m3u": "#EXTM3U\n#EXTINF:3,take\n{where}\n",
    "ffconcat": "ffconcat version 1.0\nfile '{where}'\n",
    "pls": "[playlist]\nFile1={where}\nNumberOfEntries=1\nVersion=2\n",
    "asx": '<asx version="3.0"><entry><ref href="{where}"/></entry></asx>',
    "smil": '<smil><body><audio src="{where}"/></body></smil>',
    "xspf": '<playlist xmlns="http://xspf.org/ns/0/"><trackList><track><location>{where}</location></track></trackList>'
    "</playlist>",
    "mpd": '<?xml version="1.0"?><MPD xmlns="urn:mpeg:dash:schema:mpd:2011" type="static" '
    'mediaPresentationDuration="PT3S"><Period><AdaptationSet mimeType="audio/mp4"><Representation id="1" bandwidth="9">'
    "<BaseURL>{where}</BaseURL><SegmentBase/></Representation></AdaptationSet></Period></MPD>",
    "sdp": "v=0\no=- 0 0 IN IP4 127.0.0.1\ns=x\nc=IN IP4 127.0.0.1\nt=0 0\nm=audio {port} RTP/AVP 0\n",
    "ram": "{where}\n",
}


@pytest.mark.parametrize("name", ["take.wav", "take.{kind}"])
@pytest.mark.parametrize("kind", PLAYLISTS)
def test_a_list_of_other_places_opens_none_of_them(tmp_path: Path, kind: str, name: str) -> None:
    """The place named is another student's take, then an address: neither is looked at."""
    other = wav(tmp_path / "other.wav", horn(3.0))
    with socket.create_server(("127.0.0.1", 0)) as listener:
        listener.settimeout(0.2)
        port = listener.getsockname()[1]
        for where in (other.as_uri(), str(other), other.name, f"http://127.0.0.1:{port}/other.wav"):
            path = tmp_path / name.format(kind=kind)
            path.write_text(PLAYLISTS[kind].format(where=where, port=port))
            before = os.stat(other).st_atime_ns
            assert refused(path) == "not_audio"
            assert os.stat(other).st_atime_ns == before
        with pytest.raises(TimeoutError):
            listener.accept()


@pytest.mark.parametrize("name", ["http:take.wav", "concat:take.wav", "pipe:0", "-", "--help", "file:x", "fd:0", "a|b"])
def test_names_that_look_like_protocols_are_names(tmp_path: Path, name: str) -> None:
    assert names_of(measured(wav(tmp_path / name, horn(2.0)))) == ["F#4"]


# --- what is broken ------------------------------------------------------------------------------


@pytest.mark.parametrize("share", [0.02, 0.3, 0.6, 0.85])
@pytest.mark.parametrize("kind", CUTTABLE)
def test_a_file_cut_anywhere_is_measured_as_far_as_it_goes_or_refused(tmp_path: Path, kind: str, share: float) -> None:
    whole = as_file(tmp_path, kind, seconds=6.0)
    cut = tmp_path / f"cut.{kind}"
    cut.write_bytes(whole.read_bytes()[: int(whole.stat().st_size * share)])
    measurement = outcome(cut)
    if isinstance(measurement, str):
        assert measurement == "not_audio"
        assert share < 0.3 or kind == "m4a"  # its table of contents stands at the end
        return
    assert measurement.audio.truncated
    assert "cut_short" in measurement.capture.reasons
    assert measurement.audio.duration_s < 6.0 * share + 1.1
    if share > 0.3:
        assert measurement.capture.readable
        assert names_of(measurement) == ["F#4"]


@pytest.mark.parametrize("kind", CUTTABLE)
def test_damaged_bytes_never_get_further_than_words(tmp_path: Path, kind: str) -> None:
    content = as_file(tmp_path, kind).read_bytes()
    chance = np.random.default_rng(20_260_301)
    for number in range(6):
        bytes_ = bytearray(content)
        for at in chance.integers(0, len(bytes_), 1 + len(bytes_) // 400):
            bytes_[at] = chance.integers(256)
        path = tmp_path / f"{number}.{kind}"
        path.write_bytes(bytes(bytes_))
        measurement = outcome(path)
        if isinstance(measurement, str):
            assert measurement in faults.CODES
        else:
            assert np.isfinite([tone.pitch_cents for tone in measurement.tones]).all()


def test_a_head_that_lies_about_its_rate_or_channels_is_refused(tmp_path: Path) -> None:
    for at, lie in ((24, b"\xff\xff\xff\xff"), (24, bytes(4)), (22, b"\xff\xff"), (22, b"\x40\x00"), (22, bytes(2))):
        assert refused(changed(wav(tmp_path / "take.wav", horn(1.0)), at, lie)) in ("not_audio", "strange_sound_format")
    assert refused(wav(tmp_path / "slow.wav", horn(1.0), rate_hz=2_000)) == "strange_sound_format"


def test_a_head_that_lies_about_the_length_is_not_believed(tmp_path: Path) -> None:
    for size in (bytes(4), b"\xff\xff\xff\xff", b"\x00\x00\x00\x70"):
        measurement = measured(changed(wav(tmp_path / "take.wav", horn(3.0)), 40, size))
        assert measurement.audio.duration_s == pytest.approx(3.0, abs=0.01)
    flac = changed(encoded(tmp_path / "take.flac", horn(3.0), "flac"), 8 + 13, b"\xff\xff\xff\xff\xff")
    lied = outcome(flac)
    assert lied == "not_audio" if isinstance(lied, str) else lied.audio.duration_s == pytest.approx(3.0, abs=0.01)


def test_numbers_that_are_none_are_taken_as_silence(tmp_path: Path) -> None:
    samples = horn(3.0)
    samples[5_000:5_100], samples[9_000], samples[12_000] = np.nan, np.inf, 1e30
    measurement = measured(wav(tmp_path / "take.wav", samples, floats=True))
    assert names_of(measurement) == ["F#4"]
    assert measurement.tones[0].end_s == pytest.approx(3.0, abs=0.05)


# --- what sounds, but holds nothing to measure ------------------------------------------------------

NOISE = np.random.default_rng(7).normal(size=4 * RATE_HZ).astype(np.float32)


@pytest.mark.parametrize(
    ("samples", "reason"),
    [
        (np.zeros(0, np.float32), "silent"),
        (np.zeros(2 * RATE_HZ, np.float32), "silent"),
        (np.full(2 * RATE_HZ, 0.5, np.float32), "no_tone_found"),
        (0.05 * NOISE, "no_tone_found"),
        (0.01 * np.cumsum(NOISE) / 60, "no_tone_found"),
        (np.eye(1, 3 * RATE_HZ, RATE_HZ, dtype=np.float32)[0] + 1e-3 * np.resize(NOISE, 3 * RATE_HZ), "no_tone_found"),
        (horn(0.2), "tone_too_short"),
    ],
    ids=["empty", "silence", "one value", "white noise", "brown noise", "a click", "a blip"],
)
def test_sound_without_a_tone_is_not_measured_and_says_why(tmp_path: Path, samples: np.ndarray, reason: str) -> None:
    capture = measured(wav(tmp_path / "take.wav", samples)).capture
    assert not capture.readable
    assert capture.reasons[0] == reason


def test_clipping_is_seen_and_hides_only_what_it_spoils(tmp_path: Path) -> None:
    measurement = measured(wav(tmp_path / "take.wav", np.clip(8.0 * horn(3.0), -1.0, 1.0)))
    assert measurement.capture.clipped
    assert measurement.tones[0].readable
    assert measurement.tones[0].hidden["level_db"] == "too_close"
    assert abs(measurement.tones[0].pitch_cents) < 1.0


# --- what is too much --------------------------------------------------------------------------------


def test_hours_packed_small_are_refused_at_the_limit(tmp_path: Path) -> None:
    """40 minutes of eight channels of silence: small on disk, over 4 GB if anyone held it."""
    silence = np.zeros(40 * 60 * 8_000, np.float32)
    path = encoded(tmp_path / "take.flac", silence, "flac", rate_hz=8_000, layout="7.1")
    assert path.stat().st_size < 2 << 20
    before = psutil.Process().memory_info().rss
    began = time.process_time()
    assert refused(path) == "too_long"
    assert time.process_time() - began < 15.0
    assert psutil.Process().memory_info().rss - before < 250 << 20


def test_the_limit_is_the_callers(tmp_path: Path) -> None:
    path = wav(tmp_path / "take.wav", horn(5.0))
    with pytest.raises(faults.Fault) as caught:
        hear(path, Request(), longest_s=4.0)
    assert caught.value.code == "too_long"
    assert caught.value.is_audio
    assert caught.value.audio.sample_rate_hz == RATE_HZ


def test_pictures_tags_and_chapters_do_no_harm(tmp_path: Path) -> None:
    tags = {"title": "x" * 100_000 + "\x1b[31m\u202e", "comment": "'; DROP TABLE takes; --", "artist": "<script>"}
    path = encoded(tmp_path / "take.flac", horn(2.0), "flac", metadata=tags)
    picture = (
        b"\x00\x00\x00\x03" + b"\x00\x00\x00\x09image/png" + bytes(20) + (20 << 16).to_bytes(4, "big") + bytes(20 << 16)
    )
    block = b"\x06" + (len(picture) & 0xFFFFFF).to_bytes(3, "big") + picture
    content = path.read_bytes()
    path.write_bytes(content[:42] + block + content[42:])
    assert names_of(measured(path)) == ["F#4"]


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
    assert time.monotonic() - began < 5.0


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
    assert psutil.Process().children(recursive=True) == []
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
    assert psutil.Process().children(recursive=True) == []


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
