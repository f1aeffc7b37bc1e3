"""Every number of one student as tables that a spreadsheet opens, and a table that says what each column means.

``tones.csv`` is that of ``assignments.numbers``; beside it stand what has another shape: recordings, the steps and
partials of tones, checks, notes of a run, days. All of them are read row by row, so that they may be of any length.
"""

from __future__ import annotations

import csv
import io
import tomllib
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import IO, Any
from zipfile import ZIP_DEFLATED, ZipFile

from assignments import numbers, standings
from assignments.models import DayPlan, PaperDay, Take, Try
from studio.models import Horn, Membership

Row = dict[str, Any]
LISTS = {"shape.steps_db": ("shape", "steps_db"), "colour.levels_db": ("colour", "levels_db")}
MEANINGS = Path(__file__).parent / "data" / "number_columns.toml"


def zipped(student: Membership, out: IO[bytes]) -> None:
    """All tables in one archive."""
    with ZipFile(out, "w", ZIP_DEFLATED, allowZip64=True) as archive:
        put(student, archive, "")


def put(student: Membership, archive: ZipFile, folder: str) -> None:
    """Write every table into ``folder`` of an open archive, then ``columns.csv`` about all of them."""
    known: list[Row] = []
    for name, write in TABLES.items():
        with _opened(archive, folder + name) as text:
            known += [{"table": name, "column": column, "meaning": meaning(column)} for column in write(student, text)]
    with _opened(archive, f"{folder}columns.csv") as text:
        _write(iter(known), ("table", "column", "meaning"), text)


def _opened(archive: ZipFile, name: str) -> IO[str]:
    return io.TextIOWrapper(archive.open(name, "w", force_zip64=True), "utf-8", newline="")


def meaning(column: str) -> str:
    """What a column holds, with its unit. ``take.snr_db`` and ``uncertainty.pitch_cents`` say which one they are of.

    What is uncertain or hidden may have no column of its own: then its name must do. A column that another engine
    filled and nobody explained is empty: no copy fails for want of a word.
    """
    group, _dot, last = column.rpartition(".")
    if group in ("uncertainty", "hidden"):
        return f"{meanings()[group]} {meanings().get(last, last)}"
    return meanings().get(last, "")


@cache
def meanings() -> Mapping[str, str]:
    return tomllib.loads(MEANINGS.read_text("utf-8"))


def _table(columns: tuple[str, ...], rows: Callable[[Membership], Iterator[Row]]) -> Callable[..., tuple[str, ...]]:
    def write(student: Membership, out: IO[str]) -> tuple[str, ...]:
        _write(rows(student), columns, out)
        return columns

    return write


def _write(rows: Iterator[Row], columns: tuple[str, ...], out: IO[str]) -> None:
    table = csv.DictWriter(out, columns, restval="", lineterminator="\r\n")  # as RFC 4180 has it
    table.writeheader()
    table.writerows(rows)


def _takes(student: Membership) -> Iterator[tuple[Take, Mapping[str, Any]]]:
    """Each recording with what the engine heard by which it counted."""
    takes = Take.objects.filter(horn__player=student).select_related("horn", "exercise", "analysis")
    for take in takes.order_by("received_at", "pk").iterator():
        yield take, numbers.counted(take)


def _recordings(student: Membership) -> Iterator[Row]:
    for take, report in _takes(student):
        heard = {name: report.get(name) or {} for name in ("audio", "capture", "evenness")}
        flat = {f"{group}.{name}": value for group, one in heard.items() for name, value in numbers.flat(one)}
        said = {f"recorder.{name}": _no_formula(value) for name, value in numbers.flat(take.recorder)}
        row = {
            **numbers.of_take(take),
            "state": take.analysis.state,
            "engine": report.get("engine", ""),
            "bytes": take.analysis.audio_bytes,
            "in_lesson": int(take.in_lesson),
            **flat,
            **said,
        }
        yield {name: row.get(name, "") for name in RECORDINGS}


def _no_formula(told: Any) -> Any:
    """What a phone said of itself may be anything: what a spreadsheet would take for a formula reads as text there."""
    return f"'{told}" if isinstance(told, str) and told.startswith(FORMULAS) else told


def _lists(student: Membership) -> Iterator[Row]:
    for take, report in _takes(student):
        for tone in report.get("tones", ()):
            for what, (group, name) in LISTS.items():
                for place, value in enumerate(tone[group].get(name, ()), 1):
                    row = {"index": tone["index"], "what": what, "place": place, "value_db": value}
                    yield {**numbers.of_take(take), **row}


def _checks(student: Membership) -> Iterator[Row]:
    tries = Try.objects.filter(horn__player=student).select_related("take__horn", "take__exercise")
    for row in tries.order_by("played_at", "take", "slot").iterator():
        asked = {"slot": row.slot, "asked_written_midi": row.written_midi, "asked_tone": row.tone}
        for check in row.checks:
            from_s, to_s = check["at_s"] or ("", "")
            yield {
                **numbers.of_take(row.take),
                **asked,
                "outcome": row.outcome,
                **{name: check[name] for name in ("measure", "part", "verdict", "value", "limit", "code")},
                "must": int(check["must"]),
                "from_s": from_s,
                "to_s": to_s,
            }


def _runs(student: Membership) -> Iterator[Row]:
    """A line a note of each up-and-down run, and a line a note that stood out."""
    takes = Take.objects.filter(horn__player=student, across_spots__isnull=False).select_related("horn", "exercise")
    for take in takes.order_by("received_at", "pk").iterator():
        across = take.across_spots or {}
        about = {
            **numbers.of_take(take),
            "spots": across["spots"],
            "level_error_db": across["level_error_db"],
            "colour_error_pct": across["colour_error_pct"],
        }
        for midi, level_db in across.get("level", ()):
            yield {**about, "written_midi": midi, "level_db": level_db}
        for hole in across["holes"]:
            found = {f"hole_{name}": hole[name] for name in ("kind", "size", "unit")}
            yield {**about, "written_midi": hole["written_midi"], **found}


def _days(student: Membership) -> Iterator[Row]:
    """Every day that was opened, played or noted from paper."""
    for horn in Horn.objects.filter(player=student).select_related("player__studio").order_by("in_use_since_on", "pk"):
        judged = {day.on: day for day in standings.standing(horn).days}
        plans = {plan.on: plan for plan in DayPlan.objects.filter(horn=horn).select_related("week")}
        paper = set(PaperDay.objects.filter(horn=horn).values_list("on", flat=True))
        for on in sorted({*judged, *plans, *paper}):
            day, plan = judged.get(on), plans.get(on)
            check = (plan.sound_check or {}) if plan else {}
            yield {
                "on": on.isoformat(),
                "instrument": horn.kind,
                "readable": day.readable if day else "",
                "hits": day.hits if day else "",
                "on_target": "" if day is None or day.on_target is None else int(day.on_target),
                "minutes": plan.week.budget_minutes if plan else "",
                "planned_tones": len(plan.tones) if plan else "",
                "softest_db": check.get("softest_db", ""),
                "loudest_db": check.get("loudest_db", ""),
                "noise_db": check.get("noise_db", ""),
                "stopped_hurting": int(bool(plan and plan.stopped_hurting_at)),
                "on_paper": int(on in paper),
            }


TAKE = ("on", "received_at", "take", "instrument", "exercise")
FORMULAS = ("=", "+", "-", "@", "\t", "\r")  # how one begins
RECORDINGS = (
    *TAKE, "state", "engine", "bytes", "in_lesson",
    "audio.duration_s", "audio.sample_rate_hz", "audio.channels", "audio.codec", "audio.bit_rate_bps",
    "audio.truncated", "capture.noise_floor_dbfs", "capture.snr_db", "capture.clipped",
    "capture.level_control_suspected", "capture.readable", "capture.reasons",
    "evenness.level_sd_db", "evenness.colour_sd_pct", "evenness.pitch_sd_cents", "evenness.direct_over_room_db",
    "evenness.level_error_db", "evenness.colour_error_pct",
    "recorder.echoCancellation", "recorder.noiseSuppression", "recorder.autoGainControl", "recorder.sampleRate",
    "recorder.spot", "recorder.count_in",
)  # fmt: skip
CHECKED = (
    "slot",
    "asked_written_midi",
    "asked_tone",
    "outcome",
    "measure",
    "part",
    "verdict",
    "must",
    "value",
    "limit",
    "code",
    "from_s",
    "to_s",
)
OF_RUNS = (
    "written_midi",
    "level_db",
    "spots",
    "level_error_db",
    "colour_error_pct",
    "hole_kind",
    "hole_size",
    "hole_unit",
)
OF_DAYS = (
    "on", "instrument", "readable", "hits", "on_target", "minutes", "planned_tones", "softest_db", "loudest_db",
    "noise_db", "stopped_hurting", "on_paper",
)  # fmt: skip
TABLES: Mapping[str, Callable[[Membership, IO[str]], tuple[str, ...]]] = {
    "tones.csv": numbers.write,
    "recordings.csv": _table(RECORDINGS, _recordings),
    "steps.csv": _table((*TAKE, "index", "what", "place", "value_db"), _lists),
    "checks.csv": _table((*TAKE, *CHECKED), _checks),
    "runs.csv": _table((*TAKE, *OF_RUNS), _runs),
    "days.csv": _table(OF_DAYS, _days),
}
