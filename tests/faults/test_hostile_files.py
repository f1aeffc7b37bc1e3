"""Recordings from outside are hostile: each one is measured, or refused in words, and hurts nobody else."""

from __future__ import annotations

import os
import socket
import time
from pathlib import Path

import numpy as np
import psutil
import pytest

from analysis import faults
from analysis.audio import hear
from analysis.core.records import Request
from tests.faults.files import RATE_HZ, changed, encoded, horn, pictures_only, wav
from tests.faults.hostile import CUTTABLE, NOISE, as_file, measured, names_of, outcome, refused

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
