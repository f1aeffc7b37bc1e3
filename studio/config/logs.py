"""Log lines: one JSON object each, so that no text inside a message can pass for a line of its own."""

import json
import logging
from datetime import UTC, datetime

from studio.tracing import request_id

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
            "event": record.getMessage(),
        }
        if request_id.get():
            line["request"] = request_id.get()
        line.update({key: value for key, value in record.__dict__.items() if key not in STANDARD})
        if record.exc_info:
            line["traceback"] = self.formatException(record.exc_info)
        return json.dumps(line, default=str)
