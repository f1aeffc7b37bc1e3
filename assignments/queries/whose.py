"""Whose page it is: what pages about one horn call its player."""

from __future__ import annotations

from studio.models import Horn


class OfOneHorn:
    """A record with a ``horn``."""

    __slots__ = ()
    horn: Horn

    @property
    def name(self) -> str:
        return str(self.horn.player.user)

    @property
    def first_name(self) -> str:
        return self.horn.player.user.get_short_name()
