"""A program of the site's own that looks through each recording before it is kept: off unless one is named.

Off by default because a recording is never run nor opened by anything but the bounded decoder, and is served as sound
in a sandbox; a school whose rules ask for a scanner names one that reads standard input, as ``clamdscan -`` does.
"""

from __future__ import annotations

import logging
import subprocess
from collections.abc import Sequence
from tempfile import TemporaryFile

from django.conf import settings
from django.core.files.base import File
from django.utils.translation import gettext as _

from assignments.refusals import Refusal

log = logging.getLogger(__name__)

PATIENCE_S = 30
AGAIN_AFTER_S = 60  # a scanner that reads its signatures anew, or is started again
CLEAN, UNCLEAN = 0, 1  # exit statuses; any other: it couldn't look


def look_through(audio: File) -> None:
    """Hand ``audio`` to the scanner, if there is one. It stands at its beginning again.

    Raises Refusal for what the scanner finds fault with, and with 503, so that it is sent again, where it can't look.
    """
    if not settings.SCANNER:
        return
    ended: int | str
    try:
        ended = _status(settings.SCANNER, audio)
    except (OSError, subprocess.TimeoutExpired) as trouble:
        ended = type(trouble).__name__
    audio.seek(0)
    if ended == UNCLEAN:
        raise Refusal("not_clean", _("The studio’s scanner found something in that file. Record it anew."))
    if ended != CLEAN:
        log.error("the scanner couldn't look: %s", ended)
        raise Refusal(
            "not_scanned",
            _("That file can’t be looked through just now. It stays with you and goes up later."),
            503,
            again_in_s=AGAIN_AFTER_S,
        )


def _status(command: Sequence[str], audio: File) -> int:
    """How it ended. It reads a file, so that one which reads nothing holds up nobody."""
    with TemporaryFile(prefix="footing-scan-") as whole:
        for chunk in audio.chunks():
            whole.write(chunk)
        whole.seek(0)
        nowhere = subprocess.DEVNULL
        return subprocess.run(command, stdin=whole, stdout=nowhere, stderr=nowhere, timeout=PATIENCE_S).returncode
