"""The two letters of a reminder: the one that asks whether an address is right, and the note itself."""

from __future__ import annotations

import hashlib

from django.conf import settings
from django.core import signing
from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import translation
from django.utils.translation import gettext as _

from assignments.exercises import slots_of_budget
from assignments.models import Reminder, Week

LETTER = "assignments.reminders.stop"  # what the links in a letter are signed for


def key(reminder: Reminder) -> str:
    """What the links in a letter confirm and end it with: whoever reads that address needn't sign in."""
    return signing.dumps([str(reminder.pk), _hash(reminder.email)], salt=LETTER)


def of_key(text: str) -> Reminder | None:
    """Whose letter it came in; None: that one has ended, or goes to another address. Raises BadSignature."""
    pk, address = signing.loads(text, salt=LETTER)
    reminder = Reminder.objects.filter(pk=pk).select_related("player").first()
    return reminder if reminder and _hash(reminder.email) == address else None


def _hash(email: str) -> str:
    """The address itself would stand in the logs of every proxy."""
    return hashlib.sha256(email.encode()).hexdigest()[:16]


def question(reminder: Reminder, line: BaseEmailBackend | None) -> EmailMessage:
    """No word of whom it is about: it may reach a stranger."""
    with translation.override(reminder.language):
        words = {"yes": _address("reminder_confirm", key(reminder))}
        body = render_to_string("assignments/mail/is_it_you.txt", words)
        return EmailMessage(_("Is this address right?"), body, to=[reminder.email], connection=line)


def note(reminder: Reminder, week: Week, line: BaseEmailBackend | None) -> EmailMessage:
    player = reminder.player
    stop_at = _address("reminder_stop", key(reminder))
    # RFC 8058: the reader's own mail program offers to end it.
    headers = {"List-Unsubscribe": f"<{stop_at}>", "List-Unsubscribe-Post": "List-Unsubscribe=One-Click"}
    with translation.override(reminder.language):
        words = {
            "name": player.user.get_short_name(),
            "minutes": week.budget_minutes,
            "tones": slots_of_budget(week.budget_minutes),
            "today": _address("today"),
            "choose": _address("home_reminder", player.pk),
            "stop": stop_at,
        }
        body = render_to_string("assignments/mail/reminder.txt", words)
        return EmailMessage(_("Five minutes now?"), body, to=[reminder.email], connection=line, headers=headers)


def _address(name: str, *args: object) -> str:
    return settings.ADDRESS + reverse(name, args=args)
