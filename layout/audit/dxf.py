"""Reads a DXF as what it is, pairs of lines; no CAD library is used."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from layout.audit.files import NotReadable, as_text, read_bytes

Pair = tuple[int, str]

KINDS = {
    "ENTITIES": {"LWPOLYLINE", "POLYLINE", "VERTEX", "TEXT", "INSERT", "ATTRIB", "LINE", "DIMENSION"},
    "BLOCKS": {"BLOCK", "ENDBLK", "TEXT", "MTEXT"},
}
"""Section -> the kinds of entities in it that the audit looks at; no others are kept."""


@dataclass(frozen=True, slots=True)
class DxfEntity:
    """One entity of a DXF: its kind, and its pairs, which are some of the file's.

    Parameters
    ----------
    kind
        As the file names it.
    codes, values
        Those of all pairs of the file.
    start, end
        Its own pairs are from the one up to before the other.
    points
        Those of an outline of an old release, which are entities of their own.
    """

    kind: str
    codes: Sequence[int]
    values: Sequence[str]
    start: int
    end: int
    points: tuple[DxfEntity, ...] = ()

    def first(self, code: int) -> str:
        """Return the first value of a code, or nothing."""
        try:
            return self.values[self.codes.index(code, self.start, self.end)]
        except ValueError:
            return ""

    def pairs(self) -> Iterator[Pair]:
        """Return its pairs in order."""
        return zip(self.codes[self.start:self.end], self.values[self.start:self.end])

    def every(self, code: int) -> list[str]:
        """Return all values of a code."""
        return [value for number, value in self.pairs() if number == code]

    def extended(self, application: str) -> list[Pair]:
        """Return the extended data of an application, which stands behind its name."""
        found: list[Pair] = []
        name = ""
        for code, value in self.pairs():
            if code == 1001:
                name = value
            elif code >= 1000 and name == application:
                found.append((code, value))
        return found


@dataclass(frozen=True)
class Dxf:
    """What the audit needs of a DXF: its release, its unit, entities of model space, and the texts of each block."""

    release: str
    unit: str
    entities: tuple[DxfEntity, ...]
    blocks: Mapping[str, Sequence[DxfEntity]] = field(default_factory=dict)


def read_dxf(path: Path) -> Dxf:
    """Return a DXF's unit and entities; raises NotReadable."""
    codes, values = _pairs(path)
    if not codes or (codes[-1], values[-1].strip()) != (0, "EOF"):
        raise NotReadable(102, path.name, "a DXF that ends with EOF", "another end")
    header = {values[at]: values[at + 1].strip() for at in _places(codes, 9)}
    parts: dict[str, list[DxfEntity]] = {name: [] for name in KINDS}
    section = ""
    starts = _places(codes, 0)
    for start, end in itertools.pairwise(starts):
        kind = values[start].strip()
        if kind == "SECTION":
            section = values[start + 1] if codes[start + 1] == 2 else ""
        elif kind == "ENDSEC":
            section = ""
        elif kind in KINDS.get(section, ()):
            parts[section].append(DxfEntity(kind, codes, values, start + 1, end))
    own = tuple(entity for entity in _with_points(parts["ENTITIES"]) if entity.first(67).strip() != "1")
    return Dxf(header.get("$ACADVER", ""), header.get("$INSUNITS", ""), own, _blocks(parts["BLOCKS"]))


def _places(codes: Sequence[int], code: int) -> list[int]:
    """Return where a code stands."""
    found: list[int] = []
    try:
        while True:
            found.append(codes.index(code, found[-1] + 1 if found else 0))
    except ValueError:
        return found


def _with_points(entities: Sequence[DxfEntity]) -> Iterator[DxfEntity]:
    """Yield entities, outlines of an old release with their points, which stand behind them."""
    starts = [at for at, entity in enumerate(entities) if entity.kind == "POLYLINE"]
    yield from entities[:starts[0] if starts else len(entities)]
    for start, end in itertools.pairwise([*starts, len(entities)]):
        points = tuple(entity for entity in entities[start:end] if entity.kind == "VERTEX")
        yield replace(entities[start], points=points)
        yield from entities[start + 1:end]


def _blocks(entities: Iterable[DxfEntity]) -> dict[str, list[DxfEntity]]:
    """Return the entities of each block by its name."""
    blocks: dict[str, list[DxfEntity]] = {}
    inside: list[DxfEntity] = []
    for entity in entities:
        if entity.kind == "BLOCK":
            inside = blocks.setdefault(entity.first(2), [])
        elif entity.kind != "ENDBLK":
            inside.append(entity)
    return blocks


def _text(path: Path) -> str:
    """Return a DXF as text: UTF-8 since release AC1021, before that Western with other letters as codes."""
    data = read_bytes(path)
    release = re.search(rb"\$ACADVER\s+1\s+(AC\d{4})", data[:4096])
    if not release or release[1] >= b"AC1021":
        return as_text(data, path)
    text = data.decode("cp1252", errors="replace")
    return re.sub(r"\\U\+([0-9A-Fa-f]{4})", lambda code: chr(int(code[1], 16)), text)


def _pairs(path: Path) -> tuple[list[int], list[str]]:
    """Return the group codes of a DXF's pairs, and their values; raises NotReadable."""
    lines = _text(path).replace("\r\n", "\n").split("\n")
    if lines and lines[-1] == "":
        lines.pop()
    if len(lines) % 2:
        raise NotReadable(102, path.name, "pairs of lines", f"{len(lines)} lines")
    heads = lines[::2]
    different = set(heads)
    wrong = {head for head in different if not _is_code(head)}
    if wrong:
        number, head = next((number, head) for number, head in enumerate(heads) if head in wrong)
        raise NotReadable(102, f"{path.name}:{2 * number + 1}", "a group code", head[:40])
    codes = {head: int(head) for head in different}
    return [codes[head] for head in heads], lines[1::2]


def _is_code(text: str) -> bool:
    try:
        int(text)
    except ValueError:
        return False
    return True


def finite_number(text: str) -> float:
    """Return a finite number; raises NotReadable."""
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise NotReadable(102, "elevations.dxf", "a number", text[:40])
    return value
