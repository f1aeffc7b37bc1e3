"""What a student’s pages stand on: the horn in hand, chosen in Mine, else the one in use longest."""

from __future__ import annotations

from django.http import Http404

from assignments import access
from studio.models import Horn
from studio.signed_in import SignedInRequest

IN_HAND = "horn"  # key of the session
PAGES = "assignments/student/"


def base_for(*, is_own: bool, at_desk: bool) -> str:
    """What a page stands on: the student’s ground, for the staff their own, for the family a page without either."""
    return PAGES + ("page.html" if is_own else "desk_page.html" if at_desk else "plain_page.html")


def own_horn(request: SignedInRequest) -> Horn:
    """The student's horn in hand. Raises Http404 for anybody without one."""
    chosen = request.session.get(IN_HAND)
    if chosen:
        try:
            return access.horn_of_player(request.user, chosen)
        except Http404:
            pass  # put away since it was chosen: the longest in use takes its place
    return access.horn_of_player(request.user)
