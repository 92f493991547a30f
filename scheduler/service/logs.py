"""The service's log: one line an event, plain for people or JSON for programs."""

from __future__ import annotations

import json
import logging
import sys
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from typing import TextIO

NAME = "fitground.service"


class JsonLines(logging.Formatter):
    """One JSON object a line."""

    def format(self, record: logging.LogRecord) -> str:
        """Return the line."""
        facts: Mapping[str, object] = getattr(record, "facts", {})
        line = {"at": _when(record), "level": record.levelname.lower(), "what": record.getMessage()}
        return json.dumps(
            line | {name: value for name, value in facts.items() if name not in line},
            ensure_ascii=False,
            default=str,
        )


class Plain(logging.Formatter):
    """Time, message, facts."""

    def format(self, record: logging.LogRecord) -> str:
        """Return the line."""
        facts: Mapping[str, object] = getattr(record, "facts", {})
        told = ", ".join(
            f"{name} {_short(value)}" for name, value in facts.items() if value not in ("", [], None)
        )
        return f"{_when(record)[11:19]} {record.getMessage()}" + (f": {told}" if told else "")


def _when(record: logging.LogRecord) -> str:
    return datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds")


def _short(value: object) -> str:
    if isinstance(value, list | tuple):
        return " ".join(map(str, value))
    return str(value)


def open_log(form: str, stream: TextIO | None = None) -> logging.Logger:
    """Return the service's logger, writing to a stream (default: the error stream)."""
    handler = logging.StreamHandler(stream or sys.stderr)
    handler.setFormatter(JsonLines() if form == "json" else Plain())
    # A wake-up that finds the service at work is no news.
    for name, level in ((NAME, logging.INFO), ("apscheduler", logging.ERROR)):
        logger = logging.getLogger(name)
        logger.handlers[:] = [handler]
        logger.setLevel(level)
        logger.propagate = False
    return logging.getLogger(NAME)


def sayer(logger: logging.Logger) -> Callable[[str, Mapping[str, object]], None]:
    """Return a function that logs a message with its facts; what failed is a warning."""

    def say(message: str, facts: Mapping[str, object]) -> None:
        level = (
            logging.WARNING
            if "failed" in message or facts.get("trouble") or facts.get("ok") is False
            else logging.INFO
        )
        logger.log(level, message, extra={"facts": dict(facts)})

    return say
