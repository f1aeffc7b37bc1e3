"""A Measurement as a table that a musician can read on a terminal."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.core.records import Evenness, Measurement, Tone
from analysis.core.tables import note_sign, parse_note
from analysis.core.words import words

HEAD = (
    "",
    "note",
    "from",
    "to",
    "pitch",
    "spread",
    "drift",
    "level",
    "moves",
    "rise",
    "scoop",
    "air",
    "vibrato",
    "says",
)
UNITS = ("", "", "s", "s", "cents", "cents", "cents", "dB", "dB", "ms", "cents", "ms", "Hz, cents", "")


def printed(measurement: Measurement) -> str:
    """The whole report in lines, the last one without a line end."""
    audio, capture = measurement.audio, measurement.capture
    lines = [f"{audio.duration_s:.1f} s of sound, {audio.codec or 'unknown coding'}, {audio.sample_rate_hz} Hz"]
    if capture.noise_floor_dbfs is not None:
        lines[0] += f", noise {capture.noise_floor_dbfs:.0f} dBFS, tones {capture.snr_db or 0.0:.0f} dB over it"
    if not capture.readable:
        lines += ["", "This could not be measured."]
        lines += [words(code).advice for code in capture.reasons]
    if measurement.tones:
        lines += ["", *_table([HEAD, UNITS, *(_row(tone) for tone in measurement.tones)])]
    if measurement.missing:
        lines += ["", f"Not heard: {', '.join(note_sign(parse_note(name)) for name in measurement.missing)}"]
    if measurement.extra:
        heard = (f"{note_sign(measurement.tones[i].written_midi)} ({i + 1})" for i in measurement.extra)
        lines += ["", f"Heard and not asked for: {', '.join(heard)}"]
    lines += _evenness(measurement.evenness)
    for caution in measurement.cautions:
        lines += ["", caution.text]
    return "\n".join(lines)


def _row(tone: Tone) -> tuple[str, ...]:
    vibrato = tone.vibrato
    waves = f"{vibrato.rate_hz:.1f}, ±{vibrato.extent_cents:.0f}" if vibrato.rate_hz and vibrato.extent_cents else ""
    return (
        str(tone.index + 1),
        note_sign(tone.written_midi) + (f" (partial {tone.partial})" if tone.partial else ""),
        f"{tone.start_s:.2f}",
        f"{tone.end_s:.2f}",
        f"{tone.pitch_cents:+.1f}",
        _number(tone.pitch_spread_cents, "{:.1f}"),
        _number(tone.pitch_drift_cents, "{:+.1f}"),
        f"{tone.level_db:.1f}",
        _number(tone.level_spread_db, "{:.1f}"),
        _number(tone.attack.rise_s, "{:.0f}", 1000.0),
        _number(tone.attack.scoop_cents, "{:+.0f}"),
        _number(tone.attack.air_before_s, "{:.0f}", 1000.0),
        waves,
        "; ".join(_remarks(tone)),
    )


def _number(value: float | None, form: str, factor: float = 1.0) -> str:
    return "-" if value is None else form.format(value * factor)


def _remarks(tone: Tone) -> list[str]:
    """What no column says."""
    said = [f"couldn't read: {code.replace('_', ' ')}" for code in tone.reasons]
    said += ["cracks"] if tone.attack.cracked else []
    said += ["starts twice"] if tone.attack.double_start else []
    said += ["level collapses"] if tone.collapse_at_s is not None else []
    said += [f"drops out {tone.dropouts} times" if tone.dropouts > 1 else "drops out"] if tone.dropouts else []
    if tone.shape.met is not None:
        said.append(f"{tone.shape.kind.replace('_', ' ')} {'met' if tone.shape.met else 'not met'}")
    return said


def _evenness(even: Evenness) -> list[str]:
    parts = [
        f"{value:.1f} {unit} in {name}"
        for name, value, unit in (
            ("level", even.level_sd_db, "dB"),
            ("colour", even.colour_sd_pct, "%"),
            ("pitch", even.pitch_sd_cents, "cents"),
        )
        if value is not None
    ]
    lines = ["", f"From note to note: {', '.join(parts)} (standard deviation about a smooth line)."] if parts else []
    lines += [
        f"  {note_sign(hole.written_midi)} ({hole.index + 1}) stands out in {hole.kind}: {hole.size:+.1f} {hole.unit}"
        for hole in even.holes
    ]
    lines += [
        f"  {note_sign(hole.written_midi)} ({hole.index + 1}) lies {hole.size:+.1f} {hole.unit} off in {hole.kind}: "
        "the room may explain it"
        for hole in even.unsure
    ]
    return lines


def _table(rows: Sequence[tuple[str, ...]]) -> list[str]:
    """Columns as wide as they need to be, the note and the remarks to the left, numbers to the right."""
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    left = {1, len(widths) - 1}
    return [
        "  ".join(
            cell.ljust(width) if column in left else cell.rjust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]
