"""What a phone writes into a recording besides its sound is not kept: checked on files that others' programs made."""

from __future__ import annotations

import hashlib
import io
import zipfile
from pathlib import Path
from tempfile import TemporaryFile

import av
import numpy as np
import pytest
import soundfile
from django.core.files.base import ContentFile, File
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from analysis.audio import read
from analysis.tags import bare
from analysis.tags.patch import Patch
from assignments import export
from assignments.kinds_of_sound import media_type
from assignments.models import Take
from tests import builders, people
from tests.unit.test_uploads import form, send_part

NAMES = ("title", "artist", "location", "comment", "make", "com.apple.quicktime.location.ISO6709")
FORMS = {  # FFmpeg's: container, codec, options
    "memo.m4a": ("ipod", "aac", {}),
    "memo.mov": ("mov", "aac", {"movflags": "use_metadata_tags"}),
    "pieces.mp4": ("mp4", "aac", {"movflags": "frag_keyframe+empty_moov"}),
    "memo.3gp": ("3gp", "aac", {}),
    "memo.webm": ("webm", "libopus", {}),
    "live.webm": ("webm", "libopus", {"live": "1"}),
    "memo.mka": ("matroska", "libopus", {}),
    "memo.ogg": ("ogg", "libopus", {}),
    "memo.oga": ("ogg", "flac", {}),
    "memo.flac": ("flac", "flac", {}),
    "memo.mp3": ("mp3", "libmp3lame", {"write_id3v1": "1"}),
    "memo.aac": ("adts", "aac", {"write_id3v2": "1", "write_apetag": "1"}),
    "memo.wav": ("wav", "pcm_s16le", {"write_bext": "1"}),
    "memo.aiff": ("aiff", "pcm_s16be", {"write_id3v2": "1"}),
    "memo.caf": ("caf", "pcm_s16le", {}),
}
MARK = b"marmalade"
TONE = (0.3 * np.sin(2 * np.pi * 440 * np.arange(48_000) / 48_000)).astype(np.float32)


def tagged(folder: Path, name: str, *, is_tagged: bool = True) -> bytes:
    """One second of a tone, with names and a place in it, as FFmpeg writes them."""
    container, codec, options = FORMS[name] if is_tagged else (*FORMS[name][:2], {})
    with av.open(str(folder / name), "w", format=container, options=options) as out:
        if is_tagged:
            out.metadata.update({key: f"marmalade {key}" for key in NAMES})
        stream = out.add_stream(codec, rate=48_000)
        stream.layout = "mono"
        sound = av.AudioFrame.from_ndarray(TONE[None], format="fltp", layout="mono")
        sound.sample_rate = 48_000
        size = stream.codec_context.frame_size or 1024
        parts = av.AudioResampler(stream.codec_context.format, "mono", 48_000, frame_size=size)
        for frame in (*parts.resample(sound), *parts.resample(None)):
            out.mux(stream.encode(frame))
        last = stream.encode(None)  # of FLAC its sum alone, which is no sound and which Ogg has no place for
        out.mux([packet for packet in last if packet.size or container != "ogg"])
    return (folder / name).read_bytes()


def heard(file: Path) -> np.ndarray:
    with read(file) as recording:
        return np.concatenate(list(recording))


def kept_of(content: bytes) -> bytes:
    return b"".join(bare(ContentFile(content, name="x")).chunks(1000))


@pytest.mark.parametrize("name", FORMS)
def test_no_name_and_no_place_is_left_and_no_sample_changes(tmp_path, name):
    came = tagged(tmp_path, name)
    assert MARK in came
    kept = kept_of(came)
    assert MARK not in kept
    assert len(kept) == len(came)
    (tmp_path / "kept").write_bytes(kept)
    np.testing.assert_array_equal(heard(tmp_path / "kept"), heard(tmp_path / name))
    with av.open(str(tmp_path / "kept")) as again:
        said = {**again.metadata, **again.streams.audio[0].metadata}
    assert not [value for value in said.values() if "marmalade" in value or "Lavf" in value]


ID3 = b"ID3\x04\0\0\0\0\0\x0a" + MARK + b"!"


@pytest.mark.parametrize(
    ("name", "made_by_another"),
    [
        ("memo.mov", lambda came: came[:4] + b"wide" + came[8:]),
        ("memo.mov", lambda came: came[:4] + b"free" + came[8:]),
        ("memo.flac", lambda came: ID3 + came),
        ("memo.mp3", lambda came: ID3 + came),
        ("memo.mp3", lambda came: ID3 + ID3 + ID3 + came),
    ],
    ids=["older mov", "older mov, cleared", "ID3 before FLAC", "two ID3", "four ID3"],
)
def test_a_file_that_begins_in_an_unusual_way_is_bared_all_the_same(tmp_path, name, made_by_another):
    came = made_by_another(tagged(tmp_path, name))
    kept = kept_of(came)
    (tmp_path / "came").write_bytes(came)
    (tmp_path / "kept").write_bytes(kept)
    assert MARK not in kept
    assert len(kept) == len(came)
    np.testing.assert_array_equal(heard(tmp_path / "kept"), heard(tmp_path / "came"))


SERVED_AS = {"oga": "ogg", "m4a": "mp4", "mov": "mp4", "3gp": "mp4", "mka": "webm", "mp3": "mpeg", "caf": "x-caf"}


@pytest.mark.parametrize("name", FORMS)
def test_what_it_is_served_as_is_told_by_its_bytes(tmp_path, name):
    ending = name.rsplit(".", 1)[1]
    kind = media_type(tagged(tmp_path, name, is_tagged=False)[:12])
    assert kind == f"audio/{SERVED_AS.get(ending, ending)}"


@pytest.mark.parametrize(("subtype", "words"), [("VORBIS", 9_000), ("OPUS", 9)])  # over several pages, on one
def test_comments_of_an_ogg_that_another_program_made_are_gone(tmp_path, subtype, words):
    with soundfile.SoundFile(tmp_path / "memo.ogg", "w", 48_000, 1, subtype, format="OGG") as out:
        out.title, out.comment = "marmalade", "marmalade " * words
        out.write(TONE)
    came = (tmp_path / "memo.ogg").read_bytes()
    (tmp_path / "kept.ogg").write_bytes(kept_of(came))
    assert MARK in came
    assert MARK not in kept_of(came)
    again, _rate = soundfile.read(tmp_path / "kept.ogg", dtype="float32")  # which checks every page's sum
    np.testing.assert_array_equal(again, soundfile.read(tmp_path / "memo.ogg", dtype="float32")[0])


@pytest.mark.parametrize("name", ["memo.ogg", "memo.oga"])
def test_of_two_recordings_one_after_the_other_neither_says_anything(tmp_path, name):
    came = tagged(tmp_path, name) + tagged(tmp_path, name)
    kept = kept_of(came)
    (tmp_path / "came").write_bytes(came)
    (tmp_path / "kept").write_bytes(kept)
    assert came.count(MARK) == 2 * tagged(tmp_path, name).count(MARK) > 0
    assert (MARK in kept, len(kept)) == (False, len(came))
    np.testing.assert_array_equal(heard(tmp_path / "kept"), heard(tmp_path / "came"))


def blocks_of_ogg_flac(*blocks: tuple[int, bytes]) -> bytes:
    """An Ogg FLAC of one block a page behind its own first one, and its sound, with the check sums left out."""

    def page(packet: bytes, begins: int = 0) -> bytes:
        lengths = bytes([255] * (len(packet) // 255) + [len(packet) % 255])
        return b"OggS\0" + bytes([begins]) + bytes(8) + b"here" + bytes(8) + bytes([len(lengths)]) + lengths + packet

    pages = [page(b"\x7fFLAC\x01\0\0\0fLaC" + b"\0\0\0\x22" + bytes(34), 2)]
    for number, (kind, content) in enumerate(blocks, start=1):
        last = 0x80 if number == len(blocks) else 0
        pages.append(page(bytes([last | kind]) + len(content).to_bytes(3, "big") + content))
    return b"".join([*pages, page(b"\xff\xf8" + MARK + b" is sound here")])


@pytest.mark.parametrize("kind", [2, 4, 5, 6, 126])
def test_every_block_of_an_ogg_flac_that_says_something_says_nothing(kind):
    came = blocks_of_ogg_flac((4, bytes(8) + MARK), (3, b"seek"), (kind, MARK * 200), (1, b""))
    kept = kept_of(came)
    assert (len(kept), kept.count(MARK), b"seek" in kept) == (len(came), 1, True)
    assert kept.endswith(b" is sound here")


@pytest.mark.parametrize("name", ["memo.m4a", "memo.webm", "memo.ogg", "memo.oga", "memo.wav", "memo.flac"])
def test_a_file_cut_anywhere_is_read_without_trouble(tmp_path, name):
    came = tagged(tmp_path, name)
    for cut in range(0, min(len(came), 1_200), 7):
        assert len(kept_of(came[:cut])) == cut


def test_sound_of_unknown_length_is_not_taken_for_tags():
    came = b"RIFF\xff\xff\xff\xffWAVEfmt " + (16).to_bytes(4, "little") + bytes(16) + b"data" + bytes(4) + b"sound" * 9
    assert kept_of(came) == came


ANNOUNCED = {  # content whose length was not known when its head was written, or is a lie
    "caf": b"caff\0\1\0\0desc" + (32).to_bytes(8, "big") + bytes(32) + b"data" + b"\xff" * 8 + b"sound" * 9,
    "m4a": (16).to_bytes(4, "big") + b"ftypM4A \0\0\0\0" + b"\0\0\0\1mdat" + b"\xff" * 8 + b"sound" * 9,
    "webm": b"\x1a\x45\xdf\xa3\x01\x80" + bytes(6) + b"sound" * 9,
}


@pytest.mark.parametrize("came", ANNOUNCED.values(), ids=ANNOUNCED)
def test_content_that_is_announced_as_longer_than_any_file_is_kept_as_it_came(came):
    with TemporaryFile() as draft:  # as a large recording lies; systems refuse to look too far
        draft.write(came)
        assert b"".join(bare(File(draft, name="x")).chunks()) == came


def test_of_a_file_of_nothing_but_tags_each_is_taken_out_where_it_stands_alone(monkeypatch):
    tag = b"LIST" + (10).to_bytes(4, "little") + MARK + b"\0"
    came = b"RIFF\xff\xff\xff\xffWAVE" + tag * 500 + b"data" + (9_000).to_bytes(4, "little") + b"sound" * 1_800
    put, times = Patch.put, []
    monkeypatch.setattr(Patch, "put", lambda patch, *where: (times.append(patch), put(patch, *where)))
    kept = kept_of(came)
    assert (MARK in kept, kept[12 : 12 + len(tag)], kept[-9_008:]) == (
        False,
        b"JUNK" + tag[4:8] + bytes(10),
        came[-9_008:],
    )
    assert len(set(times)) == 2 * 500
    assert len(times) < 1.1 * 2 * 500  # one at a reading's edge is asked twice


@pytest.fixture
def week(db):
    studio = people.studio()
    return builders.week(people.horn(studio), people.teacher(studio).user)


@pytest.mark.both_databases
@pytest.mark.parametrize("in_parts", [False, True])
def test_a_tagged_memo_is_known_by_what_came_and_kept_without_its_tags(tmp_path, week, in_parts):
    came = tagged(tmp_path, "memo.m4a")
    phone = Client()
    phone.force_login(week.horn.player.user)
    sent = form(week)
    for status in (201, 200):  # and once more, because the first answer was lost
        if in_parts:
            send_part(phone, sent["client_key"], came, 0, len(came))
            answer = phone.post(reverse("api-takes"), {**sent, "parts": "true"})
        else:
            file = SimpleUploadedFile("marmalade.m4a", came, "audio/mp4")
            answer = phone.post(reverse("api-takes"), {**sent, "audio": file})
        assert (answer.status_code, answer.json()["sha256"]) == (status, hashlib.sha256(came).hexdigest())
    take = Take.objects.get()
    with default_storage.open(take.analysis.audio.name) as stored:
        kept = stored.read()
    assert MARK not in kept
    assert take.analysis.sha256 == hashlib.sha256(kept).hexdigest()
    given = b"".join(phone.get(reverse("take_audio", args=[take.pk])).streaming_content)
    assert given == kept
    copy = io.BytesIO()
    export.write(week.horn.player, copy, by=None)
    with zipfile.ZipFile(copy) as inside:
        assert not [name for name in inside.namelist() if MARK in inside.read(name)]
