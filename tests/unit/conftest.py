"""Where many tests begin: a studio, its teacher, and a store of one's own."""

from __future__ import annotations

import logging
from pathlib import Path
from typing import Any

import pytest
from django.test import Client

from studio.config.logs import JsonLine
from studio.models import Studio, User
from tests import people


@pytest.fixture
def studio(db: None) -> Studio:
    return people.studio()


@pytest.fixture
def teacher(studio: Studio) -> User:
    return people.teacher(studio).user


@pytest.fixture
def signed_in(teacher: User, client: Client) -> None:
    """The test's browser is the teacher's."""
    client.force_login(teacher)


@pytest.fixture
def names_a_mail_server(settings: Any) -> None:
    """One is named; Django's tests catch what is sent there."""
    settings.MAIL = "smtp://mail.example.org"


@pytest.fixture
def own_store(settings: Any, tmp_path: Path) -> None:
    """Nothing of other tests lies where these look."""
    settings.VAR, settings.MEDIA_ROOT = tmp_path, tmp_path / "takes"
    settings.MEDIA_ROOT.mkdir()


@pytest.fixture
def lines(caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Every line of the log as it is written out."""
    caplog.set_level(logging.INFO)
    written: list[str] = []
    monkeypatch.setattr(caplog.handler, "emit", lambda record: written.append(JsonLine().format(record)))
    return written
