"""Writing down what was done with people's data. Listening and decisions about gates have rows of their own (work)."""

from __future__ import annotations

from contextvars import ContextVar

from studio.models import LogRow, Membership, Studio, User

What = LogRow.What
came_from: ContextVar[str | None] = ContextVar("came_from", default=None)  # address of the request in hand


def write(what: str, *, studio: Studio, who: User | None, about: Membership | None = None) -> LogRow:
    """One line of a studio's log: who did it, and about whose data it was."""
    return LogRow.objects.create(
        studio=studio,
        who_id=who.pk if who else None,
        about_id=about.pk if about else None,
        what=what,
        address=came_from.get(),
    )


def of_account(what: str, user: User, *, by: User | None) -> None:
    """Somebody came in, or how they come in was changed: written down in every studio where they are known."""
    for row in user.memberships.select_related("studio"):
        write(what, studio=row.studio, who=by, about=row)
