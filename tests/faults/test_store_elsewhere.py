"""The same store over a real S3 connection: what was stored is read back, in stretches too, and is nobody else's."""

from __future__ import annotations

import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import suppress
from typing import Any

import boto3
import pytest
from django.conf import settings as footing
from django.core.files.base import ContentFile
from storages.backends.s3 import S3Storage

from tests.faults.serving import free_port, wait_until


def listens(url: str) -> bool:
    with suppress(urllib.error.URLError, OSError), urllib.request.urlopen(url, timeout=2):
        return True
    return False


@pytest.fixture(scope="module")
def endpoint() -> Iterator[str]:
    """An S3 server on the loopback address."""
    port = free_port()
    command = [sys.executable, "-m", "moto.server", "-H", "127.0.0.1", "-p", str(port)]
    server = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    url = f"http://127.0.0.1:{port}"
    assert wait_until(lambda: listens(url), 120)
    yield url
    server.terminate()
    server.wait(10)


@pytest.fixture
def storage(endpoint: str, monkeypatch: pytest.MonkeyPatch) -> S3Storage:
    monkeypatch.setenv("AWS_ACCESS_KEY_ID", "of the tests")
    monkeypatch.setenv("AWS_SECRET_ACCESS_KEY", "of the tests")
    place: dict[str, Any] = {"bucket_name": "takes", "endpoint_url": endpoint, "region_name": "us-east-1"}
    boto3.client("s3", endpoint_url=endpoint, region_name="us-east-1").create_bucket(Bucket="takes")
    return S3Storage(**{**footing.S3_OPTIONS, **place})


def test_what_is_read_is_what_was_stored_in_stretches_too(storage: S3Storage) -> None:
    name = storage.save("a/take", ContentFile(bytes(range(256)) * 10_000))
    with storage.open(name) as file:
        assert file.size == 2_560_000
        file.seek(1_000_003)
        assert file.read(4) == bytes((1_000_003 + n) % 256 for n in range(4))


def test_a_recording_is_never_replaced_by_another_of_its_name(storage: S3Storage) -> None:
    first = storage.save("take", ContentFile(b"first"))
    second = storage.save("take", ContentFile(b"second"))
    assert first != second
    with storage.open(first) as file:
        assert file.read() == b"first"


def test_a_deleted_recording_is_gone(storage: S3Storage) -> None:
    name = storage.save("take", ContentFile(b"sound"))
    storage.delete(name)
    assert not storage.exists(name)
