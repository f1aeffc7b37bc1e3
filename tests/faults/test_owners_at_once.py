"""Two owners of a studio each make the other a teacher at the same moment: one of them stays an owner."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress

import pytest
from django.db import connections
from django.test import Client
from django.urls import reverse

from studio import access_log
from studio.models import Membership
from tests import people

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.both_databases]

Role = Membership.Role
MEETS_WITHIN_S = 2


def demote(by: Membership, whom: Membership) -> int:
    desk = Client(raise_request_exception=False)
    desk.force_login(by.user)
    try:
        sent = {"what": "place", "role": Role.TEACHER, "ends_on": ""}
        return desk.post(reverse("colleague", args=[whom.pk]), sent).status_code
    finally:
        connections.close_all()


def test_of_two_owners_who_demote_each_other_one_is_refused_and_stays(empty_queue, monkeypatch) -> None:
    """Both have been looked at as owners when the first writes, or the second waits for the first."""
    where = people.studio()
    owners = [people.person(name, where, Role.OWNER) for name in ("Orla Keel", "Second Keel")]
    both, write = threading.Barrier(2), access_log.write

    def after_the_other(what: str, **named: object) -> object:
        if what == access_log.What.ROLE:
            with suppress(threading.BrokenBarrierError):
                both.wait(MEETS_WITHIN_S)
        return write(what, **named)

    monkeypatch.setattr(access_log, "write", after_the_other)
    with ThreadPoolExecutor(2) as pool:
        answers = list(pool.map(demote, owners, reversed(owners)))
    assert sorted(answers) in ([302, 400], [302, 404])  # refused in words, or the second is no owner any more
    assert Membership.objects.filter(studio=where, role=Role.OWNER, ends_on=None).count() == 1
