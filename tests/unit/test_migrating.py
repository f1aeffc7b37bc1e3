"""What a migration does to the rows that are there, and to those who write meanwhile."""

from __future__ import annotations

import datetime as dt
from importlib import import_module
from io import StringIO

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import connection

from assignments.models import Reminder
from tests import people

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]


def test_reminders_that_were_sent_before_addresses_were_asked_for_go_on(studio):
    sent_at = dt.datetime(2026, 3, 16, 17, 30, tzinfo=dt.UTC)
    one = {"at": dt.time(17, 30), "time_zone": "Europe/Lisbon", "email": "home@example.org", "language": "en"}
    sent = Reminder.objects.create(player=people.horn(studio).player, last_sent_at=sent_at, **one)
    never = Reminder.objects.create(player=people.horn(studio, "Ottilie Fenn").player, **one)
    import_module("assignments.migrations.0020_reminders_known_to_arrive").confirm(apps, None)
    for reminder in (sent, never):
        reminder.refresh_from_db()
    assert (sent.confirmed_at, never.confirmed_at) == (sent_at, None)


@pytest.mark.django_db(transaction=True)  # its own transaction: an index beside writes takes none
def test_takes_are_received_while_their_table_gets_an_index():
    said = StringIO()
    call_command("sqlmigrate", "assignments", "0018", stdout=said)
    made = [line for line in said.getvalue().splitlines() if line.startswith("CREATE INDEX")]
    assert len(made) == 2
    if connection.vendor == "postgresql":
        assert all(line.startswith("CREATE INDEX CONCURRENTLY") for line in made)
