"""Reads a DXF as what it is, pairs of lines; no CAD library is used."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from layout.audit.files import NotReadable, as_text, read_bytes

Pair = tuple[int, str]


@dataclass
class DxfEntity:
    """One entity of a DXF: its kind and its pairs, extended data by application."""

    kind: str
    pairs: list[Pair] = field(default_factory=list)
    extended: dict[str, list[Pair]] = field(default_factory=dict)
    points: list[DxfEntity] = field(default_factory=list)

    def first(self, code: int) -> str:
        """Return the first value of a code, or nothing."""
        return next((value for number, value in self.pairs if number == code), "")


@dataclass(frozen=True)
class Dxf:
    """What the audit needs of a DXF: its release, its unit, the entities of model space, and those of each block."""

    release: str
    unit: str
    entities: tuple[DxfEntity, ...]
    blocks: Mapping[str, Sequence[DxfEntity]] = field(default_factory=dict)


def read_dxf(path: Path) -> Dxf:
    """Return a DXF's unit and entities; raises NotReadable."""
    pairs = list(_pairs(path))
    header = {name: pairs[index + 1][1].strip() for index, (code, name) in enumerate(pairs[:-1]) if code == 9}
    entities: list[DxfEntity] = []
    section = ""
    parts: dict[str, list[DxfEntity]] = {"ENTITIES": entities, "BLOCKS": []}
    for index, (code, value) in enumerate(pairs):
        if code == 2 and pairs[index - 1] == (0, "SECTION"):
            section = value
        elif code == 0:
            if value == "ENDSEC":
                section = ""
            elif section in parts:
                parts[section].append(DxfEntity(value))
                if value == "VERTEX":  # the points of an outline of an old release are entities of their own
                    whole = next((one for one in reversed(parts[section]) if one.kind == "POLYLINE"), None)
                    if whole:
                        whole.points.append(parts[section][-1])
        elif section in parts and parts[section]:
            _take(parts[section][-1], code, value)
    if not pairs or pairs[-1] != (0, "EOF"):
        raise NotReadable(102, path.name, "a DXF that ends with EOF", "another end")
    own = tuple(entity for entity in entities if entity.first(67).strip() != "1")
    return Dxf(header.get("$ACADVER", ""), header.get("$INSUNITS", ""), own, _blocks(parts["BLOCKS"]))


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


def _take(entity: DxfEntity, code: int, value: str) -> None:
    if code == 1001:
        entity.extended[value] = []
    elif code >= 1000 and entity.extended:
        entity.extended[next(reversed(entity.extended))].append((code, value))
    else:
        entity.pairs.append((code, value))


def _text(path: Path) -> str:
    """Return a DXF as text: UTF-8 since release AC1021, before that Western with other letters as codes."""
    data = read_bytes(path)
    release = re.search(rb"\$ACADVER\s+1\s+(AC\d{4})", data[:4096])
    if not release or release[1] >= b"AC1021":
        return as_text(data, path)
    text = data.decode("cp1252", errors="replace")
    return re.sub(r"\\U\+([0-9A-Fa-f]{4})", lambda code: chr(int(code[1], 16)), text)


def _pairs(path: Path) -> Iterator[Pair]:
    lines = _text(path).replace("\r\n", "\n").split("\n")
    if lines and lines[-1] == "":
        lines.pop()
    if len(lines) % 2:
        raise NotReadable(102, path.name, "pairs of lines", f"{len(lines)} lines")
    for number in range(0, len(lines), 2):
        try:
            yield int(lines[number]), lines[number + 1].strip() if lines[number].strip() == "0" else lines[number + 1]
        except ValueError:
            raise NotReadable(102, f"{path.name}:{number + 1}", "a group code", lines[number][:40]) from None


def finite_number(text: str) -> float:
    """Return a finite number; raises NotReadable."""
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise NotReadable(102, "elevations.dxf", "a number", text[:40])
    return value
