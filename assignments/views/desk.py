"""What every page of a teacher has: the studio's name, who is looking, and what that person may do."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import render

from studio.access import DECIDERS, staff_membership
from studio.models import Membership
from studio.signed_in import SignedInRequest

PAGES = "assignments/teacher/"


def desk(
    request: SignedInRequest,
    template: str,
    here: str,
    context: dict[str, Any],
    status: int = 200,
    staff: Membership | None = None,
) -> HttpResponse:
    """Render a teacher's page. Raises Http404 for anybody who doesn't work in a studio.

    ``staff``: the reader's membership, where the view has looked it up already.
    """
    staff = staff or staff_membership(request.user)
    shared = {"here": here, "studio_name": staff.studio.name, "who": staff.user.name, "may_decide": decides(staff)}
    return render(request, PAGES + template, {**shared, **context}, status=status)


def decides(staff: Membership) -> bool:
    """Assistants see and hear; owners and teachers decide too."""
    return staff.role in DECIDERS


def day_in(text: str) -> dt.date | None:
    """The day that a form sent; None for what is none."""
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        return None


def key_in(text: str) -> uuid.UUID:
    """The key that a form sent. Raises Http404 for anything else: it names nothing."""
    try:
        return uuid.UUID(text)
    except ValueError as error:
        raise Http404 from error
