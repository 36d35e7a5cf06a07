"""Where the log goes: lines of JSON in the data folder; what is wrong on standard error too.

Messages of others, and what an exception says, may hold anything that somebody typed: of a foreign
message nothing is kept but who sent it, of an exception its kind and where it was raised.
"""

from __future__ import annotations

import json
import logging
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from logging.handlers import QueueHandler, QueueListener, RotatingFileHandler
from pathlib import Path
from queue import SimpleQueue
from typing import Any

FILE = "quietleaf.jsonl"
FILE_BYTES = 5_000_000
FILES_KEPT = 9
"""50 MB in all: some 300,000 requests."""
_KNOWN = ("quietleaf.", "uvicorn.")
"""Whose messages are fixed texts before values are put in."""


@contextmanager
def logging_to(data: Path) -> Iterator[None]:
    """Log to the station's folder until the block ends; writing waits for no disk."""
    from quietleaf.storage.data_files import LOG_FOLDER

    folder = data / LOG_FOLDER
    folder.mkdir(parents=True, exist_ok=True)
    file = RotatingFileHandler(
        folder / FILE, maxBytes=FILE_BYTES, backupCount=FILES_KEPT, encoding="utf-8", delay=True
    )
    screen = logging.StreamHandler()
    screen.setLevel(logging.WARNING)
    queued: SimpleQueue[logging.LogRecord] = SimpleQueue()
    lines = QueueHandler(queued)
    lines.setFormatter(JsonLines())
    lines.addFilter(is_news)
    listener = QueueListener(queued, file, screen, respect_handler_level=True)
    root = logging.getLogger()
    root.addHandler(lines)
    logging.getLogger("quietleaf").setLevel(logging.INFO)
    raising, logging.raiseExceptions = logging.raiseExceptions, False  # a full disk stops nobody
    listener.start()
    try:
        yield
    finally:
        root.removeHandler(lines)
        listener.stop()
        file.close()
        logging.raiseExceptions = raising


def is_news(record: logging.LogRecord) -> bool:
    """Leave out the fault that the server logs after us."""
    fault = record.exc_info[1] if record.exc_info else None
    return record.name.startswith("quietleaf.") or not getattr(fault, "__notes__", ())


class JsonLines(logging.Formatter):
    """Writes a record as one line of JSON, without any value that somebody typed."""

    def format(self, record: logging.LogRecord) -> str:
        """Write the line."""
        line: dict[str, Any] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "from": record.name,
        }
        if record.name.startswith(_KNOWN):
            line["what"] = str(record.msg).strip()
        line.update(getattr(record, "told", {}))
        if record.exc_info and record.exc_info[1] is not None:
            line["fault"] = _kinds(record.exc_info[1])
            line["trace"] = _places(record.exc_info[1])
        return json.dumps(line, ensure_ascii=False)


def _kinds(fault: BaseException) -> list[str]:
    """Name an exception and those it came from."""
    kinds: list[str] = []
    following: BaseException | None = fault
    while following is not None and len(kinds) < 10:
        kinds.append(type(following).__name__)
        following = following.__cause__ or following.__context__
    return kinds


def _places(fault: BaseException) -> list[str]:
    return [
        f"{'/'.join(Path(frame.filename).parts[-3:])}:{frame.lineno} {frame.name}"
        for frame in traceback.extract_tb(fault.__traceback__)
    ]
