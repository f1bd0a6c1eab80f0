"""The one door through which the audit reads a packet's files: regular files of a bounded size, and JSON in bounds."""

from __future__ import annotations

import json
import math
import re
import stat
from pathlib import Path
from typing import Any

MOST_BYTES = 400_000_000
"""A file of a packet larger than this is not read."""
MOST_DIGITS = 20
"""Of a whole number, its sign counted."""
_SURROGATE = re.compile(r"\\u[dD][89a-fA-F]")


class NotReadable(Exception):
    """A file is not what it should be; the finding says why."""

    def __init__(self, number: int, place: str, needed: str, found: str) -> None:
        super().__init__(place)
        self.number, self.place, self.needed, self.found = number, place, needed, found


def read_bytes(path: Path) -> bytes:
    """Return what a file holds; raises NotReadable when it is missing, no regular file, or too large."""
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            raise NotReadable(102, path.name, "a file", "a folder, a device or a pipe")
        if status.st_size > MOST_BYTES:
            raise NotReadable(102, path.name, f"at most {MOST_BYTES} bytes", f"{status.st_size}")
        with open(path, "rb") as stream:
            return stream.read(status.st_size)
    except (FileNotFoundError, NotADirectoryError):
        raise NotReadable(101, path.name, "a file", "nothing") from None
    except (OSError, ValueError) as error:
        raise NotReadable(102, path.name, "a file that can be read", type(error).__name__) from None


def read_text(path: Path) -> str:
    """Return a file's text; raises NotReadable."""
    return as_text(read_bytes(path), path)


def as_text(data: bytes, path: Path) -> str:
    """Return what a file holds as text; raises NotReadable when it is not UTF-8."""
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        raise NotReadable(102, path.name, "UTF-8 text", type(error).__name__) from None


def read_json(path: Path) -> Any:
    """Return what a JSON file holds, its numbers finite and its text without lone surrogates; raises NotReadable."""
    text = read_text(path)
    try:
        data = json.loads(text, parse_constant=_finite, parse_float=_finite, parse_int=_whole)
        if _SURROGATE.search(text):
            json.dumps(data, ensure_ascii=False).encode("utf-8")
    except (ValueError, RecursionError) as error:
        raise NotReadable(102, path.name, "JSON", type(error).__name__) from None
    return data


def _finite(word: str) -> float:
    value = float(word)
    if not math.isfinite(value):
        raise ValueError(f"no finite number: {word[:40]}")
    return value


def _whole(word: str) -> int:
    if len(word) > MOST_DIGITS:
        raise ValueError(f"no number of at most {MOST_DIGITS} digits: {word[:40]}")
    return int(word)
