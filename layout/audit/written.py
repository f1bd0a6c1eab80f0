"""What the packet's plan.json says, read strictly into ticks; nothing in it is trusted to be there."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from pathlib import Path
from typing import Any, TypeVar

from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from layout.audit.files import NotReadable, read_json
from layout.audit.findings import Findings
from layout.units import Unit

WrittenRing = tuple[tuple[int, int], ...]
JsonRow = Mapping[str, Any]
T = TypeVar("T")


@dataclass(frozen=True)
class WrittenFace:
    """A face of a run, by stations [ticks]."""

    name: str
    left: int
    right: int
    corner: str


@dataclass(frozen=True)
class WrittenRun:
    """A run as planned."""

    name: str
    closed: bool
    length: int
    turn_down: int
    toe: int
    faces: tuple[WrittenFace, ...]


@dataclass(frozen=True)
class WrittenDrop:
    """A drop as planned."""

    tag: str
    run: str
    layer: str
    left: int
    right: int
    install: int
    pieces: tuple[str, ...]


@dataclass(frozen=True)
class WrittenSeam:
    """A seam as planned."""

    run: str
    layer: str
    left_edge: int
    right_edge: int
    left: str
    right: str
    over: str
    tuck: bool


@dataclass(frozen=True)
class WrittenLaid:
    """A part of a pattern on one surface: point (x, y) of it lies at ``origin + x * along + y * up`` [ticks]."""

    on: str
    outline: tuple[tuple[float, float], ...]
    origin: tuple[float, float, float]
    along: tuple[float, float, float]
    up: tuple[float, float, float]


@dataclass(frozen=True)
class WrittenDab:
    """A point that no sheet holds, as planned [ticks]."""

    tag: str
    run: str
    face: str
    station: int
    elevation: int
    kind: str
    size: int
    point: tuple[float, float, float]


@dataclass(frozen=True)
class WrittenPiece:
    """A piece as planned; ``ring`` is its outline when ``flat``, else its pattern, which has ``parts``."""

    tag: str
    kind: str
    layer: str
    run: str
    face: str
    product: str
    length: int
    width: int
    flat: bool
    ring: WrittenRing
    holes: tuple[WrittenRing, ...]
    slits: tuple[tuple[tuple[int, int], tuple[int, int]], ...]
    roll: str
    drop: str
    install: int
    pile: str
    marks: tuple[str, ...]
    marks_liner: tuple[str, ...]
    order: int = 0
    parts: tuple[WrittenLaid, ...] = ()

    @cached_property
    def shape(self) -> Polygon:
        """What is left of it once it is cut, slits aside."""
        return Polygon(self.ring, self.holes)


@dataclass(frozen=True)
class WrittenCut:
    """A rectangle cut from a roll."""

    piece: str
    at: int
    across: int
    length: int
    width: int
    within: str = ""


@dataclass(frozen=True)
class WrittenRoll:
    """A roll as cut."""

    tag: str
    product: str
    stock: str
    remnant: bool
    length: int
    width: int
    price: Decimal | None
    cuts: tuple[WrittenCut, ...]
    left_length: int
    left_width: int
    keep: bool


@dataclass(frozen=True)
class WrittenException:
    """A rule the plan says it could not keep."""

    rule: str
    run: str
    at: int
    needed: int
    found: int


@dataclass(frozen=True)
class WrittenDate:
    """By when a face must be covered, as the plan says it."""

    run: str
    face: str
    cover_by: str


@dataclass(frozen=True)
class Summary:
    """The plan's own figures."""

    rolls: Mapping[str, int]
    remnants_used: int
    cost: Decimal | None
    cost_bound: Decimal | None
    rolls_bound: int
    optimal: bool
    area: Mapping[str, Decimal]
    first_come_rolls: int
    certificate: JsonRow


@dataclass(frozen=True)
class Written:
    """Everything plan.json says."""

    runs: tuple[WrittenRun, ...]
    drops: tuple[WrittenDrop, ...]
    seams: tuple[WrittenSeam, ...]
    pieces: tuple[WrittenPiece, ...]
    rolls: tuple[WrittenRoll, ...]
    exceptions: tuple[WrittenException, ...]
    summary: Summary
    products: Mapping[str, Summary]
    takeoff: tuple[JsonRow, ...]
    film_side_up: bool
    dates: tuple[WrittenDate, ...]
    digest: str
    dabs: tuple[WrittenDab, ...]
    costing: JsonRow | None = None
    order: tuple[JsonRow, ...] | None = None

    @cached_property
    def sheets(self) -> Mapping[str, BaseGeometry]:
        """The shapes of each drop's pieces as one, by its tag."""
        shapes = {piece.tag: piece.shape for piece in self.pieces}
        return {drop.tag: unary_union([shapes[tag] for tag in drop.pieces]) for drop in self.drops}


class _Cells:
    """Reads the cells of plan.json in one unit; a wrong one raises with its place."""

    def __init__(self, unit: Unit) -> None:
        self.unit = unit

    def get(self, row: JsonRow, key: str, place: str) -> Any:
        if not isinstance(row, dict):
            raise NotReadable(103, place, "an object", _brief(row))
        if key not in row:
            raise NotReadable(103, f"{place}.{key}", "a value", "nothing")
        return row[key]

    def text(self, row: JsonRow, key: str, place: str) -> str:
        value = self.get(row, key, place)
        if not isinstance(value, str):
            raise NotReadable(103, f"{place}.{key}", "text", _brief(value))
        return value

    def flag(self, row: JsonRow, key: str, place: str) -> bool:
        value = self.get(row, key, place)
        if not isinstance(value, bool):
            raise NotReadable(103, f"{place}.{key}", "true or false", _brief(value))
        return value

    def count(self, row: JsonRow, key: str, place: str) -> int:
        value = self.get(row, key, place)
        if isinstance(value, bool) or not isinstance(value, int):
            raise NotReadable(103, f"{place}.{key}", "a whole number", _brief(value))
        return value

    def money(self, row: JsonRow, key: str, place: str) -> Decimal | None:
        value = self.get(row, key, place)
        return None if value is None else Decimal(repr(_finite(value, f"{place}.{key}")))

    def length(self, row: JsonRow, key: str, place: str) -> int:
        return self.ticks(self.get(row, key, place), f"{place}.{key}")

    def ticks(self, value: object, place: str) -> int:
        ticks = _finite(value, place) * self.unit.ticks
        if abs(ticks) > 1e12 or ticks != round(ticks):
            raise NotReadable(106, place, "a whole number of ticks", _brief(value))
        return round(ticks)

    def rows(self, row: JsonRow, key: str, place: str, read: Callable[[JsonRow, str], T]) -> tuple[T, ...]:
        value = self.get(row, key, place)
        if not isinstance(value, list):
            raise NotReadable(103, f"{place}.{key}", "a list", _brief(value))
        return tuple(read(item, f"{place}.{key}[{index}]") for index, item in enumerate(value))

    def words(self, row: JsonRow, key: str, place: str) -> tuple[str, ...]:
        def word(item: object, where: str) -> str:
            if not isinstance(item, str):
                raise NotReadable(103, where, "text", _brief(item))
            return item

        return self.rows(row, key, place, word)

    def point(self, value: object, place: str) -> tuple[int, int]:
        if not isinstance(value, list) or len(value) != 2:
            raise NotReadable(103, place, "a point [x, y]", _brief(value))
        return self.ticks(value[0], f"{place}[0]"), self.ticks(value[1], f"{place}[1]")

    def ring(self, value: object, place: str) -> WrittenRing:
        if not isinstance(value, list) or len(value) < 3:
            raise NotReadable(103, place, "an outline of three points or more", _brief(value))
        return tuple(self.point(item, f"{place}[{index}]") for index, item in enumerate(value))

    # --- rows ----------------------------------------------------------------------------------

    def run(self, row: JsonRow, place: str) -> WrittenRun:
        return WrittenRun(
            self.text(row, "name", place), self.flag(row, "closed", place), self.length(row, "length", place),
            self.length(row, "turn_down", place), self.length(row, "toe", place),
            self.rows(row, "faces", place, self.face),
        )

    def face(self, row: JsonRow, place: str) -> WrittenFace:
        return WrittenFace(self.text(row, "name", place), self.length(row, "from", place),
                           self.length(row, "to", place), self.text(row, "corner", place))

    def drop(self, row: JsonRow, place: str) -> WrittenDrop:
        return WrittenDrop(
            self.text(row, "tag", place), self.text(row, "run", place), self.text(row, "layer", place),
            self.length(row, "left", place), self.length(row, "right", place), self.count(row, "install", place),
            self.words(row, "pieces", place),
        )

    def seam(self, row: JsonRow, place: str) -> WrittenSeam:
        return WrittenSeam(
            self.text(row, "run", place), self.text(row, "layer", place), self.length(row, "from", place),
            self.length(row, "to", place), self.text(row, "left", place), self.text(row, "right", place),
            self.text(row, "over", place), self.flag(row, "tuck", place),
        )

    def piece(self, row: JsonRow, place: str) -> WrittenPiece:
        flat = isinstance(row, dict) and "outline" in row
        key = "outline" if flat else "pattern"
        return WrittenPiece(
            tag=self.text(row, "tag", place), kind=self.text(row, "kind", place), layer=self.text(row, "layer", place),
            run=self.text(row, "run", place), face=self.text(row, "face", place),
            product=self.text(row, "product", place), length=self.length(row, "length", place),
            width=self.length(row, "width", place), flat=flat,
            ring=self.ring(self.get(row, key, place), f"{place}.{key}"),
            holes=self.rows(row, "holes", place, self.ring),
            slits=self.rows(row, "slits", place, self.slit),
            roll="" if self.get(row, "roll", place) is None else self.text(row, "roll", place),
            drop=self.text(row, "drop", place), install=self.count(row, "install", place),
            pile=self.text(row, "pile", place), marks=self.words(row, "marks", place),
            marks_liner=self.words(row, "marks_liner", place), order=self.count(row, "order", place),
            parts=self.rows(row, "parts", place, self.laid) if "parts" in row else (),
        )

    def laid(self, row: JsonRow, place: str) -> WrittenLaid:
        outline = self.get(row, "outline", place)
        if not isinstance(outline, list) or len(outline) < 3:
            raise NotReadable(103, f"{place}.outline", "an outline of three points or more", _brief(outline))
        spots = tuple(self.floats(spot, 2, f"{place}.outline[{index}]") for index, spot in enumerate(outline))
        per = self.unit.ticks
        origin, along, up = (self.floats(self.get(row, key, place), 3, f"{place}.{key}")
                             for key in ("origin", "along", "up"))
        return WrittenLaid(self.text(row, "on", place), tuple((x * per, y * per) for x, y in spots),
                           (origin[0] * per, origin[1] * per, origin[2] * per), (along[0], along[1], along[2]),
                           (up[0], up[1], up[2]))

    def floats(self, value: object, count: int, place: str) -> tuple[float, ...]:
        if not isinstance(value, list) or len(value) != count:
            raise NotReadable(103, place, f"{count} numbers", _brief(value))
        return tuple(_finite(item, f"{place}[{index}]") for index, item in enumerate(value))

    def dab(self, row: JsonRow, place: str) -> WrittenDab:
        x, y, z = (value * self.unit.ticks for value in self.floats(self.get(row, "point", place), 3, f"{place}.point"))
        return WrittenDab(
            self.text(row, "tag", place), self.text(row, "run", place), self.text(row, "face", place),
            self.length(row, "station", place), self.length(row, "elevation", place), self.text(row, "kind", place),
            self.length(row, "size", place), (x, y, z),
        )

    def slit(self, row: JsonRow, place: str) -> tuple[tuple[int, int], tuple[int, int]]:
        return (self.point(self.get(row, "from", place), f"{place}.from"),
                self.point(self.get(row, "to", place), f"{place}.to"))

    def roll(self, row: JsonRow, place: str) -> WrittenRoll:
        left = self.get(row, "leftover", place)
        return WrittenRoll(
            tag=self.text(row, "tag", place), product=self.text(row, "product", place),
            stock=self.text(row, "stock", place), remnant=self.flag(row, "remnant", place),
            length=self.length(row, "length", place), width=self.length(row, "width", place),
            price=self.money(row, "price", place), cuts=self.rows(row, "cuts", place, self.cut),
            left_length=self.length(left, "length", f"{place}.leftover"),
            left_width=self.length(left, "width", f"{place}.leftover"),
            keep=self.flag(left, "keep", f"{place}.leftover"),
        )

    def cut(self, row: JsonRow, place: str) -> WrittenCut:
        return WrittenCut(self.text(row, "piece", place), self.length(row, "at", place),
                          self.length(row, "across", place), self.length(row, "length", place),
                          self.length(row, "width", place),
                          self.text(row, "within", place) if "within" in row else "")

    def exception(self, row: JsonRow, place: str) -> WrittenException:
        return WrittenException(self.text(row, "rule", place), self.text(row, "run", place),
                                self.length(row, "at", place), self.length(row, "needed", place),
                                self.length(row, "found", place))

    def date(self, row: JsonRow, place: str) -> WrittenDate:
        return WrittenDate(self.text(row, "run", place), self.text(row, "face", place),
                           self.text(row, "cover_by", place))

    def summary(self, row: JsonRow, place: str) -> Summary:
        rolls = self.get(row, "rolls", place)
        area = self.get(row, "area", place)
        if not isinstance(rolls, dict) or not all(type(count) is int for count in rolls.values()):
            raise NotReadable(103, f"{place}.rolls", "a count for each stock", _brief(rolls))
        if not isinstance(area, dict):
            raise NotReadable(103, f"{place}.area", "an object", _brief(area))
        names = ("to_cover", "laps", "cut_away", "leftover_kept", "scrap", "ordered")
        areas = {name: self.money(area, name, f"{place}.area") or Decimal(0) for name in names}
        return Summary(
            rolls=rolls, remnants_used=self.count(row, "remnants_used", place), cost=self.money(row, "cost", place),
            cost_bound=self.money(row, "cost_bound", place), rolls_bound=self.count(row, "rolls_bound", place),
            optimal=self.flag(row, "optimal", place), area=areas,
            first_come_rolls=self.count(row, "first_come_rolls", place),
            certificate=row["certificate"] if isinstance(row.get("certificate"), dict) else {},
        )

    def product(self, row: JsonRow, place: str) -> tuple[str, Summary]:
        return self.text(row, "product", place), self.summary(row, place)

    def any_row(self, row: JsonRow, place: str) -> JsonRow:
        if not isinstance(row, dict):
            raise NotReadable(103, place, "an object", _brief(row))
        return row


def _finite(value: object, place: str) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
        raise NotReadable(103, place, "a number", _brief(value))
    return value


def _brief(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "…"


def read_written(folder: Path, unit: Unit) -> Written:
    """Read plan.json of a packet.

    Parameters
    ----------
    folder
        The packet.
    unit
        The job's unit, in which the numbers must be.

    Raises
    ------
    NotReadable
        With the finding that says what is wrong, and where.
    """
    data = read_json(folder / "plan.json")
    cells = _Cells(unit)
    heading = tuple(cells.get(data, key, "plan.json") for key in ("format", "version", "unit"))
    if heading != ("lapwright plan", 1, unit.name):
        raise NotReadable(108, "plan.json", f"lapwright plan, version 1, unit {unit.name}", _brief(heading))
    place = "plan.json"
    return Written(
        runs=cells.rows(data, "runs", place, cells.run), drops=cells.rows(data, "drops", place, cells.drop),
        seams=cells.rows(data, "seams", place, cells.seam), pieces=cells.rows(data, "pieces", place, cells.piece),
        rolls=cells.rows(data, "rolls", place, cells.roll),
        exceptions=cells.rows(data, "exceptions", place, cells.exception),
        summary=cells.summary(cells.get(data, "summary", place), f"{place}.summary"),
        products=dict(cells.rows(data, "products", place, cells.product)),
        takeoff=cells.rows(data, "takeoff", place, cells.any_row),
        film_side_up=cells.flag(data, "film_side_up", place), dates=cells.rows(data, "dates", place, cells.date),
        digest=cells.text(data, "digest", place), dabs=cells.rows(data, "dabs", place, cells.dab),
        costing=cells.any_row(data["costing"], f"{place}.costing") if data.get("costing") is not None else None,
        order=cells.rows(data, "order", place, cells.any_row) if "order" in data else None,
    )


def check_tags(plan: Written, book: Findings) -> None:
    """Note tags used twice and names of things that are not there."""
    for kind, tags in (
        ("run", [run.name for run in plan.runs]), ("drop", [drop.tag for drop in plan.drops]),
        ("piece", [piece.tag for piece in plan.pieces]), ("roll", [roll.tag for roll in plan.rolls]),
    ):
        for tag in sorted({tag for tag in tags if tags.count(tag) > 1} if len(set(tags)) < len(tags) else ()):
            book.note(104, f"{kind} {tag}", "once", f"{tags.count(tag)} times")
    runs = {run.name for run in plan.runs}
    drops = {drop.tag: drop for drop in plan.drops}
    pieces = {piece.tag: piece for piece in plan.pieces}
    rolls = {roll.tag for roll in plan.rolls}

    def known(names: set[str] | Mapping[str, object], name: str, place: str, what: str) -> None:
        if name not in names:
            book.note(105, place, f"a {what} of the plan", name or "nothing")

    for drop in plan.drops:
        known(runs, drop.run, f"drop {drop.tag}", "run")
        for tag in drop.pieces:
            known(pieces, tag, f"drop {drop.tag}", "piece")
            own = (drop.tag, drop.run, drop.layer)
            if tag in pieces and (there := (pieces[tag].drop, pieces[tag].run, pieces[tag].layer)) != own:
                book.note(105, f"piece {tag}", " ".join(own), " ".join(there))
        if not drop.pieces:
            book.note(105, f"drop {drop.tag}", "pieces", "none")
    for seam in plan.seams:
        place = f"seam of {seam.left} and {seam.right}"
        known(runs, seam.run, place, "run")
        for tag in (seam.left, seam.right):
            known(drops, tag, place, "drop")
        if seam.over not in (seam.left, seam.right):
            book.note(105, place, f"{seam.left} or {seam.right} over", seam.over)
    for piece in plan.pieces:
        known(runs, piece.run, f"piece {piece.tag}", "run")
        if piece.roll:
            known(rolls, piece.roll, f"piece {piece.tag}", "roll")
        if piece.kind == "drop" and (piece.drop not in drops or piece.tag not in drops[piece.drop].pieces):
            book.note(105, f"piece {piece.tag}", "a drop of the plan that lists it", piece.drop or "none")
    for roll in plan.rolls:
        for cut in roll.cuts:
            known(pieces, cut.piece, f"roll {roll.tag}", "piece")
    for exception in plan.exceptions:
        known(runs, exception.run, f"exception {exception.rule}", "run")
