"""Log lines: one JSON object each, so that no text inside a message can pass for a line of its own."""

import json
import logging
from datetime import UTC, datetime

STANDARD = frozenset(logging.makeLogRecord({}).__dict__) | {"message", "asctime", "taskName", "request", "data"}


class JsonLine(logging.Formatter):
    """UTC time, level, logger, event, what was given in ``extra``, and the traceback if there is one."""

    def format(self, record: logging.LogRecord) -> str:
        line: dict[str, object] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname,
            "from": record.name,
            "event": record.getMessage(),
        }
        line.update({key: value for key, value in record.__dict__.items() if key not in STANDARD})
        if record.exc_info:
            line["traceback"] = self.formatException(record.exc_info)
        return json.dumps(line, default=str)
