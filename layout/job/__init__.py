"""Reads a job file, checks it as a whole, and tells every fault at once; writes it back as it was read.

The text becomes a tree that knows its lines (``text``), the models of the job (``model``) are taken
through it (``walk``), what needs more than one value is checked (``checks``), and the records are
built (``build``). Lengths are rounded here, once, toward the safe side.
"""

from __future__ import annotations

from importlib import resources
from pathlib import Path

from layout.errors import Fault, JobError
from layout.files import read_text
from layout.job.build import build_job
from layout.job.checks import check_job
from layout.job.echo import echo
from layout.job.limits import MAX_BYTES, MAX_FAULTS
from layout.job.kind import Reading
from layout.job.model import JobPart
from layout.job.schema import schema
from layout.job.text import read_tree
from layout.job.tree import Unreadable, Value
from layout.job.walk import Faults, Walk
from layout.records import Job
from layout.units import INCH, UNITS

__all__ = ["echo", "read_job", "read_job_text", "read_mapping", "schema", "starter"]


def starter() -> str:
    """Return the text of a commented starter job, which plans as it is.

    Returns
    -------
    str
        YAML.
    """
    return resources.files("layout.job").joinpath("starter.yaml").read_text(encoding="utf-8")


def read_job(path: Path) -> Job:
    """Read a job file.

    Parameters
    ----------
    path
        The file, YAML or JSON.

    Returns
    -------
    Job
        The job, checked, its lengths in ticks.

    Raises
    ------
    JobError
        With every fault in the file, in the file's order.
    """
    return read_job_text(read_text(path, MAX_BYTES), str(path))


def read_mapping(path: Path) -> dict[str, object]:
    """Read a job file as plain mappings, lists, text and numbers, checked first as ``read_job`` does.

    Raises
    ------
    JobError
        With every fault in the file.
    """
    text = read_text(path, MAX_BYTES)
    read_job_text(text, str(path))
    plain = read_tree(text, file=str(path))[0].plain()
    return plain if isinstance(plain, dict) else {}


def read_job_text(text: str, file: str) -> Job:
    """Read the text of a job file.

    Parameters
    ----------
    text
        YAML or JSON.
    file
        Name of the file, for messages.

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
        raise JobError([error.fault], file) from None
    faults = Faults(root, list(repeated))
    told = _units(root)
    part = Walk(told, faults).part(JobPart, root, ())
    if told.sure:
        check_job(part, faults, told.unit)
    found = faults.ordered()
    if len(found) > MAX_FAULTS:
        more = Fault(0, "", f"has {len(found) - MAX_FAULTS:,} faults more, not listed")
        raise JobError([*found[:MAX_FAULTS], more], file)
    if found:
        raise JobError(found, file)
    return build_job(part, told.unit)


def _units(root: Value) -> Reading:
    """Return the unit that the file's bare numbers are in; unsure when the file names none that exists."""
    given = root.content.get("units") if isinstance(root.content, dict) else None
    if given is None:
        return Reading(INCH, sure=isinstance(root.content, dict))
    name = given.content
    return Reading(UNITS[name], sure=True) if isinstance(name, str) and name in UNITS else Reading(INCH, sure=False)
