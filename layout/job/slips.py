"""What a person did when a job file is no YAML: a quote inside quotes, a missing space after a colon, a tab.

The parser says where it stopped and what it would have needed; the line there, or one above it, shows the slip. Where
none is known, the parser's own words are told.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from typing import get_args

from layout.errors import Fault
from layout.job.model import JobPart
from layout.job.part import Part
from layout.job.tree import show

LOOK_BACK = 3
"""A slip stands at most so many lines above the place where the parser stops, unless it is a quote."""

LONGEST = 1000
"""Only so much of a line is looked at [characters]."""

_QUOTED_TWICE = re.compile(r'(?:(?<=[:,\[{] )|(?<=^- )|(?<=[\[{,]))"(?P<bare>[^"]*")"')
_QUOTED_FEET = re.compile(r"(?:(?<=[:,\[{] )|(?<=[\[{,]))'(?P<bare>\d+'[ -]*\d[^']*)'")
_LOOKALIKES = {"\u00a0": "space", "\u3000": "space", "\uff1a": "colon", "\u2009": "space", "\u202f": "space"}
_KEY = r"(?P<key>[A-Za-z_]+)"
_NO_SPACE = re.compile(rf"\s*(?:- )?{_KEY}:(?P<value>[^\s:].*)")
_NO_DASH_SPACE = re.compile(r"\s*-(?P<value>[A-Za-z_]+:.*)")
_NO_COLON = re.compile(rf"\s*(?:- )?{_KEY}(?P<sign>\s*=\s*|\s+)(?P<value>[^\s:=].*)")
_VALUE = r"(?P<value>\"[^\"]*\"|'[^']*'|[^\"'\[{#][^,{}\[\]]*?)"
_TWO_COLONS = re.compile(_KEY + ": " + _VALUE + r"(?P<gap>[;\s]+)(?P<next>[A-Za-z_0-9]+): ")
_COLON_INSIDE = re.compile(rf"{_KEY}: (?P<value>[^\"'\[{{#,][^,{{}}\[\]]*: [^,{{}}\[\]]*)")


@dataclass(frozen=True)
class ParserStop:
    """Where the parser stopped.

    Parameters
    ----------
    lines
        The file.
    line
        Where it stopped, from 0.
    opened
        Where what it was reading began, from 0.
    problem
        Its own words.
    """

    lines: list[str]
    line: int
    opened: int
    problem: str

    def back(self, most: int) -> Iterator[tuple[int, str]]:
        """Yield lines upward from where it stopped with their numbers from 0; empty ones and comments are left out."""
        seen = 0
        for number in range(min(self.line, len(self.lines) - 1), -1, -1):
            text = self.lines[number]
            if not text.strip() or text.lstrip().startswith("#"):
                continue
            yield number, text
            seen += 1
            if seen > most:
                return


@cache
def known_keys() -> frozenset[str]:
    """Return every key of the job file, in whatever part."""
    found: set[str] = set()

    def add(model: type[Part]) -> None:
        for name, info in model.model_fields.items():
            found.add(info.alias or name)
            todo: list[object] = [info.annotation]
            while todo:
                annotation = todo.pop()
                todo += get_args(annotation)
                if isinstance(annotation, type) and issubclass(annotation, Part):
                    add(annotation)

    add(JobPart)
    return frozenset(found)


def slip(stop: ParserStop) -> Fault:
    """Return what is wrong where the parser stopped, in words of what a person did."""
    for look in _LOOKS:
        fault = look(stop)
        if fault is not None:
            return fault
    return Fault(stop.line + 1, "", f"cannot be read as YAML: {show(stop.problem, most=120)}")


def _fault(number: int, what: str, got: str = "", hint: str = "") -> Fault:
    return Fault(number + 1, "", what, show(got.strip()), hint)


def _tab(stop: ParserStop) -> Fault | None:
    text = stop.lines[stop.line] if stop.line < len(stop.lines) else ""
    if "\t" not in text:
        return None
    return _fault(stop.line, "must not have a tab in it", text, "indent with spaces, not tabs")


def _lookalike(stop: ParserStop) -> Fault | None:
    for number, text in stop.back(LOOK_BACK):
        for sign, name in _LOOKALIKES.items():
            if sign in (text if name == "colon" else text[:len(text) - len(text.lstrip())]):
                return _fault(number, f"must not have a character that only looks like a {name}", text,
                              f"type the {name} again")
    return None


def _quote(stop: ParserStop) -> Fault | None:
    """A quote inside quotes: in the lines above too, since what follows is read as one long text."""
    for number, text in stop.back(len(stop.lines)):
        match = _QUOTED_TWICE.search(text) or _QUOTED_FEET.search(text)
        if match:
            return _fault(number, "must not have a quote inside quotes", match[0],
                          f"write feet and inches without quotes around them: {match['bare']}")
    return None


def _space_after_colon(stop: ParserStop) -> Fault | None:
    for number, text in stop.back(LOOK_BACK):
        match = _NO_SPACE.fullmatch(text)
        if match and match["key"] in known_keys():
            return _fault(number, "must have a space after the colon", text,
                          f"write {match['key']}: {show(match['value'])}")
    return None


def _space_after_dash(stop: ParserStop) -> Fault | None:
    for number, text in stop.back(LOOK_BACK):
        match = _NO_DASH_SPACE.fullmatch(text)
        if match:
            return _fault(number, "must have a space after the dash", text, f"write - {show(match['value'])}")
    return None


def _colon(stop: ParserStop) -> Fault | None:
    """A key without its colon."""
    for number, text in stop.back(LOOK_BACK):
        match = _NO_COLON.fullmatch(text)
        if match and match["key"] in known_keys():
            return _fault(number, f"must have a colon after {match['key']}", text,
                          f"write {match['key']}: {show(match['value'])}")
    return None


def _bracket_too_many(stop: ParserStop) -> Fault | None:
    match = re.search(r"found '([}\]])'", stop.problem)
    return _fault(stop.line, f"has one {match[1]} too many") if match else None


def _comma(stop: ParserStop) -> Fault | None:
    """Two entries on one line without a comma between them."""
    if stop.line != stop.opened or "expected ','" not in stop.problem:
        return None
    for match in _TWO_COLONS.finditer(stop.lines[stop.line]):
        if match["next"] in known_keys():
            hint = "not a semicolon" if ";" in match["gap"] else ""
            return _fault(stop.line, f"must have a comma before {match['next']}", match[0], hint)
    return None


def _colon_inside(stop: ParserStop) -> Fault | None:
    """Text with a colon in it that is not in quotes."""
    text = stop.lines[stop.line] if stop.line < len(stop.lines) else ""
    match = _COLON_INSIDE.search(text)
    if not match or stop.line != stop.opened and "expected ','" in stop.problem:
        return None
    value = match["value"].strip()
    inner = value.partition(":")[0]
    if inner in known_keys():
        return _fault(stop.line, f"must have {inner} on a line of its own, indented under {match['key']}", text)
    return _fault(stop.line, "must have text with a colon in it in quotes", value,
                  f'write {match["key"]}: "{show(value)}"' if '"' not in value else "")


def _not_closed(stop: ParserStop) -> Fault | None:
    match = re.search(r"expected ',' or '([}\]])'", stop.problem)
    if not match:
        return None
    opening = {"}": "{", "]": "["}[match[1]]
    return _fault(stop.opened, f"must have a {match[1]} for the {opening} that opens here", stop.lines[stop.opened])


def _reserved(stop: ParserStop) -> Fault | None:
    match = re.search(r"found character '(.)' that cannot start", stop.problem)
    if not match:
        return None
    return _fault(stop.line, f"must have text that starts with {match[1]} in quotes", stop.lines[stop.line])


def _open_quote(stop: ParserStop) -> Fault | None:
    if "end of stream" not in stop.problem:
        return None
    return _fault(stop.opened, "must close the quote that opens here", stop.lines[stop.opened])


def _indent(stop: ParserStop) -> Fault | None:
    if not re.search(r"mapping values are not allowed|<block mapping start>|found '[?-]'|block sequence|block entries",
                     stop.problem):
        return None
    return _fault(stop.line, "must be indented as the lines that it belongs with", stop.lines[stop.line])


_LOOKS: tuple[Callable[[ParserStop], Fault | None], ...] = (
    _tab, _quote, _space_after_colon, _space_after_dash, _lookalike, _bracket_too_many, _comma, _colon_inside, _colon,
    _reserved, _open_quote, _not_closed, _indent,
)
