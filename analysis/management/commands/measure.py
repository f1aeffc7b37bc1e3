"""``manage.py measure AUDIO``: one recording measured, as a table or as JSON; no database, broker or network."""

from __future__ import annotations

import json
import math
import sys
from io import TextIOWrapper
from pathlib import Path
from typing import Any, NoReturn, get_args

from django.core.management.base import BaseCommand, CommandParser

from analysis import results
from analysis.audio import hear
from analysis.core.expected import parse_expected
from analysis.core.measure import unheard
from analysis.core.records import Asked, AudioInfo, Dynamic, Measurement, Request, Shape
from analysis.core.tables import instruments
from analysis.core.targets import LEVELS
from analysis.core.words import words
from analysis.faults import Fault
from analysis.plotted import plotted
from analysis.printed import printed
from analysis.second_opinion import second_opinion, told

WRONG, NOT_MEASURED = 2, 3
LOWEST_A4_HZ, HIGHEST_A4_HZ = 390.0, 490.0
FASTEST_PULSES = 9.0


class Command(BaseCommand):
    """Exit status: 0 measured, 3 could not be measured (the report says why), 2 wrong arguments or not a sound file."""

    help = "Measure the tones of one recording."
    requires_system_checks: list[str] = []  # quick, and works on a disk that can't be written
    requires_migrations_checks = False

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("audio", metavar="AUDIO", help="any file that a phone produces")
        parser.add_argument("--instrument", default="alto", choices=list(instruments()))
        parser.add_argument("--a4", type=float, default=440.0, help="the tuning note in Hz")
        parser.add_argument(
            "--expect", default="", metavar="NOTES", help="Bb3,B3,C4 or Bb3..F#6 or overtones:Bb3:2,3,4"
        )
        parser.add_argument("--shape", default="sustained", choices=get_args(Shape))
        parser.add_argument("--dynamic", default="mf", choices=get_args(Dynamic))
        parser.add_argument("--pulses-per-second", type=float, default=0.0, help="the vibrato that was set, 0: none")
        parser.add_argument("--json", action="store_true", help="the whole report as JSON")
        parser.add_argument("--plot", metavar="FILE.svg", help="draw the take into this file")
        parser.add_argument("--second-opinion", action="store_true", help="ask librosa about every pitch as well")
        parser.add_argument("--level", default="intermediate", choices=LEVELS, help="whose targets the picture shows")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            request = request_of(options)
        except ValueError as error:
            self.end(str(error), WRONG)
        try:
            measurement = hear(options["audio"], request)
        except Fault as fault:
            if not fault.is_audio:
                self.end(fault.text, WRONG)
            measurement = unheard(fault.audio or AudioInfo(0.0, 0, 0, "", ""), request, fault.code)
        else:
            self.draw(measurement, request, options)
        if isinstance(sys.stdout, TextIOWrapper):
            sys.stdout.reconfigure(errors="replace")  # a terminal without ♭ still gets its table
        self.stdout.write(said(measurement, as_json=options["json"]))
        if options["second_opinion"] and measurement.capture.readable:
            lines = told(second_opinion(options["audio"], measurement, request.instrument))
            beside = self.stderr if options["json"] else self.stdout  # the JSON stays one document
            beside.write("\n".join(["", *lines]))
        if not measurement.capture.readable:
            advice = " ".join(words(code).advice for code in measurement.capture.reasons)
            self.end(advice if options["json"] else "", NOT_MEASURED)

    def draw(self, measurement: Measurement, request: Request, options: dict[str, Any]) -> None:
        """The picture of a take that could be decoded, where one is wanted."""
        if not options["plot"]:
            return
        drawn = plotted(options["audio"], measurement, request, options["level"])
        try:
            Path(options["plot"]).write_text(drawn, encoding="utf-8")
        except OSError:
            self.end("The picture can't be written there. Choose another place for it.", WRONG)

    def end(self, text: str, status: int) -> NoReturn:
        """Say one plain sentence on standard error and leave with that status."""
        if text:
            self.stderr.write(text)
        sys.exit(status)


def request_of(options: dict[str, Any]) -> Request:
    """The request that the arguments spell. ``ValueError`` says what is wrong with them."""
    a4_hz, pulses = options["a4"], options["pulses_per_second"]
    if not LOWEST_A4_HZ <= a4_hz <= HIGHEST_A4_HZ:
        raise ValueError(f"--a4 lies between {LOWEST_A4_HZ:.0f} and {HIGHEST_A4_HZ:.0f} Hz.")
    if not (math.isfinite(pulses) and 0.0 <= pulses <= FASTEST_PULSES):
        raise ValueError(f"--pulses-per-second lies between 0 and {FASTEST_PULSES:.0f}.")
    how = {"shape": options["shape"], "dynamic": options["dynamic"], "pulses_per_second": pulses}
    try:
        asked = parse_expected(options["expect"], Asked(written_midi=0, **how)) if options["expect"] else ()
    except ValueError as error:
        raise ValueError(f"--expect: {error}") from error
    return Request(instrument=options["instrument"], a4_hz=a4_hz, asked=asked, **how)


def said(measurement: Measurement, *, as_json: bool) -> str:
    if as_json:
        return json.dumps(results.report(measurement), allow_nan=False)
    return printed(measurement)
