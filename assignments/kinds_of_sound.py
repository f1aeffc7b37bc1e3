"""What kind of sound file begins so: what a browser or a file name says of it is never believed."""

from __future__ import annotations

KINDS = (  # place, first bytes, media type
    (0, b"RIFF", "audio/wav"),
    (0, b"fLaC", "audio/flac"),
    (0, b"OggS", "audio/ogg"),
    (0, b"\x1a\x45\xdf\xa3", "audio/webm"),
    (4, b"ftyp", "audio/mp4"),
    (0, b"ID3", "audio/mpeg"),
    (0, b"caff", "audio/x-caf"),
    (0, b"FORM", "audio/aiff"),
    (0, b"\xff\xf1", "audio/aac"),
    (0, b"\xff\xf9", "audio/aac"),
)
ENDINGS = {"audio/mp4": "m4a", "audio/mpeg": "mp3", "audio/x-caf": "caf"}


def media_type(opening: bytes) -> str:
    """By the first twelve bytes."""
    for place, mark, kind in KINDS:
        if opening[place : place + len(mark)] == mark:
            return kind
    return "audio/mpeg"  # MP3 without a tag begins anyhow


def ending(opening: bytes) -> str:
    """What a file with this beginning is called at its end: ``webm``."""
    kind = media_type(opening)
    return ENDINGS.get(kind, kind.rsplit("/")[1])
