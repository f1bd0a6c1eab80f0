"""Text of a job file to a tree of values that know their lines; every oddity of YAML and JSON dies here."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError, YAMLError
from ruamel.yaml.events import (
    AliasEvent, DocumentStartEvent, Event, MappingEndEvent, NodeEvent, ScalarEvent, SequenceEndEvent,
    SequenceStartEvent,
)
from ruamel.yaml.reader import ReaderError

from layout.errors import Fault
from layout.job.limits import MAX_DEPTH, MAX_VALUES

Scalar = str | int | float | bool | None
Path = tuple[str | int, ...]
Place = tuple[int, int]
"""Line and column, both from 1."""


@dataclass
class Value:
    """A scalar, a list or a mapping, and where it stands.

    Parameters
    ----------
    content
        A scalar, a list of values, or a mapping of keys to values.
    place
        Where it starts.
    text
        A scalar as written, for messages.
    keys
        Where each key of a mapping stands.
    size
        How many values it holds once aliases are written out, itself included.
    """

    content: Scalar | list[Value] | dict[str, Value]
    place: Place
    text: str = ""
    keys: dict[str, Place] = field(default_factory=dict)
    size: int = 1

    def plain(self) -> object:
        """Return the value without its places: what a validator takes."""
        if isinstance(self.content, list):
            return [value.plain() for value in self.content]
        if isinstance(self.content, dict):
            return {key: value.plain() for key, value in self.content.items()}
        return self.content

    def follow(self, path: Path) -> tuple[Value | None, Place]:
        """Return the value at a path and its place; None, and the last place on the way, when there is none."""
        value, place = self, self.place
        for step in path:
            if isinstance(value.content, dict) and step in value.content:
                place = value.keys[str(step)]
                value = value.content[str(step)]
            elif isinstance(value.content, dict) and step in value.keys:
                return None, value.keys[str(step)]
            elif isinstance(value.content, list) and isinstance(step, int) and step < len(value.content):
                value = value.content[step]
                place = value.place
            else:
                return None, place
        return value, place


class Unreadable(Exception):
    """The text is no tree at all; holds the one fault that stopped the reading."""

    def __init__(self, fault: Fault) -> None:
        self.fault = fault
        super().__init__(fault.text())


def spell(path: Path) -> str:
    """Return a path as it is shown.

    Examples
    --------
    >>> spell(("runs", 0, "faces", 2, "length"))
    'runs[0].faces[2].length'
    """
    text = ""
    for step in path:
        text += f"[{step}]" if isinstance(step, int) else f".{show(step)}" if text else show(step)
    return text


def show(text: str, *, most: int = 60) -> str:
    """Return a value from the file fit for one line of a message: printable, and not too long."""
    plain = "".join(char if char.isprintable() else char.encode("unicode_escape").decode() for char in text)
    return plain if len(plain) <= most else plain[:most - 3] + "..."


@dataclass
class _Open:
    """A list or mapping being read."""

    value: Value
    path: Path
    anchor: str | None
    key: str | None = None

    @property
    def next_path(self) -> Path:
        if isinstance(self.value.content, list):
            return (*self.path, len(self.value.content))
        return self.path if self.key is None else (*self.path, self.key)


class _Builder:
    """Builds the tree from parser events with a stack of its own, so that depth and size are counted, not suffered."""

    def __init__(self) -> None:
        self.root: Value | None = None
        self.stack: list[_Open] = []
        self.anchors: dict[str, Value] = {}
        self.faults: list[tuple[Place, Fault]] = []
        self.size = 0

    def take(self, event: Event) -> None:
        place = (event.start_mark.line + 1, event.start_mark.column + 1)
        if isinstance(event, DocumentStartEvent) and self.root is not None:
            raise Unreadable(Fault(place[0], "", "must be one document, without a second one after ---"))
        if isinstance(event, NodeEvent):
            self._node(event, place)
        elif isinstance(event, (SequenceEndEvent, MappingEndEvent)):
            self._close(place)

    def _node(self, event: NodeEvent, place: Place) -> None:
        if isinstance(event, AliasEvent):
            value = self.anchors.get(event.anchor)
            if value is None:
                raise Unreadable(Fault(place[0], self._where(), "must not use an alias before its anchor ends",
                                       f"*{event.anchor}"))
            self._count(value.size, place)
            self._put(value, place)
            return
        tag = getattr(event, "tag", None)
        if tag is not None and str(tag) != "!":
            raise Unreadable(Fault(place[0], self._where(), "must not have a YAML tag", show(str(tag))))
        self._count(1, place)
        if isinstance(event, ScalarEvent):
            quoted = event.style in ("'", '"', "|", ">")
            content = event.value if quoted else resolve(event.value)
            value = Value(content, place, event.value if event.value or not quoted else "''")
            if event.anchor:
                self.anchors[event.anchor] = value
            self._put(value, place)
            return
        if len(self.stack) >= MAX_DEPTH:
            raise Unreadable(Fault(place[0], self._where(), f"must not be nested deeper than {MAX_DEPTH} levels"))
        content_of: list[Value] | dict[str, Value] = [] if isinstance(event, SequenceStartEvent) else {}
        path = self.stack[-1].next_path if self.stack else ()
        if self.stack and isinstance(self.stack[-1].value.content, dict) and self.stack[-1].key is None:
            raise Unreadable(Fault(place[0], spell(path), "must have a plain name as key, not a list or mapping"))
        self.stack.append(_Open(Value(content_of, place), path, event.anchor))

    def _count(self, size: int, place: Place) -> None:
        self.size += size
        if self.size > MAX_VALUES:
            raise Unreadable(Fault(place[0], self._where(),
                                   f"must not hold more than {MAX_VALUES:,} values, aliases written out"))

    def _close(self, place: Place) -> None:
        done = self.stack.pop()
        if done.anchor:
            self.anchors[done.anchor] = done.value
        self._put(done.value, place)

    def _put(self, value: Value, place: Place) -> None:
        """Put a finished value where the open list or mapping wants it."""
        if not self.stack:
            self.root = value
            return
        into = self.stack[-1]
        into.value.size += value.size
        if isinstance(into.value.content, list):
            into.value.content.append(value)
        elif isinstance(into.value.content, dict):
            if into.key is None:
                if isinstance(value.content, (list, dict)):
                    raise Unreadable(Fault(place[0], spell(into.path),
                                           "must have a plain name as key, not a list or mapping"))
                into.key = value.text
                if into.key in into.value.content:
                    first = into.value.keys[into.key][0]
                    self.faults.append((place, Fault(
                        place[0], spell((*into.path, into.key)), f"must be given once: it is also on line {first}")))
                else:
                    into.value.keys[into.key] = place
            else:
                into.value.content.setdefault(into.key, value)
                into.key = None

    def _where(self) -> str:
        return spell(self.stack[-1].next_path) if self.stack else ""


_INT = re.compile(r"[-+]?[0-9]{1,18}")
_FLOAT = re.compile(r"[-+]?(?:[0-9]+\.[0-9]*|\.[0-9]+|[0-9]+)(?:[eE][-+]?[0-9]{1,4})?")
_WORDS: dict[str, Scalar] = {
    "": None, "~": None, "null": None, "Null": None, "NULL": None,
    "true": True, "True": True, "TRUE": True, "false": False, "False": False, "FALSE": False,
    ".nan": float("nan"), ".NaN": float("nan"), ".NAN": float("nan"), "NaN": float("nan"),
    ".inf": float("inf"), ".Inf": float("inf"), ".INF": float("inf"), "+.inf": float("inf"),
    "-.inf": float("-inf"), "-.Inf": float("-inf"), "-.INF": float("-inf"),
    "Infinity": float("inf"), "-Infinity": float("-inf"),
}


def resolve(text: str) -> Scalar:
    """Return what a plain scalar means: YAML 1.2's core schema without octal, hexadecimal and dates."""
    if text in _WORDS:
        return _WORDS[text]
    if _INT.fullmatch(text):
        return int(text)
    if len(text) <= 60 and _FLOAT.fullmatch(text):
        return float(text)
    return text


def read_tree(text: str) -> tuple[Value, list[tuple[Place, Fault]]]:
    """Read the text of a job file.

    Parameters
    ----------
    text
        YAML 1.2, or JSON.

    Returns
    -------
    tuple
        The tree, and what is wrong in it already (keys given twice) with its place.

    Raises
    ------
    Unreadable
        When the text cannot be read to its end, or is too deep or too large.
    """
    builder = _Builder()
    for event in _events(text):
        builder.take(event)
    if builder.root is None:
        raise Unreadable(Fault(1, "", "must not be empty"))
    return builder.root, builder.faults


def _events(text: str) -> Iterator[Event]:
    try:
        yield from YAML(typ="safe", pure=True).parse(text)
    except ReaderError as error:
        line = text.count("\n", 0, error.position) + 1
        raise Unreadable(Fault(line, "", "must not hold control characters", f"#x{error.character:04x}")) from None
    except MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line = mark.line + 1 if mark else 1
        problem = show(" ".join(str(error.problem or error.context or "").split()), most=120)
        hint = "indent with spaces, not tabs" if "'\\t'" in problem else ""
        raise Unreadable(Fault(line, "", f"cannot be read as YAML: {problem}", hint=hint)) from None
    except (YAMLError, ValueError, RecursionError) as error:
        raise Unreadable(Fault(1, "", f"cannot be read as YAML: {show(str(error), most=120)}")) from None
