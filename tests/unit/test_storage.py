"""A recording that was stored is on the disk, whole, under a name of its own; or it is not there at all."""

from __future__ import annotations

import os
import resource
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.core.files.base import ContentFile

from analysis.storage import DurableStorage


@pytest.fixture
def storage(tmp_path: Path) -> DurableStorage:
    return DurableStorage(location=tmp_path / "takes")


def everything_in(storage: DurableStorage) -> list[Path]:
    return [path for path in Path(storage.location).rglob("*") if path.is_file()]


def test_what_is_read_is_what_was_stored(storage: DurableStorage) -> None:
    name = storage.save("a/take", ContentFile(b"sound" * 100_000))
    with storage.open(name) as file:
        assert file.read() == b"sound" * 100_000
    assert len(everything_in(storage)) == 1


def test_a_recording_is_its_owners_alone(storage: DurableStorage) -> None:
    path = Path(storage.path(storage.save("a/take", ContentFile(b"sound"))))
    assert path.stat().st_mode & 0o777 == 0o600
    assert path.parent.stat().st_mode & 0o777 == 0o700


def test_the_file_is_on_the_disk_before_it_has_its_name_and_the_name_before_it_is_confirmed(
    storage: DurableStorage, monkeypatch: pytest.MonkeyPatch
) -> None:
    steps = []
    flush, link = os.fsync, os.link

    def flushed(descriptor: int) -> None:
        steps.append("flush " + ("folder" if os.path.isdir(f"/proc/self/fd/{descriptor}") else "file"))
        flush(descriptor)

    def linked(draft: str, name: str) -> None:
        steps.append("name")
        link(draft, name)

    monkeypatch.setattr(os, "fsync", flushed)
    monkeypatch.setattr(os, "link", linked)
    storage.save("take", ContentFile(b"sound"))
    assert steps == ["flush file", "name", "flush folder"]


@pytest.fixture
def disk_for_a_megabyte() -> Iterator[None]:
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1_000_000, hard))
    yield
    resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@pytest.mark.usefixtures("disk_for_a_megabyte")
def test_a_recording_that_finds_no_room_leaves_nothing_behind(storage: DurableStorage) -> None:
    with pytest.raises(OSError, match="File too large"):
        storage.save("take", ContentFile(b"sound" * 1_000_000))
    assert everything_in(storage) == []
    storage.save("take", ContentFile(b"short"))
    assert len(everything_in(storage)) == 1


def test_two_recordings_of_one_name_at_once_are_both_kept(storage: DurableStorage) -> None:
    start = threading.Barrier(8)
    names = []

    def store(number: int) -> None:
        start.wait()
        names.append(storage.save("take", ContentFile(b"%d" % number)))

    threads = [threading.Thread(target=store, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(set(names)) == 8
    assert {Path(storage.path(name)).read_bytes() for name in names} == {b"%d" % number for number in range(8)}


def test_a_name_cannot_leave_the_store(storage: DurableStorage) -> None:
    with pytest.raises(Exception, match="Detected path traversal"):
        storage.save("../take", ContentFile(b"sound"))


def test_a_recording_has_no_address(storage: DurableStorage) -> None:
    with pytest.raises(NotImplementedError):
        storage.url("take")
