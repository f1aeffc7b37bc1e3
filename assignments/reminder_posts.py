"""Telling devices that it is time, through the services of their browsers' makers. Loaded where there is one to tell.

What a service reads of it: that this site sent this browser something, and when. The words are sealed, and name nobody.
"""

from __future__ import annotations

import datetime as dt
import json
import logging
import time
from urllib.parse import urlsplit

from django.conf import settings
from django.templatetags.static import static
from django.urls import reverse
from django.utils import translation
from django.utils.translation import gettext as _

from assignments.models import ReminderDevice
from assignments.push import base64url, posting, sealing, vouching

log = logging.getLogger(__name__)

LONGEST_ROUND_S = 60.0  # then the sweeper goes back to its takes; who is left has their turn a minute later
AGAIN_AFTER_S, AGAIN_AT_THE_LATEST_S = 600, 24 * 3600  # a service that was busy or away
GONE = (404, 410)  # RFC 8030, 7.3: the browser takes no more messages there
TOPIC = "reminder"  # RFC 8030, 5.4: of notes that a browser has not fetched yet the last one stays


def site_key() -> str:
    """What a browser is given when it is asked for notes."""
    return vouching.public_text(vouching.key_of_site(settings.SECRET_KEY))


class Round:
    """One round of telling. A service that kept it waiting once is left alone until the next round."""

    def __init__(self, now: dt.datetime) -> None:
        self._now = now
        self._until = time.monotonic() + LONGEST_ROUND_S
        self._key = vouching.key_of_site(settings.SECRET_KEY)
        self._left_alone: set[str | None] = set()

    def tell(self, devices: list[ReminderDevice], *, on: dt.date, good_for_s: int) -> int:
        """Returns how many services took the note. ``good_for_s``: a browser that is off until then never gets it."""
        return sum(self._tell(device, on, good_for_s) for device in devices)

    def _tell(self, device: ReminderDevice, on: dt.date, good_for_s: int) -> bool:
        """Written down before it is sent; undone only where the service surely hasn't taken it."""
        host = urlsplit(device.endpoint).hostname
        if host in self._left_alone or time.monotonic() > self._until:
            return False
        if device.site_key != vouching.public_text(self._key):  # the site's secret key is another one since
            device.delete()
            return False
        unsent = ReminderDevice.objects.filter(pk=device.pk, last_sent_on=device.last_sent_on)
        if not unsent.update(last_sent_on=on):
            return False  # another machine was first
        try:
            answer = self._post(device, good_for_s)
        except posting.NoAnswerError as trouble:  # it may have come: none is better than two
            self._leave_alone(host, str(trouble))
            return False
        except posting.NotReachedError as trouble:
            self._leave_alone(host, str(trouble))
            self._again(device, on, 0)
            return False
        return self._took(device, on, answer)

    def _took(self, device: ReminderDevice, on: dt.date, answer: posting.Answer) -> bool:
        if 200 <= answer.status < 300:
            return True
        if answer.status in GONE:
            device.delete()
            return False
        log.warning("A push service took no note: it answered %d", answer.status)
        self._again(device, on, answer.retry_after_s)
        return False

    def _again(self, device: ReminderDevice, on: dt.date, wait_s: int) -> None:
        wait = dt.timedelta(seconds=min(max(wait_s, AGAIN_AFTER_S), AGAIN_AT_THE_LATEST_S))
        marked = ReminderDevice.objects.filter(pk=device.pk, last_sent_on=on)
        marked.update(last_sent_on=device.last_sent_on, not_before_at=self._now + wait)

    def _leave_alone(self, host: str | None, trouble: str) -> None:
        log.warning("A push service couldn't be told: %s", trouble)  # its name would say whose browser it is
        self._left_alone.add(host)

    def _post(self, device: ReminderDevice, good_for_s: int) -> posting.Answer:
        headers = {
            "Authorization": vouching.authorization(
                device.endpoint, self._key, contact=settings.ADDRESS, now_s=self._now.timestamp()
            ),
            "Content-Encoding": "aes128gcm",
            "Content-Type": "application/octet-stream",
            "TTL": str(good_for_s),
            "Topic": TOPIC,
            "Urgency": "normal",
        }
        public, auth = base64url.decode(device.public_key), base64url.decode(device.auth)
        return posting.post(device.endpoint, sealing.sealed(words(device), public=public, auth=auth), headers)


def words(device: ReminderDevice) -> bytes:
    """The whole note. A phone lies about, and is lent: it says nothing of anybody."""
    is_own = device.session.user_id == device.reminder.player.user_id
    with translation.override(device.language):
        note = {
            "title": "Footing",
            "body": _("Time for a few tones."),
            "lang": device.language,
            "icon": static("studio/icons/footing-192.png"),
            "open": reverse("today" if is_own else "home"),
        }
    return json.dumps(note).encode()
