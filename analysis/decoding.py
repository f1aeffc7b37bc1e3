"""The decoder: a program of its own, so that a file which breaks it breaks nothing else.

``analysis.audio`` starts it as ``python -I decoding.py`` and talks to it over two pipes. Standard input is a socket
over which comes one message: the limit in seconds, with the open file beside it (as a descriptor: the decoder learns
no name and may open nothing). Standard output carries messages of one letter, four bytes of length, and content:

    r  ready            the imports have worked; nothing else yet
    b  block            24 kHz mono float32 samples
    f  fault            a code of ``analysis.faults``
    i  what it was      JSON: samples at 24 kHz, rate, channels, codec, truncated, clipping; always last

Only the standard library, numpy, PyAV and soxr are imported: it has to start fast and to know nothing.
"""

import ctypes
import json
import os
import resource
import signal
import socket
import struct
import sys
from collections.abc import Iterator
from itertools import chain, pairwise

MEGABYTE = 1 << 20
LIMITS = (
    (resource.RLIMIT_AS, 1024 * MEGABYTE),
    (resource.RLIMIT_CPU, 20),  # seconds
    (resource.RLIMIT_NOFILE, 32),
    (resource.RLIMIT_CORE, 0),
    (resource.RLIMIT_FSIZE, MEGABYTE),
)
PR_SET_PDEATHSIG, PR_SET_NO_NEW_PRIVS = 1, 38
CLONE_NEWUSER, CLONE_NEWNET = 0x10000000, 0x40000000


def close_the_doors() -> None:
    """Bounds on time, memory and files; no new rights; no network where that is allowed; ends with its parent."""
    for which, most in LIMITS:
        hard = resource.getrlimit(which)[1]
        value = most if hard == resource.RLIM_INFINITY else min(most, hard)
        resource.setrlimit(which, (value, value))
    if sys.platform == "linux":
        libc = ctypes.CDLL(None)
        libc.prctl(PR_SET_PDEATHSIG, signal.SIGKILL, 0, 0, 0)
        libc.prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0)
        if libc.unshare(CLONE_NEWNET) != 0:  # not root: a user namespace of its own gives the right to do it
            libc.unshare(CLONE_NEWUSER | CLONE_NEWNET)


if __name__ == "__main__":
    close_the_doors()  # before a library that reads files is even loaded

import av  # noqa: E402
import av.logging  # noqa: E402
import numpy as np  # noqa: E402
import soxr  # noqa: E402

SAMPLE_RATE_HZ = 24_000
SLOWEST_HZ, FASTEST_HZ, MOST_CHANNELS = 4_000, 192_000, 8
BUSIEST = 2 * FASTEST_HZ  # samples of all channels a second, on average over the longest take allowed
KEPT_BYTES = 24 << 20  # made and dropped, it teaches glibc to keep the pages of later arrays
OGG_PAGE = 65_307  # bytes, the longest page
LOUDEST = 8.0  # full scales; float files may hold anything
FORMATS = "mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,mp3,ogg,flac,wav,aac,aiff,caf"
CODECS = (
    "aac,aac_latm,mp3,mp3float,opus,libopus,vorbis,flac,alac,amrnb,amrwb,adpcm_ms,adpcm_ima_wav,adpcm_ima_qt,"
    "pcm_alaw,pcm_mulaw,pcm_u8,pcm_s8,pcm_s16le,pcm_s16be,pcm_s24le,pcm_s24be,pcm_s32le,pcm_s32be,"
    "pcm_f32le,pcm_f32be,pcm_f64le,pcm_f64be"
)
OPTIONS = {
    "protocol_whitelist": "fd",  # the descriptor it was handed, and nothing else
    "format_whitelist": FORMATS,  # no playlist, manifest or list of other files is even recognised
    "codec_whitelist": CODECS,
    "probesize": "5000000",
    "analyzeduration": "5000000",
    "max_streams": "16",
}
HEADER_COUNTS = {"aiff", "caf", "flac", "mp3", "mov,mp4,m4a,3gp,3g2,mj2", "matroska,webm"}  # the head may say how long
FULL_SCALE = {"u1": 128.0, "i2": 32_768.0, "i4": 2_147_483_648.0}


class Refused(Exception):  # noqa: N818 - a word for what happens
    """The file is refused; the argument is the code."""


class Clipping:
    """Places where the sound sits at its ceiling, found while it streams by.

    A place is three neighbouring samples within 0.1 % of the highest peak of the take, that peak being at least 0.97
    of full scale. The peak is known only at the end, so places under the peak so far are kept and thinned as it rises.
    """

    LOW, NEAR, MOST = 0.97, 0.999, 10_000

    def __init__(self) -> None:
        self.peak = 0.0
        self.places: list[tuple[float, float]] = []  # seconds, height

    def look(self, channels: np.ndarray, start_s: float, rate_hz: int) -> None:
        """``channels``: (channels, samples) float32."""
        peak = peak_of(channels)
        if peak < self.LOW:
            return
        height = np.abs(channels).max(axis=0)
        self.peak = max(self.peak, peak)
        at_top = height >= self.NEAR * self.peak
        runs = at_top[:-2] & at_top[1:-1] & at_top[2:]
        firsts = np.flatnonzero(runs & ~np.concatenate(([False], runs[:-1])))
        self.places += [(start_s + first / rate_hz, float(height[first : first + 3].min())) for first in firsts]
        self.places = [place for place in self.places if place[1] >= self.NEAR * self.peak][: self.MOST]

    def at_s(self) -> list[float]:
        return [round(at_s, 4) for at_s, _ in self.places]


def decoded(container: av.container.InputContainer, said: dict[str, object]) -> Iterator[av.AudioFrame]:
    """Frame by frame, as far as the file is sound; ``said["truncated"]`` if it breaks off."""
    stream = container.streams.audio[0]
    stream.codec_context.thread_count = 1
    packets = container.demux(stream)
    while True:
        try:
            packet = next(packets, None)
            if packet is None:
                return
            yield from packet.decode()
        except av.error.InvalidDataError:  # a damaged packet: the next may be whole
            said["truncated"] = True
        except av.error.FFmpegError:
            said["truncated"] = True
            return


def channels_of(frame: av.AudioFrame | None) -> np.ndarray:
    """(channels, samples) float32 in full scales, finite and bounded."""
    assert frame is not None  # a queue is read only when it holds something
    samples = frame.to_ndarray()
    if not frame.format.is_planar:
        samples = samples.reshape(-1, frame.layout.nb_channels).T
    kind = samples.dtype.str[1:]
    if kind == "u1":
        samples = samples.astype(np.float32) - 128.0
    if kind in FULL_SCALE:
        return np.asarray(samples, dtype=np.float32) / np.float32(FULL_SCALE[kind])
    with np.errstate(over="ignore", invalid="ignore"):
        samples = samples.astype(np.float32)
        if peak_of(samples) <= LOUDEST:  # not so if one of them is no number
            return samples
        return np.clip(np.nan_to_num(samples, posinf=0.0, neginf=0.0), -LOUDEST, LOUDEST)


def peak_of(samples: np.ndarray) -> float:
    return float(np.maximum(samples.max(initial=0.0), -samples.min(initial=0.0)))


def stretches(frames: Iterator[av.AudioFrame]) -> Iterator[tuple[np.ndarray, int]]:
    """(channels, samples) of about two seconds, and their rate; a new one wherever the form of the sound changes."""
    held, form = av.AudioFifo(), ("", 0, 0)
    for frame in frames:
        new_form = (frame.format.name, frame.sample_rate, frame.layout.nb_channels)
        if new_form != form:
            if not (SLOWEST_HZ <= new_form[1] <= FASTEST_HZ and 1 <= new_form[2] <= MOST_CHANNELS):
                raise Refused("strange_sound_format")
            if held.samples:
                yield channels_of(held.read()), form[1]
            held, form = av.AudioFifo(), new_form
        frame.pts = None  # sound is counted, not believed
        held.write(frame)
        if held.samples >= 2 * form[1]:
            yield channels_of(held.read()), form[1]
    if held.samples:
        yield channels_of(held.read()), form[1]


def loudness(channels: np.ndarray) -> np.ndarray:
    """(channels,) mean square of the louder fortieths of a stretch, without what stands off zero."""
    thinned = np.ascontiguousarray(channels[:, ::23])  # tells enough
    pieces = thinned[:, : thinned.shape[1] // 40 * 40].reshape(len(channels), 40, -1)
    return np.sort(pieces.var(axis=2), axis=1)[:, -5] if len(channels) > 1 and pieces.size else np.zeros(len(channels))


def one_channel(parts: Iterator[tuple[np.ndarray, int]]) -> Iterator[tuple[np.ndarray, int, int]]:
    """Of every stretch the samples of the channel that hears most; their rate; how many channels there are.

    Added up, mirrored channels cancel each other everywhere, microphones that stand apart at some pitches. The loudest
    is kept to once a horn sounds, but for one 6 dB louder at its loudest so far, or 12 dB louder here and no noise.
    """
    most, kept = np.zeros(0), 0
    weighed = ((channels, rate_hz, loudness(channels)) for channels, rate_hz in parts)
    end = (np.zeros((0, 0), np.float32), 0, np.zeros(0))
    for (channels, rate_hz, here), (_, _, after) in pairwise(chain(weighed, [end])):
        if len(after) == len(here):  # a tone may begin at the end of this one
            here = np.maximum(here, after)
        margin = 1.0 if here.max() > 10.0 * most.max(initial=0.0) else 4.0  # the first sound, or tones after noise
        most, kept = (np.maximum(most, here), kept) if len(most) == len(here) else (here, 0)
        kept = kept if most.max() <= margin * most[kept] else int(most.argmax())
        elsewhere = here.max() > max(16.0 * here[kept], 1e-3 * most.max())
        yield channels[here.argmax() if elsewhere else kept], rate_hz, len(channels)


def resampled(
    container: av.container.InputContainer, longest_s: float, said: dict[str, object]
) -> Iterator[np.ndarray]:
    """24 kHz mono float32, in stretches of about two seconds."""
    clipping = Clipping()
    resampler, rate_hz, taken_s, scalars = None, 0, 0.0, 0
    for samples, new_rate_hz, channels in one_channel(stretches(decoded(container, said))):
        if resampler is None or new_rate_hz != rate_hz:
            if resampler is not None:
                yield resampler.resample_chunk(np.zeros(0, np.float32), last=True)
            rate_hz = new_rate_hz
            resampler = soxr.ResampleStream(rate_hz, SAMPLE_RATE_HZ, 1, dtype="float32", quality="HQ")
            said |= {"sample_rate_hz": rate_hz, "channels": channels}
        clipping.look(samples[None], taken_s, rate_hz)
        said["clipped_at_s"] = clipping.at_s()
        taken_s += len(samples) / rate_hz
        scalars += channels * len(samples)
        if taken_s > longest_s or scalars > BUSIEST * longest_s:
            raise Refused("too_long")
        yield resampler.resample_chunk(np.ascontiguousarray(samples))
    if resampler is not None:
        yield resampler.resample_chunk(np.zeros(0, np.float32), last=True)
    elif said["truncated"]:
        raise Refused("not_audio")  # a head, and nothing behind it that can be decoded


def open_sound(descriptor: int, said: dict[str, object]) -> av.container.InputContainer:
    """The container, its first sound track looked at. Raises ``Refused``."""
    options = OPTIONS | {"fd": str(descriptor)}
    try:
        container = av.open("fd:", options=options, metadata_errors="replace")
    except (av.error.FFmpegError, ValueError) as error:  # ValueError: a whitelist said no
        raise Refused("not_audio") from error
    if not container.streams.audio:
        raise Refused("no_sound_track")
    context = container.streams.audio[0].codec_context
    known = context is not None and context.name in CODECS.split(",")
    if not known or not 0 <= context.channels <= MOST_CHANNELS:
        raise Refused("strange_sound_format")
    said["codec"] = context.codec.canonical_name
    said |= {"sample_rate_hz": context.sample_rate or None, "channels": context.channels or None}
    if container.format.name in HEADER_COUNTS and (length := container.duration or 0) > 0:
        said["promised_s"] = length / av.time_base
    if ends_early(descriptor):
        said["truncated"] = True
    return container


def ends_early(descriptor: int) -> bool:
    """WAV and Ogg whose own counts run past the end of the file: their demuxers do not say so."""
    size = os.fstat(descriptor).st_size
    head = os.pread(descriptor, 12, 0)
    if head[:4] == b"RIFF" and head[8:] == b"WAVE":
        promised = struct.unpack("<I", head[4:8])[0] + 8
        return size < promised < 0xFFFF_FF00  # written while recording, the count is all ones
    if head[:4] != b"OggS":
        return False
    tail = os.pread(descriptor, 2 * OGG_PAGE, max(0, size - 2 * OGG_PAGE))
    page = tail[tail.rfind(b"OggS") :]
    table = page[27 : 27 + page[26]] if len(page) > 26 else b""
    return len(page) <= 26 or len(page) < 27 + page[26] + sum(table)


def send(kind: bytes, content: bytes | memoryview) -> None:
    sys.stdout.buffer.write(kind + struct.pack("<I", len(content)))
    sys.stdout.buffer.write(content)
    sys.stdout.buffer.flush()


def decode(descriptor: int, longest_s: float) -> None:
    """Everything that is to be said of one open file, as messages."""
    said: dict[str, object] = {"samples": 0, "truncated": False, "clipped_at_s": []}
    sent = 0
    try:
        for samples in resampled(open_sound(descriptor, said), longest_s, said):
            if len(samples):
                send(b"b", samples.data.cast("B"))
                sent += len(samples)
    except Refused as refusal:
        send(b"f", str(refusal).encode())
    except MemoryError:
        send(b"f", b"cannot_be_read_safely")
    send(b"i", json.dumps(said | {"samples": sent}).encode())


def main() -> None:
    av.logging.set_level(None)
    np.empty(KEPT_BYTES, np.uint8)
    send(b"r", b"")
    with socket.socket(fileno=os.dup(0)) as parent:
        message, descriptors, _, _ = socket.recv_fds(parent, 64, 1)
    if descriptors:  # none: the parent went away without a file
        decode(descriptors[0], float(message))


if __name__ == "__main__":
    main()
