"""What every page of a teacher has: the studio's name, who is looking, and what that person may do."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render

from studio.access import DECIDERS, STAFF, memberships, staff_membership
from studio.enrolment import SignIn
from studio.models import Membership, Studio
from studio.signed_in import SignedInRequest

PAGES = "assignments/teacher/"


def desk(
    request: SignedInRequest,
    template: str,
    here: str,
    context: dict[str, Any],
    status: int = 200,
    staff: Membership | None = None,
    studio: Studio | None = None,
) -> HttpResponse:
    """Render a teacher's page. Raises Http404 for anybody who doesn't work in a studio; the rest as ``around``."""
    return render(request, PAGES + template, {**around(request, here, staff, studio), **context}, status=status)


def around(
    request: SignedInRequest, here: str, staff: Membership | None = None, studio: Studio | None = None
) -> dict[str, Any]:
    """What stands around every page of a teacher.

    ``staff``: the reader's membership, where the view has looked it up already; ``studio``: that of whoever the page is
    about, which for somebody who works in several may be another than the one that their pages are turned to.
    """
    turned_to = staff or staff_membership(request.user)
    is_away = studio is not None and studio.pk != turned_to.studio_id
    staff = get_object_or_404(memberships(request.user, STAFF), studio=studio) if is_away else turned_to
    return {
        "here": here,
        "studio_name": staff.studio.name,
        "zone": staff.studio.time_zone,
        "who": staff.user.name,
        "may_decide": decides(staff),
        "away": staff if is_away else None,
        "turned_to": turned_to,
    }


def slip_page(request: SignedInRequest, member: Membership, slip: SignIn) -> HttpResponse:
    """A name and a passphrase to print: shown this once."""
    address = request.build_absolute_uri("/")
    return desk(request, "slip.html", "people", {"member": member, "slip": slip, "address": address})


def decides(staff: Membership) -> bool:
    """Assistants see and hear; owners and teachers decide too."""
    return staff.role in DECIDERS


def by_script(request: SignedInRequest) -> bool:
    """Whether a page's own script asks, which wants an answer and no page."""
    return request.headers.get("X-Requested-With") == "fetch"


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
