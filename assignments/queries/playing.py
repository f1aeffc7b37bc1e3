"""What the playing page needs: every tone as it is shown, and the same as plain values for its script."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _

from analysis.core.tables import instrument
from assignments import naming, plans
from assignments.exercises import LEVELS, SEMITONES_OF_PARTIAL, USUAL_BEATS, Kind, Slot, kinds
from assignments.models import DayPlan, Exercise
from assignments.queries.day import takes_of, to_go, tones_of
from studio.models import Horn

REST_AFTER = 20  # tones of the usual length; lips need the minute that follows
SHOWN = 6
ASKED_AGAIN_DAYS = 30  # a check older than this is no "same place as last time"


@dataclass(frozen=True, slots=True)
class Panel:
    """One tone as the player sees it. ``written_midi`` is the fingering, ``shown_midi`` the note that is to sound."""

    place: int
    slot: int
    written_midi: int
    tone: str
    partial: int | None
    beats: int
    sounding_midi: int

    @property
    def shown_midi(self) -> int:
        return self.written_midi + SEMITONES_OF_PARTIAL.get(self.partial or 1, 0)

    @property
    def is_plain(self) -> bool:
        """One level from beginning to end, no shape."""
        return self.tone in LEVELS

    @property
    def how(self) -> str:
        """How it is played, after its level or shape: “very soft, and level”."""
        shapes = {
            "stepped": _("eight even steps, soft to loud"),
            "swell": _("soft to loud and back, evenly"),
            "reverse_swell": _("loud to soft and back, evenly"),
        }
        return shapes.get(self.tone) or _("%(tone)s, and level") % {"tone": naming.tone_said(self.tone)}

    @property
    def title(self) -> str:
        """For lists of what waits: “C♯5 pp”."""
        word = self.tone if self.is_plain else naming.tone_said(self.tone)
        return f"{naming.note_plain(self.shown_midi)} {word}"

    def plain(self) -> dict[str, Any]:
        """For the scripts."""
        return {"slot": self.slot, "title": self.title, "beats": self.beats, "sounding_midi": self.sounding_midi}

    @property
    def said(self) -> str:
        return f"{naming.note_said(self.shown_midi)}, {naming.tone_said(self.tone)}"


@dataclass(frozen=True, slots=True)
class PlayingPage:
    horn: Horn
    exercise: Exercise
    kind: Kind
    plan: DayPlan | None
    panels: tuple[Panel, ...]
    done: tuple[int, ...]  # slots that need no playing now
    again: bool  # these tones were chosen, whether or not they were played before
    last_check: dict[str, Any] | None  # the phone's place of an earlier day …
    last_check_on: dt.date | None  # … and which

    @property
    def whole(self) -> bool:
        """One recording from beginning to end, not one a tone."""
        return self.exercise.kind != "daily_tones"

    @property
    def title(self) -> str:
        return _(self.kind.title)

    @property
    def summary(self) -> str:
        return _(self.kind.summary)

    @property
    def files_url(self) -> str:
        """Where a recording made elsewhere is sent. The day's own page opens without network."""
        return reverse("day_files") if not self.whole else reverse("take_file", args=[self.exercise.pk])

    @property
    def shown(self) -> tuple[Panel, ...]:
        """As many as a page can show before they are played; a run says the rest in a line."""
        return self.panels[:SHOWN] if self.kind.key == "evenness_run" else self.panels

    @property
    def to_go(self) -> str:
        return to_go(len(self.panels) - len(self.done))

    @property
    def highest(self) -> int:
        """The highest note that is to sound, written."""
        return max(one.shown_midi for one in self.panels)

    @property
    def pairs(self) -> list[tuple[Panel, Panel | None]]:
        """Each tone with the one after it."""
        return list(zip(self.panels, [*self.panels[1:], None], strict=True))

    def work(self, begin_with: str, spot: str = "") -> dict[str, Any]:
        """For the script: see static/assignments/play.js. ``spot``: "moved" when the phone lies elsewhere now."""
        after = reverse("after") if not self.whole else reverse("exercise", args=[self.exercise.pk])
        return {
            "profile": str(self.horn.player.user_id),
            "exercise": str(self.exercise.pk),
            "plan": str(self.plan.pk) if self.plan else None,
            "title": self.title,
            "whole": self.whole,
            "again": self.again,
            "tones": [one.plain() for one in self.panels],
            "done": list(self.done),
            "beat_s": self.exercise.week.beat_s,
            "a4_hz": self.exercise.a4_hz,
            "rest_after": REST_AFTER * USUAL_BEATS // self.kind.beats,
            "check": self.plan.sound_check if self.plan else None,
            "last_check": self.last_check,
            "last_check_on": self.last_check_on and self.last_check_on.isoformat(),
            "check_url": reverse("api-sound-check", args=[self.plan.pk]) if self.plan else None,
            "play_url": reverse("play") if not self.whole else reverse("exercise", args=[self.exercise.pk]),
            "after_url": after,
            "begin_with": begin_with,
            "spot": spot,
        }


def of_day(horn: Horn, plan: DayPlan, only: Collection[int] = ()) -> PlayingPage:
    """The day's tones; ``only`` these slots, when given, whether or not they were played before."""
    daily = plan.week.exercises.get(kind="daily_tones")
    tones = tones_of(plan, takes_of(plan))
    if only:
        asked = [slot for slot in plans.slots(plan) if slot.slot in only]
        return _page(horn, daily, plan, asked, done=(), again=True)
    done = tuple(tone.slot for tone in tones if tone.take is not None)
    return _page(horn, daily, plan, plans.slots(plan), done)


def of_exercise(horn: Horn, exercise: Exercise, plan: DayPlan | None) -> PlayingPage:
    """A run, a set of overtones, a part of an ensemble. ``plan``: the day's, for its sound check."""
    return _page(horn, exercise, plan, plans.slots_beside(exercise), done=())


def _page(
    horn: Horn,
    exercise: Exercise,
    plan: DayPlan | None,
    asked: Sequence[Slot],
    done: tuple[int, ...],
    again: bool = False,
) -> PlayingPage:
    sounds, kind = instrument(horn.kind).sounding, kinds()[exercise.kind]
    panels = tuple(
        Panel(
            place,
            slot.slot,
            slot.written_midi,
            slot.tone,
            slot.partial,
            kind.beats,
            sounds(slot.written_midi + SEMITONES_OF_PARTIAL.get(slot.partial or 1, 0)),
        )
        for place, slot in enumerate(asked)
    )
    earlier = _earlier_check(horn, plan)
    check, on = (earlier.sound_check, earlier.on) if earlier else (None, None)
    return PlayingPage(horn, exercise, kind, plan, panels, done, again, check, on)


def _earlier_check(horn: Horn, plan: DayPlan | None) -> DayPlan | None:
    if plan is None:
        return None
    since = plan.on - dt.timedelta(days=ASKED_AGAIN_DAYS)
    checked = DayPlan.objects.filter(horn=horn, on__lt=plan.on, on__gte=since, sound_check__isnull=False)
    return checked.order_by("-on").first()
