"""Reads a job file, checks it as a whole, and tells every fault at once; writes it back as it was read.

The text becomes a tree that knows its lines (``text``), the models of the job (``model``) are taken
through it (``walk``), what needs more than one value is checked (``checks``), and the records are
built (``build``). Lengths are rounded here, once, toward the safe side.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from layout.errors import Fault, JobError
from layout.files import as_text, read_bytes
from layout.job.build import build_job
from layout.job.checks import check_job
from layout.job.echo import echo
from layout.job.limits import MAX_BYTES, MAX_FAULTS
from layout.job.kind import ReadingContext
from layout.job.model import JobPart
from layout.job.schema import schema
from layout.job.starting import SHAPES, starter
from layout.job.text import read_tree
from layout.job.tree import Place, Unreadable, Value
from layout.job.walk import Faults, TreeWalk
from layout.job.workbook import SUFFIXES, is_workbook, read_job_workbook, write_book
from layout.records import Job
from layout.units import INCH, UNITS, Unit

__all__ = ["SHAPES", "echo", "look_over", "placed", "read_job", "read_job_text", "read_mapping", "schema", "starter",
           "as_file"]


def read_job(path: Path, *, allow_gap: bool = False) -> Job:
    """Read a job file.

    Parameters
    ----------
    path
        The file: YAML, JSON or a workbook.
    allow_gap
        Closed runs need not close on plan; those that do not bear that they are meant so.

    Returns
    -------
    Job
        The job, checked, its lengths in ticks.

    Raises
    ------
    JobError
        With every fault in the file, in the file's order.
    """
    return _read(path, allow_gap)[2]


def read_mapping(path: Path, *, allow_gap: bool = False) -> dict[str, object]:
    """Read a job file as plain mappings, lists, text and numbers, checked first as ``read_job`` does.

    With ``allow_gap`` each closed run in it bears that it need not close.

    Raises
    ------
    JobError
        With every fault in the file.
    """
    root, _, job = _read(path, allow_gap)
    plain = root.plain()
    assert isinstance(plain, dict)
    for run, read in zip(plain["runs"], job.runs, strict=True):
        if read.allow_gap:
            run["allow_gap"] = True
    return plain


def as_file(text: str, path: Path) -> bytes:
    """Return the text of a good job as a file of the kind that its name asks for.

    Parameters
    ----------
    text
        YAML.
    path
        Where it is to lie: .xlsx for a workbook, .json for JSON; anything else is YAML.

    Returns
    -------
    bytes
        The file, the same for the same text; ``read_job`` takes it.

    Raises
    ------
    JobError
        When the name asks for a kind of workbook that is not written.
    """
    suffix = path.suffix.lower()
    if suffix == ".xlsx":
        return write_book(read_tree(text)[0])
    if suffix in SUFFIXES:
        raise JobError([Fault(0, "", "must end in .xlsx to be a workbook", suffix)], str(path))
    if suffix == ".json":
        text = json.dumps(read_tree(text)[0].plain(), indent=1, ensure_ascii=False) + "\n"
    return text.encode("utf-8")


def placed(path: Path, warnings: Sequence[Fault]) -> tuple[Fault, ...]:
    """Return warnings about a job in the order of its file, each with the line or cell that it is about."""
    root = _tree(path)[0] if warnings else Value({}, Place(1, 1))
    found = sorted(((root.follow(warning.path)[1], warning) for warning in warnings), key=lambda item: item[0])
    return tuple(replace(warning, line=0 if place.cell else place.line, cell=place.cell) for place, warning in found)


def _tree(path: Path) -> tuple[Value, list[tuple[Place, Fault]]]:
    """Return a file's tree, and what is wrong in it already."""
    data = read_bytes(path, MAX_BYTES)
    if is_workbook(data, str(path)):
        return read_job_workbook(data)
    return read_tree(as_text(data, str(path)), file=str(path))


def _read(path: Path, allow_gap: bool) -> tuple[Value, list[tuple[Place, Fault]], Job]:
    """Return a file's tree, what is wrong in it already, and its job."""
    try:
        root, repeated = _tree(path)
    except Unreadable as error:
        raise JobError(error.faults, str(path)) from None
    return root, repeated, job_of_tree(root, repeated, str(path), allow_gap=allow_gap)


def read_job_text(text: str, file: str, *, allow_gap: bool = False) -> Job:
    """Read the text of a job file.

    Parameters
    ----------
    text
        YAML or JSON.
    file
        Name of the file, for messages.
    allow_gap
        As for ``read_job``.

    Returns
    -------
    Job
        The job, checked, its lengths in ticks.

    Raises
    ------
    JobError
        With every fault in the text, in its order.
    """
    try:
        root, repeated = read_tree(text, file=file)
    except Unreadable as error:
        raise JobError(error.faults, file) from None
    return job_of_tree(root, repeated, file, allow_gap=allow_gap)


def job_of_tree(
    root: Value, repeated: Sequence[tuple[Place, Fault]], file: str, *, allow_gap: bool = False,
) -> Job:
    """Read a job from the tree of its file.

    Parameters
    ----------
    root
        The tree.
    repeated
        What is wrong in it already, with its places.
    file, allow_gap
        As for ``read_job_text``.

    Raises
    ------
    JobError
        With every fault, in the file's order.
    """
    part, told, found = _looked_over(root, repeated, allow_gap)
    if len(found) > MAX_FAULTS:
        more = Fault(0, "", f"has {len(found) - MAX_FAULTS:,} faults more, not listed")
        raise JobError([*found[:MAX_FAULTS], more], file)
    if found:
        raise JobError(found, file)
    return build_job(part, told.unit, allow_gap=allow_gap)


def look_over(text: str, file: str) -> tuple[JobPart, Unit, tuple[Fault, ...]]:
    """Read the text of a job file that is still being written.

    Parameters
    ----------
    text
        YAML or JSON.
    file
        Name of the file, for messages.

    Returns
    -------
    tuple
        The file as a part from which every wrong value is left out, the unit of its bare numbers, and its faults.

    Raises
    ------
    JobError
        When the text cannot be read to its end.
    """
    try:
        root, repeated = read_tree(text, file=file)
    except Unreadable as error:
        raise JobError(error.faults, file) from None
    part, told, found = _looked_over(root, repeated, False)
    return part, told.unit, tuple(found)


def _looked_over(
    root: Value, repeated: Sequence[tuple[Place, Fault]], allow_gap: bool,
) -> tuple[JobPart, ReadingContext, list[Fault]]:
    faults = Faults(root, list(repeated))
    told = _units(root)
    part = TreeWalk(told, faults).part(JobPart, root, ())
    if told.sure:
        check_job(part, faults, told.unit, allow_gap=allow_gap)
    cells = {fault.cell for _, fault in repeated if fault.cell}
    return part, told, [fault for fault in faults.ordered() if fault.cell not in cells or fault.what != "must be given"]


def _units(root: Value) -> ReadingContext:
    """Return the unit that the file's bare numbers are in; unsure when the file names none that exists."""
    given = root.content.get("units") if isinstance(root.content, dict) else None
    if given is None:
        return ReadingContext(INCH, sure=isinstance(root.content, dict))
    name = given.content
    if isinstance(name, str) and name in UNITS:
        return ReadingContext(UNITS[name], sure=True)
    return ReadingContext(INCH, sure=False)
