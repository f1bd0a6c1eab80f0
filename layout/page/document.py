"""The job file that the page has open: what it says, how it came to say that, and how it is kept on disk.

Every change is saved at once. A file that another program changed is looked at before anything is written: what it
says becomes the newest state, and the page's own change is put into that. Nothing is overwritten unseen: every state
stays in the history, which undo goes back through.
"""

from __future__ import annotations

import contextlib
import os
import tempfile
import threading
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from layout.errors import Fault, JobError, LayoutError
from layout.files import as_text, read_bytes
from layout.job.limits import MAX_BYTES
from layout.job.rewrite import Change, changed, rewritten
from layout.job.text import read_tree
from layout.job.tree import Unreadable
from layout.page.merge import Clash, rebased

MOST_STATES = 500
"""States kept to go back to."""
MOST_HELD = 60_000_000
"""Characters kept in them together."""
MOST_BASES = 200
"""Earlier states that a change may still have been made on."""

Signature = tuple[int, int, int]
"""When a file was written, its size, and its number on the disk."""
WORKBOOKS = (".xlsx", ".xlsm", ".xls", ".ods")

BLANK = """\
# A job for lapwright, begun on its page. Lengths are text such as 8'-4 1/2", 7 ft, 850 mm, or numbers in `units`.
job:
  name: ""
units: in
sheet:
  width: 36
  rolls: []
runs:
  - name: A
    closed: true
    faces: []
"""


@dataclass(frozen=True)
class State:
    """The job at one time.

    Parameters
    ----------
    text
        The text of the file.
    plain
        The same as plain mappings and lists.
    label
        What made it so, in a few words.
    session
        Changes of one session of typing in one field are one step of the history; empty for a step of its own.
    """

    text: str
    plain: Any
    label: str = ""
    session: str = ""


class Refused(LayoutError):
    """Changes that cannot be made on the job as it is now; holds where they were meant."""

    def __init__(self, why: str, paths: Sequence[tuple[str | int, ...]]) -> None:
        self.paths = tuple(paths)
        super().__init__(why)


class Document:
    """The opened job file.

    Parameters
    ----------
    path
        The file; it need not be there yet.

    Raises
    ------
    JobError
        When there is a file and it cannot be read as a job's mapping.
    """

    def __init__(self, path: Path) -> None:
        self.path = Path(os.path.realpath(path))
        self.revision = 1
        self.trouble = ""
        """Why what the page shows is not what is on disk; empty when it is."""
        self.told = (0, "")
        """What happened to the file that the user must know of, and the state in which it did."""
        self._lock = threading.RLock()
        self._disk: bytes | None = None
        self._seen: Signature | None = None
        self._crlf = self._bom = self._blocked = False
        if self.path.suffix.lower() in WORKBOOKS:
            raise JobError([Fault(0, "", "is a workbook, which the page does not open",
                                  hint=f"write it as a job file first: lapwright new {self.path.stem}.yaml --from "
                                       f"{self.path.name}")],
                           str(path))
        text = self._read()
        self.states = [State(text, plain_of(text, str(self.path)), "opened")]
        self.at = 0
        self._bases: OrderedDict[int, Any] = OrderedDict([(1, self.plain)])

    @property
    def text(self) -> str:
        """What the job file says."""
        return self.states[self.at].text

    @property
    def plain(self) -> Any:
        """The same as plain mappings and lists."""
        return self.states[self.at].plain

    def now(self) -> tuple[int, str, Any]:
        """Return the number of the present state, its text, and the same as plain mappings and lists."""
        with self._lock:
            return self.revision, self.text, self.plain

    @property
    def undoes(self) -> str:
        """What undo would take back; empty when nothing."""
        return self.states[self.at].label if self.at else ""

    @property
    def redoes(self) -> str:
        """What redo would do again; empty when nothing."""
        return self.states[self.at + 1].label if self.at + 1 < len(self.states) else ""

    def edit(self, base: int, changes: Sequence[Change], *, label: str, session: str = "") -> None:
        """Make changes that were meant for an earlier or the present state, and save.

        Parameters
        ----------
        base
            Number of the state they were made on.
        changes
            The changes, each meant for the state that those before it leave.
        label
            What they are, in a few words.
        session
            See ``State``.

        Raises
        ------
        Refused
            When another tab or program changed the same place meanwhile; then nothing is changed.
        LayoutError
            When a change has no place in the job.
        """
        with self._lock:
            self.look()
            before = self._bases.get(base)
            if before is None:
                raise Refused("this tab is too far behind; what it shows is brought up to date", [])
            text = self.text
            try:
                for change in changes:
                    there = plain_of(text, str(self.path))
                    here = rebased(change, before, there)
                    text = rewritten(text, [here], file=str(self.path))
                    before = changed(before, change)
            except Clash as clash:
                raise Refused("was changed elsewhere meanwhile; what is there now was kept", [clash.path]) from None
            if len(text.encode("utf-8")) > MAX_BYTES:
                raise LayoutError(f"the job file must be at most {MAX_BYTES // 1_000_000} MB")
            if text == self.text:
                return
            state = State(text, plain_of(text, str(self.path)), label, session)
            newest = self.states[self.at]
            del self.states[self.at + 1:]
            if session and newest.session == session and self.at:
                self.states[self.at] = state
            else:
                self.states.append(state)
            self._shorten()
            self._went(len(self.states) - 1)
            self._save()

    def undo(self) -> None:
        """Go back one state, and save."""
        self._step(-1)

    def redo(self) -> None:
        """Go forward one state, and save."""
        self._step(1)

    def _step(self, by: int) -> None:
        with self._lock:
            self.look()
            if 0 <= self.at + by < len(self.states):
                self._went(self.at + by)
                self._save()

    def look(self) -> bool:
        """Read the file again if another program changed it, as the newest state; return whether it had changed."""
        with self._lock:
            seen = self._signature()
            if seen == self._seen:
                return False
            self._seen = seen
            try:
                data = read_bytes(self.path, MAX_BYTES) if seen else None
            except JobError as error:
                return self._keep_off(f"the file {error.faults[0].text()}")
            if data == self._disk:
                if self._blocked:
                    self._blocked, self.trouble = False, ""
                    self._save()
                return True
            if data is None:
                self._disk, self._blocked = None, False
                self.trouble = "the file is gone from the disk; the next change writes it again"
                return True
            held = self._disk
            try:
                text = self._read()
                plain = plain_of(text, str(self.path))
            except JobError as error:
                self._disk = held  # what cannot be read is not written over, though its date alone changes again
                return self._keep_off(f"another program changed the file so that it cannot be read: {error}")
            del self.states[self.at + 1:]
            self.states.append(State(text, plain, "what another program changed"))
            self._shorten()
            self._went(len(self.states) - 1)
            self._blocked, self.trouble = False, ""
            self.told = (self.revision, "Another program changed the file. Its version is shown; undo goes back to "
                                        "what was here.")
            return True

    def overwrite(self) -> None:
        """Write what the page shows over a file that cannot be read, because the user said so."""
        with self._lock:
            if not self._blocked:
                return
            with contextlib.suppress(JobError):
                self._disk = read_bytes(self.path, MAX_BYTES)
            self._blocked = False
            self._save()

    def _keep_off(self, why: str) -> bool:
        """Write nothing until the file can be read again, or the user says that it may be written over."""
        self._blocked, self.trouble = True, f"{why}; nothing is written over it, and what you change is kept here"
        return True

    def _went(self, at: int) -> None:
        self.at = at
        self.revision += 1
        self._bases[self.revision] = self.plain
        while len(self._bases) > MOST_BASES:
            self._bases.popitem(last=False)

    def _shorten(self) -> None:
        held = sum(len(state.text) for state in self.states)
        while len(self.states) > 2 and (len(self.states) > MOST_STATES or held > MOST_HELD):
            held -= len(self.states.pop(0).text)

    def _signature(self) -> Signature | None:
        try:
            return _signature_of(os.stat(self.path))
        except OSError:
            return None

    def _read(self) -> str:
        """Return the text on disk, its lines ended in one way, and remember how it was; a blank job without a file."""
        if not self.path.exists():
            return BLANK
        self._seen = self._signature()
        self._disk = read_bytes(self.path, MAX_BYTES)
        text = as_text(self._disk, str(self.path))
        self._bom, self._crlf = self._disk.startswith(b"\xef\xbb\xbf"), "\r\n" in text
        return text.replace("\r\n", "\n")

    def _save(self) -> None:
        """Write the job file, whole or not at all, unless another program changed it since it was looked at."""
        if self._blocked:
            return
        text = self.text.replace("\n", "\r\n") if self._crlf else self.text
        data = (b"\xef\xbb\xbf" if self._bom else b"") + text.encode("utf-8")
        try:
            if self._disk is None:
                seen = _create(self.path, data)
            else:
                if read_bytes(self.path, MAX_BYTES) != self._disk:
                    self._seen = None
                    self.look()  # changed in the last moment: its version becomes the newest state, this one stays
                    return
                seen = _replace(self.path, data)
        except FileExistsError:
            self._seen = None
            self.look()
            return
        except JobError as error:
            self.trouble = f"the file {error.faults[0].text()}; the change is kept here"
            return
        except OSError as error:
            why = (error.strerror or str(error)).lower()
            self.trouble = f"the file cannot be written: {why}; the change is kept here"
            return
        self.trouble = ""
        self._disk, self._seen = data, seen


def plain_of(text: str, file: str) -> Any:
    """Return the text of a job file as plain mappings and lists.

    Raises
    ------
    JobError
        When it cannot be read, or is no mapping.
    """
    try:
        plain = read_tree(text, file=file)[0].plain()
    except Unreadable as error:
        raise JobError([error.fault], file) from None
    if not isinstance(plain, dict):
        raise JobError([Fault(1, "", "must be a mapping of keys to values")], file)
    return plain


def _signature_of(found: os.stat_result) -> Signature:
    """Return what changes whenever another program writes a file."""
    return found.st_mtime_ns, found.st_size, found.st_ino


def _create(path: Path, data: bytes) -> Signature:
    """Write a new file, and return its signature as it was written."""
    with open(path, "xb") as out:
        out.write(data)
        out.flush()
        return _signature_of(os.fstat(out.fileno()))


def _replace(path: Path, data: bytes) -> Signature:
    """Put a file in the place of another in one step, with the other's permissions; return its signature as written.

    It is taken before the file is in its place, where another program may change it at once.
    """
    mode = path.stat().st_mode
    number, name = tempfile.mkstemp(prefix=f".{path.name[:40]}.", dir=path.parent)
    try:
        with os.fdopen(number, "wb") as out:
            out.write(data)
            out.flush()
            os.fsync(out.fileno())
            seen = _signature_of(os.fstat(out.fileno()))
        os.chmod(name, mode & 0o7777)
        os.replace(name, path)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(name)
        raise
    return seen
