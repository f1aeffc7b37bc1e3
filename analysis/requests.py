"""Freezing a Request into JSON when a recording arrives, and thawing it in the worker."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from analysis.core.records import Asked, Request


def frozen(request: Request) -> dict[str, Any]:
    """``request`` as plain JSON values, as an Analysis keeps it."""
    return asdict(request)


def thawed(stored: dict[str, Any]) -> Request:
    """The Request that ``frozen`` made."""
    return Request(**{**stored, "asked": tuple(Asked(**row) for row in stored["asked"])})
