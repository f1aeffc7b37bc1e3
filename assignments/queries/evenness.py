"""Evenness: do neighbours match? Read from the last up-and-down run, and from those before it in other spots."""

from __future__ import annotations

import datetime as dt
import json
import math
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analysis import drawing, results
from analysis.core.records import Hole, Measurement, Tone
from analysis.models import Analysis, Result
from assignments import equipment
from assignments.exercises import SPOTS
from assignments.models import Exercise, Take
from assignments.naming import note_name, note_plain, note_said
from assignments.queries.runs_before import ROOM_DB, SURE, Earlier, Since, earlier, since
from assignments.queries.sounding import AFTER_S, BEFORE_S
from assignments.spelled import capital, spelled
from studio.models import Horn

NOTICED_DB = 3.0  # three times what is just heard: so much is looked for in a run
SHOWN_SDS = 4.0  # by so much a note must stand out of what the room may do, to be called a hole
MOST_HOLES = 3
MOST_EARLIER = 8
BESIDE = 2  # notes either side of a hole


@dataclass(frozen=True, slots=True)
class Odd:
    """One note that stands out of the run, with what can be heard."""

    written_midi: int
    words: str
    sentence: str
    drawn: drawing.Neighbours
    five: tuple[tuple[str, float, float], ...]
    alone: tuple[str, float, float] | None

    @property
    def five_json(self) -> str:
        """For hear.js: the note among its neighbours, low to high."""
        return json.dumps(self.five)

    @property
    def alone_json(self) -> str:
        return json.dumps([self.alone])


@dataclass(frozen=True, slots=True)
class EvennessPage:
    horn: Horn
    take: Take | None
    exercise: Exercise | None  # the run of the week, to be played
    wall: drawing.Wall | None
    sentence: str
    profile: drawing.Profile | None  # each note against its neighbours, over all the spots
    furthest: tuple[int, int] | None  # written notes: under the line of the profile, and over it
    odd: tuple[Odd, ...]  # worst first
    unsure: tuple[str, ...]  # notes that the room may explain, with what they sound; worst first
    spots: int
    error_db: float = ROOM_DB / SURE  # one standard deviation of what the room may do to one note
    week_ago: Since | None = None
    earlier: tuple[Earlier, ...] = ()  # newest first
    changes: tuple[equipment.Change, ...] = ()  # since the oldest of these runs
    baseline: str = ""

    @property
    def on(self) -> dt.date | None:
        return self.take.on if self.take else None

    @property
    def headline(self) -> str:
        if self.wall is None:
            return _("Do neighbours match?")
        if not self.odd and SHOWN_SDS * self.error_db > NOTICED_DB:  # a hole that can be heard might not have shown
            spot = ngettext("one spot", "%(n)s spots", self.spots) % {"n": self.spots_heard}
            return _("Even, as far as %(spot)s can tell") % {"spot": spot}
        if not self.odd:
            return _("Even from low to high")
        many = len(self.odd)
        return ngettext("%(n)s hole, low to high", "%(n)s holes, low to high", many) % {"n": capital(spelled(many))}

    @property
    def spots_wanted(self) -> int:
        return max(0, SPOTS - self.spots)

    @property
    def spots_word(self) -> str:
        return capital(spelled(self.spots_wanted))

    @property
    def profile_sentence(self) -> str:
        """For those who don't see the line."""
        told = self._told(note_said)
        return f"{told} {self.week_ago.sentence}" if self.week_ago else told

    @property
    def profile_words(self) -> str:
        return self._told(note_plain)

    def _told(self, name: Callable[[int], str]) -> str:
        if self.furthest is None:
            return ""
        under, over = (name(midi) for midi in self.furthest)
        told = _("Furthest under the line lies %(under)s, furthest over it %(over)s.") % {"under": under, "over": over}
        return told if self.odd else told + " " + _("None stands out for sure.")

    @property
    def unsure_words(self) -> str:
        """What three spots would settle."""
        return _("May be the room, may be the horn: %(notes)s.") % {"notes": ", ".join(self.unsure)}

    @property
    def spots_heard(self) -> str:
        return spelled(self.spots)

    @property
    def would_show(self) -> str:
        """How far off a note must be to be seen through this room."""
        least = max(NOTICED_DB, SHOWN_SDS * self.error_db)
        return _("A note %(n)s dB softer or louder than its neighbours would have shown.") % {"n": math.ceil(least)}


def page(horn: Horn) -> EvennessPage:
    """A fixed number of queries."""
    runs = list(
        Take.objects.filter(horn=horn, exercise__kind="evenness_run", analysis__state=Analysis.State.MEASURED)
        .select_related("analysis")
        .order_by("-received_at")[: 1 + MOST_EARLIER]
    )
    run = runs[0] if runs else None
    exercise = Exercise.objects.filter(week__horn=horn, kind="evenness_run").order_by("-week__starts_on").first()
    result = Result.objects.filter(analysis=run.analysis_id).order_by("made_at").first() if run else None
    if run is None or result is None:
        return EvennessPage(horn, None, exercise, None, "", None, None, (), (), 0)
    found = _of_run(horn, run, exercise, results.measurement(result.report), since(run, runs[1:]))
    changes = equipment.changes(horn, runs[-1].on)
    return replace(
        found,
        earlier=tuple(earlier(one) for one in runs[1:] if one.across_spots),
        changes=changes,
        baseline=equipment.baseline(changes, horn.studio.today()),
    )


def _of_run(
    horn: Horn, run: Take, exercise: Exercise | None, heard: Measurement, week_ago: Since | None
) -> EvennessPage:
    notes = _notes(run, horn.written_range)
    up, back = _ways(run, heard.tones, notes)
    across = run.across_spots or asdict(heard.evenness)  # while it settles, what the run says alone
    holes = [Hole(**hole) for hole in across["holes"]]
    error_db = across["level_error_db"] or ROOM_DB / SURE
    room_db = SURE * error_db
    worst = list(dict.fromkeys(hole.written_midi for hole in holes if hole.written_midi in notes))[:MOST_HOLES]
    unsure = tuple(_unsure(Hole(**hole)) for hole in across.get("unsure", ())[:MOST_HOLES])
    address = reverse("take_audio", args=[run.pk])
    odd = tuple(_odd(midi, holes, up, address, room_db) for midi in worst)
    levels = [(midi, tone.level_db if tone else None) for midi, tone in up]
    back_levels = [(midi, tone.level_db if tone else None) for midi, tone in back]
    wall = drawing.wall(levels, room_db=room_db, holes=worst, back=back_levels)
    names = ", ".join(note_said(midi) for midi in sorted(worst)) or _("none")
    sentence = _("The run, low to high. Holes: %(names)s.") % {"names": names}
    then = week_ago.level if week_ago else ()
    profile, furthest = _profile(across.get("level", ()), then, notes, room_db)
    spots = across["spots"]
    return EvennessPage(horn, run, exercise, wall, sentence, profile, furthest, odd, unsure, spots, error_db, week_ago)


def _notes(run: Take, written_range: tuple[int, int]) -> range:
    """The horn's range, and what was asked beyond it when it was another. What else was heard is no note of the run."""
    asked = [*written_range, *(slot["written_midi"] for slot in run.asked)]
    return range(min(asked), max(asked) + 1)


def _profile(
    level: Sequence[tuple[int, float]], then: Sequence[tuple[int, float]], notes: range, room_db: float
) -> tuple[drawing.Profile | None, tuple[int, int] | None]:
    """The range as a line with a bar a note, and as it was ``then``; and which notes lie furthest under and over it."""
    known, was = {midi: off_db for midi, off_db in level if midi in notes}, dict(then)
    if not known:
        return None, None
    before = [(midi, was.get(midi)) for midi in notes] if was else ()
    ends = min(known, key=lambda midi: known[midi]), max(known, key=lambda midi: known[midi])
    now = [(midi, known.get(midi)) for midi in notes]
    return drawing.profile(now, before=before, allowance=NOTICED_DB, error=room_db), ends


Way = list[tuple[int, Tone | None]]


def _ways(run: Take, tones: Sequence[Tone], notes: range) -> tuple[Way, Way]:
    """The way up and the way down, each from low to high, with the tones that were heard.

    A run may pass over notes, begin late or end early: which note a tone answers, the recording says.
    """
    asked = [slot["written_midi"] for slot in run.asked]
    top = asked.index(max(asked))
    readable = {tone.asked_index: tone for tone in tones if tone.readable and tone.asked_index is not None}
    up = {midi: readable.get(place) for place, midi in enumerate(asked[: top + 1])}
    back = {midi: readable.get(place) for place, midi in enumerate(asked[top:], start=top)}
    return [(midi, up.get(midi)) for midi in notes], [(midi, back.get(midi)) for midi in notes]


def _odd(midi: int, holes: Sequence[Hole], up: Way, address: str, room_db: float) -> Odd:
    place = next(place for place, (note, _tone) in enumerate(up) if note == midi)
    near = up[max(0, place - BESIDE) : place + BESIDE + 1]
    words = _how([hole for hole in holes if hole.written_midi == midi])
    levels = [(note, tone.level_db if tone else None) for note, tone in near]
    stretches = {note: _stretch(address, tone) for note, tone in near if tone}
    return Odd(
        written_midi=midi,
        words=_("%(note)s sounds %(how)s than the notes beside it.") % {"note": note_name(midi), "how": words},
        sentence=_("%(note)s among its neighbours: %(how)s.") % {"note": note_said(midi), "how": words},
        drawn=drawing.neighbours(levels, hole=midi, room_db=room_db),
        five=tuple(stretches.values()),
        alone=stretches.get(midi),
    )


def _unsure(hole: Hole) -> str:
    """“C5 softer”; a run kept before there were such notes has none."""
    return f"{note_plain(hole.written_midi)} {_how([hole])}"


def _how(holes: Sequence[Hole]) -> str:
    """“softer and duller”: said and heard, not drawn."""
    words = {
        "level": (_("softer"), _("louder")),
        "colour": (_("duller"), _("brighter")),
        "pitch": (_("flatter"), _("sharper")),
    }
    return _(" and ").join(words[hole.kind][hole.size > 0] for hole in holes)


def _stretch(address: str, tone: Tone) -> tuple[str, float, float]:
    return address, round(max(0.0, tone.start_s - BEFORE_S), 3), round(tone.end_s + AFTER_S, 3)
