"""Log lines: one JSON object each, so that no text inside a message can pass for a line of its own.

Nobody is named and no secret is told: of an address the route stands there, since a calendar's key is part of its
own; of the database's trouble the first line, since the others show the row.
"""

import json
import logging
import re
from datetime import UTC, datetime

from django.http import HttpRequest

from studio.tracing import request_id

ROWS = re.compile(r"^DETAIL:.*?(?=\n\n|\Z)", re.MULTILINE | re.DOTALL)  # PostgreSQL's, with what stands in them
SERVED = re.compile(r"(?<=^Client disconnected while serving ).*|(?<=^Exception while serving ).*", re.DOTALL)
STANDARD = frozenset(logging.makeLogRecord({}).__dict__) | {"message", "asctime", "taskName", "request", "data"}


def settings(level: str) -> dict[str, object]:
    """Django's LOGGING: everything from ``level`` up, a line each, to standard output."""
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {"line": {"()": "studio.config.logs.JsonLine"}},
        "handlers": {"out": {"class": "logging.StreamHandler", "stream": "ext://sys.stdout", "formatter": "line"}},
        "root": {"handlers": ["out"], "level": level},
        "loggers": {"django": {"handlers": [], "level": "INFO"}, "axes": {"level": "WARNING"}},
    }


class JsonLine(logging.Formatter):
    """UTC time, level, logger, event, the request in hand, what was given in ``extra``, and the traceback if any."""

    def format(self, record: logging.LogRecord) -> str:
        line: dict[str, object] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname,
            "from": record.name,
            "event": _event(record),
        }
        if request_id.get():
            line["request"] = request_id.get()
        line.update({key: value for key, value in record.__dict__.items() if key not in STANDARD})
        if record.exc_info:
            line["traceback"] = ROWS.sub("", self.formatException(record.exc_info))
        return json.dumps(line, default=str)


def _event(record: logging.LogRecord) -> str:
    """What is said, with the route in place of the address asked for."""
    said, asked = record.getMessage(), getattr(record, "request", None)
    if record.name == "waitress":  # the server, which knows no routes
        return SERVED.sub("an address", said)
    if not isinstance(asked, HttpRequest):
        return said
    route = asked.resolver_match.route if asked.resolver_match else "an address that leads nowhere"
    for address in (asked.path, asked.path.encode("unicode_escape").decode("ascii")):  # Django says it escaped
        said = said.replace(address, route)
    return said
