"""The packet as one folder: written aside, looked over, then put in place whole, or not at all.

Everything is written into a hidden folder beside the packet's place. On Linux it then changes places with an
older packet in one step, so that at no moment is there half a packet or none. Elsewhere the older packet is
renamed aside first and put back if anything fails; a run killed between the two renames is mended by the next.
A run holds a lock on its own hidden folder, so that another run can tell what a killed one left behind.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import hashlib
import json
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path

from layout.errors import JobError, LayoutError
from layout.files import MOST_PLAN_BYTES, read_bytes
from layout.names import clean
from layout.packet.cut_list import cut_list_csv
from layout.packet.names import inside
from layout.packet.order_list import order_csv
from layout.packet.plan_json import FORMAT, plan_json
from layout.packet.takeoff_list import takeoff_csv
from layout.records import Finding, Plan

try:
    import fcntl
except ImportError:  # not a POSIX system: nothing left by a killed run is removed there
    fcntl = None  # type: ignore[assignment]

Content = str | bytes | Callable[[Path], None]
"""A file's text, its bytes, or what writes it to a path."""
FolderCheck = Callable[[Path], Sequence[Finding]]
"""Looks a written packet over, and says what is wrong with it."""

SUMS = "SHA256SUMS"
"""The file that tells of every other whether it is still as it was written."""
REJECTED = "-rejected"
"""What is added to the name of a packet in which something was found."""
_NEW, _OLD = "lapwright-new-", "lapwright-old-"
_TRIES = 50
_AT_FDCWD, _RENAME_EXCHANGE = -100, 2  # linux/fcntl.h, linux/fs.h


def write_folder(
    plan: Plan, job_text: str, folder: Path, *, drawings: Mapping[str, Content], check: FolderCheck | None = None,
    folds: Mapping[str, str] | None = None,
) -> tuple[Finding, ...]:
    """Write the packet of a plan as one folder, whole or not at all.

    Parameters
    ----------
    plan
        The plan.
    job_text
        job.yaml: the job as read.
    folder
        Where the packet goes. A packet that is there is replaced whole.
    drawings
        Further files by their place in the packet, with forward slashes; SVG files also go into packet.html.
    check
        Looks over what was written before it is put in place.
    folds
        Tag -> picture of how a piece folds, as SVG, for its card in packet.html.

    Returns
    -------
    tuple
        What the check found. When it found anything the packet lies at the folder's name with ``-rejected`` at
        its end, and an older packet stays as it was.

    Raises
    ------
    LayoutError
        When the folder's place cannot be used: it is a file, a folder that is no packet, or cannot be written.
    """
    place = Path(os.path.realpath(folder))
    try:
        refuse_foreign(place)
        aside = place.with_name(place.name + REJECTED)
        place.parent.mkdir(parents=True, exist_ok=True)
        with _workplace(place) as work:
            _write_files(work, plan, job_text, drawings, folds or {})
            findings = tuple(check(work)) if check else ()
            if findings:
                refuse_foreign(aside)
            _put(work, aside if findings else place)
    except OSError as error:
        raise LayoutError(f"{folder}: the packet cannot be written: {error.strerror or error}") from error
    return findings


@contextlib.contextmanager
def whole_folder(folder: Path, refuse: Callable[[Path], None]) -> Iterator[Path]:
    """Give a hidden folder to write into, and put it in its place, whole, when everything is written.

    Parameters
    ----------
    folder
        Its place; what is there is replaced in one step where the system can.
    refuse
        Raises for a place whose content must not be replaced.
    """
    place = Path(os.path.realpath(folder))
    refuse(place)
    place.parent.mkdir(parents=True, exist_ok=True)
    with _workplace(place) as work:
        yield work
        _put(work, place, refuse)


def refuse_foreign(place: Path) -> None:
    """Raise LayoutError unless a packet may be put at a place: nothing there, an empty folder, or a packet.

    A packet that holds a file of progress is not replaced either: it may be the only word on what is cut.
    """
    if not place.name:
        raise LayoutError(f"{place}: a packet needs a folder of its own")
    if not place.exists() and not place.is_symlink():
        return
    if not place.is_dir():
        raise LayoutError(f"{place}: is a file, not a packet folder; it was left alone")
    names = sorted(os.listdir(place))
    if not names:
        return
    if _format_of(place / "plan.json") != FORMAT:
        raise LayoutError(f"{place}: is a folder but not a packet (no plan.json of a plan); it was left alone")
    for name in names:
        if name.endswith(".json") and name != "plan.json" and _format_of(place / name) == "lapwright progress":
            raise LayoutError(f"{place}: holds the progress file {name}; move it out first, it was left alone")


def _format_of(path: Path) -> object:
    """Return what a JSON file says it is, or None."""
    try:
        if path.is_symlink() or not path.is_file():
            return None
        data = json.loads(read_bytes(path, MOST_PLAN_BYTES))
    except (JobError, OSError, ValueError, RecursionError):
        return None
    return data.get("format") if isinstance(data, dict) else None


def _write_files(
    work: Path, plan: Plan, job_text: str, drawings: Mapping[str, Content], folds: Mapping[str, str],
) -> None:
    """Write every file of the packet into a folder."""
    from layout.packet.html import html, manifest, worker
    from layout.packet.workbook import write_workbook

    files: dict[str, Content] = dict(drawings)
    files["plan.json"] = plan_json(plan)
    files["job.yaml"] = job_text
    files["packet.webmanifest"] = manifest(plan)
    files["packet-worker.js"] = worker()
    files["cut-list.csv"] = cut_list_csv(plan)
    files["takeoff.csv"] = takeoff_csv(plan)
    files["order.csv"] = order_csv(plan.order)
    files["cut-list.xlsx"] = lambda path: write_workbook(plan, path)
    for name in sorted(files):
        _write_file(work, name, files[name])
    svgs = {name: (work / inside(name)).read_text("utf-8") for name in sorted(drawings) if name.endswith(".svg")}
    _write_file(work, "packet.html", html(plan, svgs, folds))
    _write_file(work, SUMS, sums_of(work))


def sums_of(folder: Path) -> str:
    """Return the sums of a packet's files as ``sha256sum`` writes and checks them."""
    names = sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
    return "".join(f"{hashlib.sha256((folder / name).read_bytes()).hexdigest()}  {name}\n" for name in names)


def _write_file(work: Path, name: str, content: Content) -> None:
    path = work.joinpath(*inside(name).parts)
    path.parent.mkdir(parents=True, exist_ok=True)
    if isinstance(content, str):
        path.write_bytes(content.encode("utf-8"))
    elif isinstance(content, bytes):
        path.write_bytes(content)
    else:
        content(path)


@contextlib.contextmanager
def _workplace(place: Path) -> Iterator[Path]:
    """Give a hidden folder beside a packet's place, locked while in use and gone afterwards."""
    _mend(place)
    lock: int | None = None
    while True:
        work = Path(tempfile.mkdtemp(prefix=hidden_prefix(place) + _NEW, dir=place.parent))
        if fcntl is None:
            break
        try:
            lock = os.open(work, os.O_RDONLY)
            fcntl.flock(lock, fcntl.LOCK_EX)
            if os.path.samestat(os.fstat(lock), os.stat(work)):
                break
        except FileNotFoundError:
            pass  # another run took the new folder for one left behind: make another
        if lock is not None:
            os.close(lock)
            lock = None
    inner = work / "packet"
    try:
        inner.mkdir()
        yield inner
    finally:
        _remove(work)
        if lock is not None:
            os.close(lock)


def hidden_prefix(place: Path) -> str:
    """Return what the hidden folders beside a packet's place are called: short, and its own, whatever its name."""
    return f".{clean(place.name)[:40]}-{hashlib.sha256(os.fsencode(place.name)).hexdigest()[:8]}."


def _mend(place: Path) -> None:
    """Put right what a killed run left: an older packet renamed aside goes back, unused new ones go."""
    prefix = hidden_prefix(place)
    for name in sorted(os.listdir(place.parent)):
        path = place.parent / name
        if name.startswith(prefix + _OLD) and path.is_dir():
            with contextlib.suppress(OSError):
                if place.exists():
                    _remove(path)
                else:
                    os.rename(path / "packet", place)
                    _remove(path)
        elif name.startswith(prefix + _NEW) and path.is_dir() and fcntl is not None:
            _remove_if_dead(path)


def _remove_if_dead(work: Path) -> None:
    """Remove a hidden folder that no run holds."""
    try:
        lock = os.open(work, os.O_RDONLY)
    except OSError:
        return
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        _remove(work)
    except OSError:
        pass  # its run is alive
    finally:
        os.close(lock)


def _remove(path: Path) -> None:
    shutil.rmtree(path, ignore_errors=True)


def _put(work: Path, place: Path, refuse: Callable[[Path], None] = refuse_foreign) -> None:
    """Put a written folder in place; what was there ends where the written folder was, to be removed with it."""
    for _ in range(_TRIES):
        try:
            os.rename(work, place)  # nothing there, or an empty folder
            return
        except OSError as error:
            if error.errno not in (errno.ENOTEMPTY, errno.EEXIST, errno.ENOTDIR, errno.EACCES, errno.EPERM):
                raise
            last = error
        refuse(place)
        if exchange(work, place) or _swap(work, place):
            return
    raise last


def exchange(one: Path, other: Path) -> bool:
    """Let two folders change places in one step where the system can; say whether it was done."""
    try:
        rename = ctypes.CDLL(None, use_errno=True).renameat2
    except (AttributeError, OSError, TypeError):
        return False
    done = rename(_AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(other), _RENAME_EXCHANGE)
    return bool(done == 0)


def _swap(work: Path, place: Path) -> bool:
    """Rename the older packet aside and the new one in; put the older one back when that fails."""
    holder = Path(tempfile.mkdtemp(prefix=hidden_prefix(place) + _OLD, dir=place.parent))
    kept = holder / "packet"
    try:
        os.rename(place, kept)
    except OSError:
        _remove(holder)
        return False
    try:
        os.rename(work, place)
    except OSError:
        with contextlib.suppress(OSError):
            os.rename(kept, place)  # another run may have put its own packet there: then that one stands
        _remove(holder)
        return False
    _remove(holder)
    return True
