"""A value, a line or an entry cut out of the text of a job file or put in where it belongs; no other byte moves.

The text is composed into nodes that know where they stand.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.nodes import MappingNode, Node, ScalarNode, SequenceNode

from layout.job.change import Change
from layout.job.dump import scalar
from layout.job.model import JobPart
from layout.job.part import Part
from layout.job.tree import Path, spell
from layout.job.walk import keys_of

BLOCKS = ("runs", "faces")
"""Lists whose entries are written one key a line; those of any other new list stand on one line each."""


def spliced(text: str, change: Change, *, as_json: bool) -> str:
    """Return a text with a change put in at its place.

    Parameters
    ----------
    text
        YAML or JSON that can be read, without an alias on the way to the place.
    change
        The change.
    as_json
        Values are written as JSON has them.

    Raises
    ------
    LookupError, ValueError
        When the place is not found.
    """
    return writer_of(text, as_json=as_json).make(change)


def writer_of(text: str, *, as_json: bool = False) -> Splice:
    """Return what puts changes into a text, and writes values as it has them."""
    return Splice(text, YAML(typ="rt", pure=True).compose(text), as_json)


@dataclass(frozen=True)
class Splice:
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
        return scalar(value)

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
