"""A job file as a tree of values that know their lines, built from tokens with depth and size counted."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from layout.errors import Fault
from layout.job.limits import MAX_DEPTH, MAX_VALUES

Scalar = str | int | float | bool | None
Path = tuple[str | int, ...]
NAMES = ("name", "tag", "item")
"""Keys by which the entries of a list are called."""


class Place(NamedTuple):
    """Where a value stands: line and column, both from 1; in a workbook its cell too, and lines count through."""

    line: int
    column: int
    cell: str = ""


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

    @property
    def called(self) -> str:
        """What this entry of a list is called: its name, tag or item; empty when it has none."""
        if isinstance(self.content, dict):
            for key in NAMES:
                if key in self.content:
                    return self.content[key].text.strip()
        return ""

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
    """The text is no tree at all; holds the fault that stopped the reading, and others beside it."""

    def __init__(self, fault: Fault, *more: Fault) -> None:
        self.fault = fault
        self.faults = (fault, *more)
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


def named(path: Path, root: Value, counted: dict[int, Counter[str]] | None = None) -> str:
    """Return a path as it is shown, entries of lists called by their names where those tell them apart.

    Parameters
    ----------
    path
        From the root.
    root
        The tree; an entry without a name of its own, or that is not there, is called by its number.
    counted
        How often each name is used in the lists met so far, by ``id``; kept by who asks for many paths of one tree.
    """
    text = ""
    counted = {} if counted is None else counted
    value: Value | None = root
    for step in path:
        content = value.content if value else None
        name = ""
        if isinstance(content, list) and isinstance(step, int) and step < len(content):
            if id(content) not in counted:
                counted[id(content)] = Counter(entry.called for entry in content)
            value = content[step]
            name = value.called if counted[id(content)][value.called] == 1 else ""
        else:
            value = content.get(str(step)) if isinstance(content, dict) else None
        if isinstance(step, int) and not name:
            text += f"[{step}]"
        else:
            text += ("." if text else "") + show(name or str(step))
    return text


def show(text: str, *, most: int = 60) -> str:
    """Return a value from the file fit for one line of a message: printable, and not too long."""
    plain = "".join(char if char.isprintable() else char.encode("unicode_escape").decode() for char in text)
    return plain if len(plain) <= most else plain[:most - 3] + "..."


class Token(NamedTuple):
    """One thing that a file's text says.

    Parameters
    ----------
    kind
        A scalar, an alias, the start of a list or of a mapping, or the end of one.
    place
        Where it starts.
    content
        A scalar's value.
    text
        A scalar as written.
    anchor
        The name that an anchor gives it, or that an alias asks for.
    """

    kind: Literal["scalar", "alias", "list", "mapping", "end"]
    place: Place
    content: Scalar = None
    text: str = ""
    anchor: str | None = None


@dataclass
class _Open:
    """A list or mapping being read."""

    value: Value
    path: Path
    anchor: str | None
    key: str | None = None

    @property
    def wants_key(self) -> bool:
        """Whether the next thing is a key."""
        return isinstance(self.value.content, dict) and self.key is None

    @property
    def next_path(self) -> Path:
        """The path of the next thing."""
        if isinstance(self.value.content, list):
            return (*self.path, len(self.value.content))
        return self.path if self.key is None else (*self.path, self.key)


class _Builder:
    """Puts tokens together with a stack of its own, so that depth and size are counted, not suffered."""

    def __init__(self) -> None:
        self.root: Value | None = None
        self.stack: list[_Open] = []
        self.anchors: dict[str, Value] = {}
        self.repeated: list[tuple[Place, Path, str]] = []
        self.size = 0

    def take(self, token: Token) -> None:
        """Take the next token."""
        if token.kind == "end":
            done = self.stack.pop()
            self._name(done.anchor, done.value)
            self._put(done.value)
        elif token.kind == "scalar":
            self._count(1, token)
            value = Value(token.content, token.place, token.text)
            self._name(token.anchor, value)
            self._put(value)
        elif token.kind == "alias":
            self._alias(token)
        else:
            self._open(token)

    def _open(self, token: Token) -> None:
        self._count(1, token)
        if len(self.stack) >= MAX_DEPTH:
            raise self._refuse(token, f"must not be nested deeper than {MAX_DEPTH} levels")
        if self.stack and self.stack[-1].wants_key:
            raise self._refuse(token, "must have a plain name as key, not a list or mapping")
        path = self.stack[-1].next_path if self.stack else ()
        self.stack.append(_Open(Value([] if token.kind == "list" else {}, token.place), path, token.anchor))

    def _alias(self, token: Token) -> None:
        value = self.anchors.get(token.anchor or "")
        if value is None:
            raise self._refuse(token, "must not use an alias before its anchor ends", f"*{token.anchor}")
        self._count(value.size, token)
        if self.stack and self.stack[-1].wants_key:
            raise self._refuse(token, "must have a plain name as key, not an alias")
        self._put(value)

    def _name(self, anchor: str | None, value: Value) -> None:
        if anchor is not None:
            self.anchors[anchor] = value

    def _count(self, size: int, token: Token) -> None:
        self.size += size
        if self.size > MAX_VALUES:
            raise self._refuse(token, f"must not hold more than {MAX_VALUES:,} values, aliases written out")

    def _refuse(self, token: Token, what: str, got: str = "") -> Unreadable:
        where = spell(self.stack[-1].next_path) if self.stack else ""
        return Unreadable(Fault(token.place[0], where, what, show(got)))

    def _put(self, value: Value) -> None:
        """Put a finished value where the open list or mapping wants it."""
        if not self.stack:
            self.root = value
            return
        into = self.stack[-1]
        into.value.size += value.size
        if isinstance(into.value.content, list):
            into.value.content.append(value)
        elif isinstance(into.value.content, dict) and into.key is None:
            self._put_key(into, into.value.content, value)
        elif isinstance(into.value.content, dict) and into.key is not None:
            into.value.content.setdefault(into.key, value)
            into.key = None

    def _put_key(self, into: _Open, content: dict[str, Value], key: Value) -> None:
        into.key = key.text
        if into.key not in content:
            into.value.keys[into.key] = key.place
            return
        first = into.value.keys[into.key][0]
        self.repeated.append((key.place, (*into.path, into.key), f"must be given once: it is also on line {first}"))


def grow(tokens: Iterable[Token]) -> tuple[Value, list[tuple[Place, Fault]]]:
    """Build the tree of a file.

    Parameters
    ----------
    tokens
        What the file says, in order.

    Returns
    -------
    tuple
        The tree, and the keys given twice, as faults with their places. The first of the two counts.

    Raises
    ------
    Unreadable
        When the file is empty, too deep or too large.
    """
    builder = _Builder()
    for token in tokens:
        builder.take(token)
    if builder.root is None:
        raise Unreadable(Fault(1, "", "must not be empty"))
    root = builder.root
    counted: dict[int, Counter[str]] = {}
    return root, [(place, Fault(place.line, named(path, root, counted), what, path=path))
                  for place, path, what in builder.repeated]
