"""Changes put into the text of a job file where they belong; every other byte stays, comments and order with it.

The text is composed into nodes that know where they stand; a value, a line or an entry is cut out or put in there.
What comes out is read again and must say exactly what the changes mean, else nothing is returned. Where one value is
used in several places (an anchor and its aliases) it is first written out in each of them.
"""

from __future__ import annotations

import copy
import io
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from ruamel.yaml import YAML
from ruamel.yaml.error import YAMLError
from ruamel.yaml.nodes import MappingNode, Node, ScalarNode, SequenceNode

from layout.errors import LayoutError
from layout.job.model import JobPart
from layout.job.part import Part
from layout.job.text import read_tree, yaml_tokens
from layout.job.tree import Path, Token, Unreadable, spell
from layout.job.walk import keys_of

WIDE = 1_000_000
"""Line width at which nothing is broken into lines [characters]."""
BLOCKS = ("runs", "faces")
"""Lists whose entries are written one key a line; those of any other new list stand on one line each."""


@dataclass(frozen=True)
class Change:
    """One change of a job file.

    Parameters
    ----------
    do
        ``set`` a value, ``remove`` a key or an entry, ``insert`` an entry before the one of that number, ``move`` an
        entry.
    path
        The keys and numbers that lead to it.
    value
        What is set or inserted: a scalar, a list or a mapping.
    to
        The number that a moved entry then has.
    """

    do: Literal["set", "remove", "insert", "move"]
    path: Path
    value: Any = None
    to: int = 0


def changed(plain: object, change: Change) -> Any:
    """Return plain mappings and lists with a change made in a copy of them.

    Raises
    ------
    LayoutError
        When there is no such place.

    Examples
    --------
    >>> changed({"faces": [{"length": 4}]}, Change("set", ("faces", 0, "length"), 5))
    {'faces': [{'length': 5}]}
    """
    root = copy.deepcopy(plain)
    _make(root, change)
    return root


def rewritten(text: str, changes: Iterable[Change], *, file: str = "") -> str:
    """Return the text of a job file with changes in it.

    Parameters
    ----------
    text
        YAML or JSON that can be read.
    changes
        Made one after the other.
    file
        Name of the file; one that ends in .json stays JSON.

    Raises
    ------
    LayoutError
        When a change has no place in the file, or cannot be written so that the file says just that.
    """
    for change in changes:
        meant = changed(_plain(text, file), change)
        for way in (_spliced, _parted):
            try:
                written = way(text, change, as_json=_is_json(text, file))
                if _same(_plain(written, file), meant):
                    break
            except (LayoutError, YAMLError, LookupError, TypeError, ValueError):
                continue
        else:
            raise LayoutError(f"{spell(change.path)}: cannot be written into the file as it stands")
        text = written
    return text


def _plain(text: str, file: str) -> object:
    try:
        return read_tree(text, file=file)[0].plain()
    except Unreadable as error:
        raise LayoutError(error.fault.text(file)) from None


def _is_json(text: str, file: str) -> bool:
    if file.lower().endswith(".json"):
        return True
    try:
        return text.lstrip().startswith("{") and isinstance(json.loads(text), dict)
    except ValueError:
        return False


def _same(one: object, other: object) -> bool:
    """Tell whether two plain values say the same; a number that is whole may be written either way."""
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(_same(one[key], other[key]) for key in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_same, one, other))
    return type(one) is type(other) and (one == other or one != one)


def _make(root: Any, change: Change) -> None:
    """Make a change in mappings and lists."""
    def missing() -> LayoutError:
        return LayoutError(f"{spell(change.path)}: there is no such place in the file")

    *above, last = change.path or (None,)
    here = root
    for number, step in enumerate(above):
        following = change.path[number + 1]
        if isinstance(here, dict) and isinstance(step, str):
            if here.get(step) is None and change.do in ("set", "insert"):
                here[step] = [] if isinstance(following, int) else {}
            here = here.get(step)
        elif isinstance(here, list) and isinstance(step, int) and 0 <= step < len(here):
            here = here[step]
        else:
            raise missing()
    if isinstance(here, dict) and isinstance(last, str) and change.do in ("set", "remove"):
        if change.do == "set":
            here[last] = copy.deepcopy(change.value)
        elif last in here:
            del here[last]
        else:
            raise missing()
        return
    if not isinstance(here, list) or not isinstance(last, int):
        raise missing()
    if change.do == "insert" and 0 <= last <= len(here):
        here.insert(last, copy.deepcopy(change.value))
    elif change.do == "set" and 0 <= last < len(here):
        here[last] = copy.deepcopy(change.value)
    elif change.do == "remove" and 0 <= last < len(here):
        del here[last]
    elif change.do == "move" and 0 <= last < len(here) and 0 <= change.to < len(here):
        here.insert(change.to, here.pop(last))
    else:
        raise missing()


# --- by the place in the text ------------------------------------------------------------------

def _spliced(text: str, change: Change, *, as_json: bool) -> str:
    root = YAML(typ="rt", pure=True).compose(text)
    return _Splice(text, root, as_json).make(change)


@dataclass(frozen=True)
class _Splice:
    """The text, its nodes, and how values are written in it."""

    text: str
    root: Node
    as_json: bool

    def make(self, change: Change) -> str:
        *above, last = change.path
        chain = [self.root]
        for number, step in enumerate(above):
            found = _child(chain[-1], step)
            if found is None or _is_null(found):  # what leads there is not in the file yet
                rest = change.path[number + 1:]
                return self.make(Change("set", change.path[:number + 1], _wrapped(rest, change.value)))
            chain.append(found)
        here = chain[-1]
        if isinstance(here, MappingNode) and isinstance(last, str):
            return self.set_key(here, last, change) if change.do == "set" else self.remove_key(here, last)
        if isinstance(here, SequenceNode) and not here.value and change.do == "insert" and last == 0:
            return self.make(Change("set", change.path[:-1], [change.value]))
        if isinstance(here, SequenceNode) and isinstance(last, int):
            key = next((step for step in reversed(above) if isinstance(step, str)), "")
            return self.in_list(here, last, change, key)
        raise LookupError(spell(change.path))

    # mappings

    def set_key(self, here: MappingNode, key: str, change: Change) -> str:
        for name, value in here.value:
            if name.value == key:
                return self.replace(name, value, change.value, key)
        pair = f"{self.scalar(key)}: {self.flow(change.value)}"
        if here.flow_style:
            before = _following([name for name, _ in here.value], change.path)
            if before is not None:
                return self.put(before.start_mark.index, f"{pair}, ")
            return self.put(_end(here.value[-1][1]), f", {pair}") if here.value \
                else self.put(here.start_mark.index + 1, pair)
        column = here.value[0][0].start_mark.column
        if isinstance(change.value, list) and change.value and isinstance(change.value[0], dict):
            pair = f"{key}:{self.block(change.value, column + 2, key)}"
        before = _following([name for name, _ in here.value], change.path)
        if before is not None:
            start = self.line_start(before)
            if self.text[start:before.start_mark.index].strip():  # behind the dash of a list
                return self.put(before.start_mark.index, pair + "\n" + " " * column)
            return self.put(self.line_start(self.above(before)), " " * column + pair + "\n")
        return self.put_line(self.line_end(_end(here.value[-1][1])), " " * column + pair)

    def replace(self, name: Node, value: Node, new: Any, key: str) -> str:
        written = self.flow(new)
        if not _is_block(value) and not _is_null(value):
            column = name.start_mark.column
            if isinstance(new, list) and new and isinstance(new[0], dict) and not value.value \
                    and not self.in_flow(name.start_mark.index):
                colon = self.text.index(":", name.end_mark.index) + 1
                after = self.line_end(value.end_mark.index)
                return (self.text[:colon] + self.text[value.end_mark.index:after].rstrip()
                        + self.block(new, column + 2, key) + self.text[after:])
            return self.text[:value.start_mark.index] + written + self.text[value.end_mark.index:]
        colon = self.text.index(":", name.end_mark.index) + 1
        if _is_null(value) and isinstance(new, list) and new and isinstance(new[0], dict) \
                and not self.in_flow(name.start_mark.index):
            return self.put(self.line_end(colon), self.block(new, name.start_mark.column + 2, key))
        end = colon if _is_null(value) else _end(value)
        return f"{self.text[:colon]} {written}{self.text[end:]}"

    def remove_key(self, here: MappingNode, key: str) -> str:
        at = next(number for number, (name, _) in enumerate(here.value) if name.value == key)
        name, value = here.value[at]
        if len(here.value) == 1:
            return self.text[:here.start_mark.index] + "{}" + self.text[
                here.end_mark.index if here.flow_style else _end(value):]
        if here.flow_style:
            return self.cut_flow([(name.start_mark.index, max(_end(value), name.end_mark.index))
                                  for name, value in here.value], at)
        if at == 0 and self.text[self.line_start(name):name.start_mark.index].strip():  # behind the dash of a list
            return self.text[:name.start_mark.index] + self.text[here.value[1][0].start_mark.index:]
        return self.text[:self.line_start(name)] + self.text[self.line_end(max(_end(value), name.end_mark.index)) + 1:]

    # lists

    def in_list(self, here: SequenceNode, at: int, change: Change, key: str) -> str:
        items = here.value
        if change.do == "set":
            item = items[at]
            return self.text[:item.start_mark.index] + self.flow(change.value) + self.text[_end(item):]
        if here.flow_style or not items:
            return self.in_flow_list(here, at, change)
        ends = [self.line_end(_end(item)) + 1 for item in items]
        starts = [self.line_start(self.above(item)) for item in items]
        if change.do == "insert":
            column = self.dash(items[0])
            flow = items[0].flow_style if isinstance(items[0], MappingNode) else True
            written = self.entry(change.value, column, flow=bool(flow), key=key)
            return self.put(starts[at], written + "\n") if at < len(items) else self.put_line(ends[-1] - 1, written)
        if change.do == "remove":
            return self.text[:starts[at]] + self.text[ends[at]:]
        cut = self.text[starts[at]:ends[at]]
        cut = cut if cut.endswith("\n") else cut + "\n"
        if change.to <= at:
            return self.text[:starts[change.to]] + cut + self.text[starts[change.to]:starts[at]] + self.text[ends[at]:]
        between = self.text[ends[at]:ends[change.to]]
        between = between if between.endswith("\n") else between + "\n"
        return self.text[:starts[at]] + between + cut + self.text[ends[change.to]:]

    def in_flow_list(self, here: SequenceNode, at: int, change: Change) -> str:
        spans = [(item.start_mark.index, _end(item)) for item in here.value]
        if change.do == "remove":
            return self.cut_flow(spans, at)
        if change.do == "move":
            words = [self.text[start:end] for start, end in spans]
            words.insert(change.to, words.pop(at))
            text = self.text
            for (start, end), word in reversed(list(zip(spans, words, strict=True))):
                text = text[:start] + word + text[end:]
            return text
        written = self.flow(change.value)
        if not spans:
            return self.put(here.start_mark.index + 1, written)
        return self.put(spans[at][0], written + ", ") if at < len(spans) else self.put(spans[-1][1], ", " + written)

    def cut_flow(self, spans: Sequence[tuple[int, int]], at: int) -> str:
        """Take one of several things between commas out."""
        if at + 1 < len(spans):
            return self.text[:spans[at][0]] + self.text[spans[at + 1][0]:]
        start = spans[at - 1][1] if at else spans[at][0]
        return self.text[:start] + self.text[spans[at][1]:]

    # places

    def line_start(self, node: Node | int) -> int:
        index = node if isinstance(node, int) else node.start_mark.index
        return self.text.rfind("\n", 0, index) + 1

    def line_end(self, index: int) -> int:
        """Return where the line of a place ends: at its newline, or at the end of the text."""
        found = self.text.find("\n", index)
        return len(self.text) if found < 0 else found

    def above(self, node: Node) -> int:
        """Return the first of the comment lines right above an entry that are indented like it, or the entry."""
        start = self.line_start(node)
        margin = len(self.text[start:]) - len(self.text[start:].lstrip(" "))
        while start:
            before = self.line_start(start - 1)
            line = self.text[before:start - 1]
            if not line.strip().startswith("#") or len(line) - len(line.lstrip(" ")) != margin:
                break
            start = before
        return start

    def dash(self, item: Node) -> int:
        """Return the column of the dash before an entry."""
        return self.text.rindex("-", 0, item.start_mark.index) - self.line_start(item)

    def in_flow(self, index: int) -> bool:
        """Tell whether a place lies within brackets or braces."""
        def within(node: Node) -> bool:
            end = max(node.end_mark.index, _end(node))
            if isinstance(node, ScalarNode) or not node.start_mark.index <= index < end:
                return False
            return not _is_block(node) or any(map(within, _children(node)))

        return within(self.root)

    def put(self, index: int, words: str) -> str:
        return self.text[:index] + words + self.text[index:]

    def put_line(self, end: int, line: str) -> str:
        """Put a line after the one that ends at a place."""
        return self.text[:end] + "\n" + line + (self.text[end:] or "\n")

    # writing

    def flow(self, value: Any) -> str:
        if self.as_json:
            return json.dumps(value, ensure_ascii=False)
        if isinstance(value, Mapping):
            return "{" + ", ".join(f"{self.scalar(key)}: {self.flow(item)}" for key, item in value.items()) + "}"
        if isinstance(value, list):
            return "[" + ", ".join(map(self.flow, value)) + "]"
        return self.scalar(value)

    def scalar(self, value: Any) -> str:
        """Return a scalar as it may stand within brackets, and so anywhere."""
        if self.as_json:
            return json.dumps(value, ensure_ascii=False)
        out = io.StringIO()
        yaml = YAML(typ="rt", pure=True)
        yaml.width, yaml.default_flow_style, yaml.allow_unicode = WIDE, True, True
        yaml.dump([value], out)
        return out.getvalue().strip()[1:-1].strip()

    def block(self, items: Sequence[Mapping[str, Any]], column: int, key: str) -> str:
        """Return the lines of a new list, each after a newline."""
        return "".join("\n" + self.entry(item, column, flow=key not in BLOCKS, key=key) for item in items)

    def entry(self, value: Any, column: int, *, flow: bool, key: str) -> str:
        """Return the lines of a list's entry, without the last newline."""
        margin = " " * column + "- "
        if flow or not isinstance(value, Mapping) or not value:
            return margin + self.flow(value)
        lines = []
        for name, item in value.items():
            if isinstance(item, list) and item and isinstance(item[0], Mapping):
                lines.append(f"{name}:{self.block(item, column + 4, name)}")
            else:
                lines.append(f"{self.scalar(name)}: {self.flow(item)}")
        return margin + ("\n" + " " * (column + 2)).join(lines)


def _following(names: Sequence[Node], path: Path) -> Node | None:
    """Return the first key of a mapping that stands after a new one in the job's usual order."""
    model: type[Part] | None = JobPart
    for step in path[:-1]:
        if isinstance(step, str) and model is not None:
            key = keys_of(model).get(step)
            model = key.part if key is not None else None
    order = list(keys_of(model)) if model is not None else []
    later = order[order.index(path[-1]) + 1:] if path[-1] in order else []
    return next((name for name in names if name.value in later), None)


def _wrapped(rest: Path, value: Any) -> Any:
    """Return a value inside the lists and mappings that lead to it."""
    for step in reversed(rest):
        value = [value] if isinstance(step, int) else {step: value}
    return value


def _child(node: Node, step: str | int) -> Node | None:
    if isinstance(node, MappingNode):
        return next((value for name, value in node.value if name.value == step), None)
    if isinstance(node, SequenceNode) and isinstance(step, int):
        child: Node = node.value[step]
        return child
    raise LookupError(step)


def _children(node: Node) -> list[Node]:
    if isinstance(node, MappingNode):
        return [value for _, value in node.value]
    return list(node.value) if isinstance(node, SequenceNode) else []


def _is_block(node: Node) -> bool:
    return isinstance(node, (MappingNode, SequenceNode)) and not node.flow_style


def _is_null(node: Node) -> bool:
    return isinstance(node, ScalarNode) and node.value == "" and node.start_mark.index == node.end_mark.index


def _end(node: Node) -> int:
    """Return where a node's own text ends; the parser says of a block that it ends where the next thing begins."""
    if isinstance(node, MappingNode) and not node.flow_style and node.value:
        name, value = node.value[-1]
        return max(int(name.end_mark.index) + 1, _end(value)) if _is_null(value) else _end(value)
    if isinstance(node, SequenceNode) and not node.flow_style and node.value:
        return _end(node.value[-1])
    return int(node.end_mark.index)


# --- where a value is used in several places -----------------------------------------------------

def _parted(text: str, change: Change, *, as_json: bool) -> str:
    """Write what each alias stands for in its place, then put the change in."""
    if as_json:
        return json.dumps(changed(json.loads(text), change), indent=2, ensure_ascii=False) + "\n"
    plain = _plain(text, "")
    starts = [0, *(at + 1 for at, char in enumerate(text) if char == "\n")]
    writer = _Splice(text, YAML(typ="rt", pure=True).compose(text), as_json)
    for path, token in reversed(list(_aliases(text))):
        value = plain
        for step in path:
            value = value[step]  # type: ignore[index]
        start = starts[token.place[0] - 1] + token.place[1] - 1
        text = text[:start] + writer.flow(value) + text[start + 1 + len(token.anchor or ""):]
    return _spliced(text, change, as_json=False)


def _aliases(text: str) -> Iterator[tuple[Path, Token]]:
    """Yield where the aliases of a YAML text stand."""
    stack: list[tuple[bool, list[Any]]] = []  # of each open mapping or list: which it is, and its latest step

    def begin() -> None:
        if stack and not stack[-1][0]:
            stack[-1][1][0] += 1

    for token in yaml_tokens(text):
        if token.kind == "end":
            stack.pop()
            if stack and stack[-1][0]:
                stack[-1][1][0] = None
            continue
        if stack and stack[-1][0] and stack[-1][1][0] is None:
            stack[-1][1][0] = token.text  # a key
            continue
        begin()
        if token.kind in ("list", "mapping"):
            stack.append((token.kind == "mapping", [None if token.kind == "mapping" else -1]))
            continue
        if token.kind == "alias":
            yield tuple(steps[0] for _, steps in stack), token
        if stack and stack[-1][0]:
            stack[-1][1][0] = None
