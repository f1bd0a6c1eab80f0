"""Files that a user names: read in bounds, refused plainly; written over nothing that is not ours."""

from __future__ import annotations

import json
import math
import os
import re
import stat
from pathlib import Path
from typing import Any

from layout.errors import Fault, JobError, LayoutError

MOST_PLAN_BYTES = 400_000_000
"""Of a plan.json that is read."""
_SURROGATE = re.compile(r"\\u[dD][89a-fA-F]")


def read_bytes(path: Path, most: int, *, hint: str = "") -> bytes:
    """Return what a file holds.

    Parameters
    ----------
    path
        The file.
    most
        Most bytes; of a larger file none is read.
    hint
        What can be done about a file that is too large.

    Raises
    ------
    JobError
        When it is a folder, a device or a pipe, cannot be read, or is too large.
    """
    file = str(path)
    try:
        status = os.stat(path)
        if not stat.S_ISREG(status.st_mode):
            raise JobError([Fault(0, "", "must be a file, not a folder, a device or a pipe")], file)
        data = b""
        if status.st_size <= most:
            with open(path, "rb") as stream:
                data = stream.read(status.st_size + 1)  # it may have grown meanwhile
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else "no such file"
        raise JobError([Fault(0, "", f"cannot be read: {reason.lower()}")], file) from None
    if max(status.st_size, len(data)) > most:
        size = f"{most // 1_000_000} MB" if most >= 1_000_000 else f"{most // 1000} kB"
        raise JobError([Fault(0, "", f"must be at most {size}", hint=hint)], file)
    return data


def read_text(path: Path, most: int) -> str:
    """Return the text of a file, as ``read_bytes`` does; JobError also when it is not UTF-8."""
    return as_text(read_bytes(path, most), str(path))


def start_of(path: Path, size: int) -> bytes:
    """Return the first bytes of a file; none when it is a folder, a device or a pipe, or cannot be read."""
    try:
        if not stat.S_ISREG(os.stat(path).st_mode):
            return b""
        with open(path, "rb") as stream:
            return stream.read(size)
    except (OSError, ValueError):
        return b""


def as_text(data: bytes, file: str) -> str:
    """Return what a file holds as text; JobError when it is not UTF-8."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise JobError([Fault(line, "", "must be UTF-8 text", f"byte {data[error.start]:#04x}")], file) from None


def as_json(text: str) -> Any:
    """Return what JSON text holds.

    Raises
    ------
    ValueError
        When it is no JSON, is nested too deep, holds a number that is not finite or half a surrogate pair.
    """
    try:
        data = json.loads(text, parse_constant=_finite, parse_float=_finite)
        if _SURROGATE.search(text):
            json.dumps(data, ensure_ascii=False).encode("utf-8")
    except RecursionError:
        raise ValueError("nested too deep") from None
    return data


def _finite(word: str) -> float:
    value = float(word)
    if not math.isfinite(value):
        raise ValueError(f"no finite number: {word[:40]}")
    return value


def write_drawing(file: Path, text: str) -> None:
    """Write a drawing, over an earlier one but over nothing else."""
    if file.suffix.lower() != ".svg":
        raise LayoutError(f"{file}: must end in .svg")
    if file.exists() and b"<svg" not in start_of(file, 500):
        raise LayoutError(f"{file}: is there already and is no drawing; choose another name")
    file.write_text(text, encoding="utf-8", newline="\n")


def save_done(file: Path, text: str) -> str:
    """Write a progress file beside a new packet; return the line that tells where, or that another one is there."""
    try:
        with open(file, "x", encoding="utf-8", newline="\n") as out:
            out.write(text)
    except FileExistsError:
        wanted = text.encode("utf-8")
        if start_of(file, len(wanted) + 1) != wanted:
            return f"{file}: is there already and says something else about what is cut; it was left alone"
    return f"what is cut and hung of it: {file}"


def free_name(file: Path) -> Path:
    """Return a file's name, or the first of its numbered names that is not taken."""
    number = 1
    while (named := file if number == 1 else file.with_stem(f"{file.stem}-{number}")).exists():
        number += 1
    return named
