"""Names of sheets in a spreadsheet, and of files within the packet."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import PurePosixPath

from layout.errors import DrawingError

_SHEET_MOST = 31
_SHEET_FORBIDDEN = re.compile(r"[\[\]:*?/\\\x00-\x1f\x7f]")


def sheet_names(labels: Iterable[str], *, taken: Iterable[str] = ()) -> list[str]:
    """Return one spreadsheet sheet name for each label: at most 31 characters, allowed ones only, none twice.

    Parameters
    ----------
    labels
        What the sheets should be called.
    taken
        Names already in the book; sheet names differ by more than case.
    """
    used = {name.casefold() for name in taken} | {"history"}
    names = []
    for label in labels:
        base = _units(_SHEET_FORBIDDEN.sub("-", label), _SHEET_MOST).strip("' ") or "Sheet"
        name, number = base, 1
        while name.casefold() in used:
            number += 1
            ending = f" {number}"
            name = _units(base, _SHEET_MOST - len(ending)) + ending
        used.add(name.casefold())
        names.append(name)
    return names


def _units(text: str, most: int) -> str:
    """Return as much of a text as fits in a number of UTF-16 units, which is how spreadsheets count."""
    kept, count = "", 0
    for char in text:
        count += 2 if ord(char) > 0xFFFF else 1
        if count > most:
            break
        kept += char
    return kept


def inside(name: str) -> PurePosixPath:
    """Return a file's place in the packet, refusing any that could lie outside it.

    Raises
    ------
    DrawingError
        When the name is empty, absolute, climbs, or holds a backslash, a colon or a control character.
    """
    path = PurePosixPath(name)
    parts = name.split("/")
    bad = not name or path.is_absolute() or any(part in ("", ".", "..") for part in parts)
    if bad or any(char in '\\:' or ord(char) < 32 for char in name) or any(len(part) > 120 for part in parts):
        raise DrawingError(f"a packet cannot hold a file named {name!r}")
    return path
