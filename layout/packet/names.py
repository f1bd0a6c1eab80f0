"""Names that are safe as files and sheets, whatever the job calls its runs and faces."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from pathlib import PurePosixPath

from layout.errors import DrawingError
from layout.records import Job

MOST = 60
"""Longest cleaned name; with a folder and an ending it stays far under the 255 bytes a file system takes."""
_RESERVED = {"con", "prn", "aux", "nul", *(f"com{i}" for i in range(10)), *(f"lpt{i}" for i in range(10))}
_SHEET_MOST = 31
_SHEET_FORBIDDEN = re.compile(r"[\[\]:*?/\\\x00-\x1f\x7f]")


def clean(text: str) -> str:
    """Return a text as lower-case ASCII letters, figures and single dashes; empty when nothing is left.

    Examples
    --------
    >>> clean("Süd / West #2"), clean("../../etc"), clean("🌊")
    ('sud-west-2', 'etc', '')
    """
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:MOST].strip("-")


def file_stems(labels: Sequence[str], *, instead: str) -> list[str]:
    """Return one file name without ending for each label: clean, none reserved, none twice.

    Parameters
    ----------
    labels
        What the job calls them, in order.
    instead
        What a label is called of which cleaning leaves nothing.
    """
    taken: set[str] = set()
    stems = []
    for label in labels:
        base = clean(label) or instead
        if base in _RESERVED:
            base = f"{base}-{instead}"
        stem, number = base, 1
        while stem in taken:
            number += 1
            stem = f"{base}-{number}"
        taken.add(stem)
        stems.append(stem)
    return stems


def elevation_files(job: Job) -> dict[tuple[str, str], str]:
    """Return the packet's file for each face's drawing, ``elevations/RUN-FACE.svg``, by run and face name."""
    faces = [(run.name, face.name) for run in job.runs for face in run.faces]
    stems = file_stems([f"{run} {face}" for run, face in faces], instead="face")
    return {key: f"elevations/{stem}.svg" for key, stem in zip(faces, stems, strict=True)}


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
