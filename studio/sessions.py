"""Sign-ins that last: kept with whose they are and on what, so that they can be shown, renewed and ended."""

from __future__ import annotations

import datetime as dt
import hashlib
import re
import time
from collections.abc import Mapping
from typing import Any

from django.contrib.auth import SESSION_KEY, login
from django.contrib.sessions.backends import db
from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext as _

from studio import access_log
from studio.models import Session, User

SHARED_S = 12 * 3600  # a PIN's sign-in on a shared device, without playing
LONGEST_S = 180 * 24 * 3600  # then everybody signs in anew
BEGUN, SEEN, DEVICE = "begun_s", "seen_s", "device"  # keys of the session; times in whole seconds since 1970
SHARED = "shared"  # another: whether it is one device's of several, so that pages offer the next one's turn
BACKEND = "django.contrib.auth.backends.ModelBackend"
# The first that is found names it: most browsers pretend to be several.
BROWSERS = {"Firefox": "Firefox", "FxiOS": "Firefox", "Edg": "Edge", "OPR": "Opera", "SamsungBrowser": "Samsung",
            "CriOS": "Chrome", "Chrome": "Chrome", "Safari": "Safari"}  # fmt: skip
SYSTEMS = {"iPhone": "iPhone", "iPad": "iPad", "Android": "Android", "CrOS": "Chromebook", "Windows": "Windows",
           "Mac OS X": "Mac", "Linux": "Linux"}  # fmt: skip


class SessionStore(db.SessionStore):
    """Django's own, in rows that also say whose it is and on which device."""

    @classmethod
    def get_model_class(cls) -> type[Session]:  # type: ignore[override]  # a session of our own
        return Session

    def create_model_instance(self, data: dict[str, Any]) -> Session:
        if SESSION_KEY in data:
            data.setdefault(BEGUN, int(time.time()))
            data.setdefault(SEEN, data[BEGUN])
        row: Session = super().create_model_instance(data)  # type: ignore[assignment]  # made by get_model_class
        row.user_id = data.get(SESSION_KEY)
        row.device = data.get(DEVICE, "")
        row.begun_at = _instant(data.get(BEGUN))
        row.seen_at = _instant(data.get(SEEN))
        return row


def begin(request: HttpRequest, user: User, *, shared: str = "") -> None:
    """Sign somebody in, and write it down. ``shared``: with a PIN, on the shared device of this name."""
    login(request, user, backend=BACKEND)
    request.session[BEGUN] = request.session[SEEN] = int(time.time())
    request.session[DEVICE] = shared or device_words(request.headers.get("User-Agent", ""))
    if shared:
        request.session[SHARED] = True
        request.session.set_expiry(SHARED_S)
    access_log.of_account(access_log.What.SIGNED_IN, user, by=user)


def is_too_old(session: Mapping[str, Any]) -> bool:
    return time.time() - session.get(BEGUN, time.time()) > LONGEST_S


def begun_by(session: Mapping[str, Any]) -> dt.datetime:
    """The end of the whole second in which the sign-in began."""
    return _instant(session.get(BEGUN)) + dt.timedelta(seconds=1)


def end_all(user: User, *, but: str | None = None) -> int:
    """Sign ``user`` out everywhere, ``but`` in one session. Returns how many sign-ins ended."""
    return Session.objects.filter(user=user).exclude(session_key=but or "").delete()[0]


def end_others(user: User, *, here: str | None, place: str | None = None) -> int:
    """Sign ``user`` out everywhere but in session ``here``; ``place``: of the others, that one alone."""
    others = Session.objects.filter(user=user).exclude(session_key=here or "")
    keys = [key for key in others.values_list("pk", flat=True) if place in (None, place_of(key))]
    if keys:
        access_log.of_account(access_log.What.SIGNED_OUT_ELSEWHERE, user, by=user)
    return Session.objects.filter(pk__in=keys).delete()[0]


def place_of(key: str | None) -> str:
    """What a page calls a sign-in: its key itself would open it."""
    return hashlib.sha256((key or "").encode()).hexdigest()[:32]


def device_words(agent: str) -> str:
    """``Firefox on Android``, as near as a browser's own description tells."""
    browser = next((name for mark, name in BROWSERS.items() if re.search(rf"{mark}/", agent)), "")
    system = next((name for mark, name in SYSTEMS.items() if mark in agent), "")
    if browser and system:
        return _("%(browser)s on %(system)s") % {"browser": browser, "system": system}
    return browser or system or _("a device that says nothing of itself")


def _instant(seconds: int | None) -> dt.datetime:
    return dt.datetime.fromtimestamp(seconds, dt.UTC) if seconds else timezone.now()
