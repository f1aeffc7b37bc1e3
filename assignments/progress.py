"""Where a recording is on its way, in one word and one sentence."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from analysis.models import Analysis
from assignments.models import Take

State = Analysis.State


@dataclass(frozen=True, slots=True)
class Progress:
    state: str  # received, waiting, measuring, done, refused, failed
    words: str

    @property
    def is_over(self) -> bool:
        return self.state in ("done", "refused", "failed")


def progress(take: Take) -> Progress:
    """Where ``take`` is now. Needs its analysis and no further query."""
    return of_recording(take.analysis, settled=take.settled_at is not None)


def of_recording(analysis: Analysis, *, settled: bool) -> Progress:
    """Where any recording is now. ``settled``: what was heard has been written down."""
    if analysis.state == State.QUEUED:
        if analysis.sent_at is None:
            return Progress("received", _("It’s here and safe. I’ll listen as soon as I can."))
        return Progress("waiting", _("It’s here and safe, and waiting its turn."))
    if analysis.state == State.RUNNING or not settled:
        return Progress("measuring", _("I’m listening to it now."))
    if analysis.state == State.MEASURED:
        return Progress("done", _("I’ve heard it."))
    words = _(analysis.fault_text) if analysis.fault_text else ""
    if analysis.fault_code == "too_long" and analysis.longest_s is not None:
        words = _("It is longer than a minute. Record a shorter one.")
    return Progress("refused" if analysis.state == State.REFUSED else "failed", words)
