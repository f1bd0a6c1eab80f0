"""What the job asks for, read again from its own words: the audit's side of the comparison.

Everything is in ticks. Lengths that are not on a tick are rounded once, toward the safe side.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from layout.units import UNITS, Rounding, Unit, read_length, round_ticks

ProfilePoints = tuple[tuple[float, float], ...]

RULES: dict[str, tuple[Rounding, str, str]] = {
    "side_lap": ("up", "2 1/2 in", "65 mm"),
    "end_lap": ("up", "5 in", "127 mm"),
    "end_lap_stagger": ("up", "12 in", "305 mm"),
    "above_grade": ("up", "0", "0"),
    "fillet": ("down", "3/4 in", "19 mm"),
    "opening_return": ("up", "0", "0"),
    "min_width": ("up", "12 in", "305 mm"),
    "max_piece": ("down", "12 ft", "3650 mm"),
    "clear_of_corner": ("up", "6 in", "150 mm"),
    "clear_of_sleeve": ("up", "6 in", "150 mm"),
    "clear_of_opening": ("up", "6 in", "150 mm"),
    "clear_of_step": ("up", "6 in", "150 mm"),
    "corner_strip": ("up", "12 in", "300 mm"),
    "base_strip": ("up", "12 in", "300 mm"),
    "base_strip_up": ("up", "4 in", "105 mm"),
    "collar_reach": ("up", "6 in", "150 mm"),
    "cover_lap": ("up", "6 in", "150 mm"),
    "cut_allowance": ("up", "0", "0"),
    "cut_to": ("up", "1/4 in", "5 mm"),
    "roll_end": ("up", "1 in", "25 mm"),
    "keep_remnant": ("up", "4 ft", "1220 mm"),
}
"""Rule -> which way it is rounded, and its default in inch and in metric jobs."""


@dataclass(frozen=True)
class AskedOpening:
    """An opening as the job gives it, on its run [ticks]."""

    tag: str
    left: float
    right: float
    bottom: float
    top: float


@dataclass(frozen=True)
class AskedSleeve:
    """A sleeve as the job gives it, on its run [ticks]."""

    tag: str
    x: float
    y: float
    diameter: float
    projects: float = 0.0


@dataclass(frozen=True)
class AskedFace:
    """A face as the job gives it; profiles run over [left, right] of its run [ticks]."""

    name: str
    left: float
    right: float
    top: ProfilePoints
    footing: ProfilePoints
    grade: ProfilePoints | None
    ledge: float
    footing_depth: float
    corner: str
    angle: float
    openings: tuple[AskedOpening, ...]
    sleeves: tuple[AskedSleeve, ...]


@dataclass(frozen=True)
class AskedRun:
    """A run as the job gives it."""

    name: str
    closed: bool
    length: float
    flow: str
    lows: tuple[float, ...]
    highs: tuple[float, ...]
    drain: ProfilePoints
    faces: tuple[AskedFace, ...]


@dataclass(frozen=True)
class AskedStock:
    """Rolls of one length that can be bought, or one remnant (then ``tag`` is its tag)."""

    tag: str
    length: int
    width: int
    price: Decimal | None
    on_hand: int | None


@dataclass(frozen=True)
class Asked:
    """The whole job in the audit's own words, for one layer."""

    unit: Unit
    layer: str
    rules: Mapping[str, int]
    top: str
    turn_down: tuple[int, int]
    stock: Mapping[str, tuple[AskedStock, ...]]
    remnants: Mapping[str, tuple[AskedStock, ...]]
    runs: tuple[AskedRun, ...]
    film_side_up: bool
    job: Mapping[str, Any]


class _Lengths:
    """Reads lengths of one job."""

    def __init__(self, unit: Unit) -> None:
        self.unit = unit

    def ticks(self, value: object, toward: Rounding) -> int:
        return round_ticks(read_length(value, self.unit), toward)

    def profile(self, value: object, toward: Rounding, *, left: int, right: int) -> ProfilePoints:
        """Return a profile over [left, right], its stations given from ``left``."""
        if not isinstance(value, Sequence) or isinstance(value, str):
            level = self.ticks(value, toward)
            return ((left, level), (right, level))
        points = [(left + self.ticks(x, "nearest"), self.ticks(y, toward)) for x, y in value]
        if points[0][0] > left:
            points.insert(0, (left, points[0][1]))
        if points[-1][0] < right:
            points.append((right, points[-1][1]))
        return tuple(points)


def read_asked(job: Mapping[str, Any]) -> Asked:
    """Read a job that is known to be without faults.

    Parameters
    ----------
    job
        The job file as plain mappings, lists, text and numbers.

    Raises
    ------
    ValueError, KeyError, TypeError
        When it is not such a job after all.
    """
    unit = UNITS[job.get("units") or "in"]
    read = _Lengths(unit)
    rules = job.get("rules") or {}
    metric = unit.name == "mm"
    values = {
        name: read.ticks(_or(rules.get(name), mm if metric else inch), toward)
        for name, (toward, inch, mm) in RULES.items()
    }
    sheet = job["sheet"]
    strip = job.get("strip") or {}
    products = {"membrane": sheet, "strip": strip, "drainage": job.get("drainage_board") or {}}
    flap = {"drainage": _flap(products["drainage"], read)}
    return Asked(
        unit=unit, layer="membrane", rules=values, top=rules.get("top") or "wall",
        turn_down=_turn_down(_or(rules.get("turn_down"), ["102 mm", "150 mm"] if metric else ["4 in", "6 in"]), read),
        stock={name: _rolls(product, read, flap.get(name, 0)) for name, product in products.items()},
        remnants={name: _remnants(product, read, flap.get(name, 0)) for name, product in products.items()},
        runs=tuple(_run(run, read) for run in job["runs"]),
        film_side_up=_or(job.get("film_side_up"), True), job=job,
    )


def _or(value: Any, otherwise: Any) -> Any:
    return otherwise if value is None else value


def _turn_down(value: object, read: _Lengths) -> tuple[int, int]:
    if isinstance(value, Sequence) and not isinstance(value, str):
        return read.ticks(value[0], "up"), read.ticks(value[1], "down")
    return read.ticks(value, "up"), read.ticks(value, "up")


def _flap(board: Mapping[str, Any], read: _Lengths) -> int:
    """Return how far a drainage board's flap stands out past its panel; it is part of the board's width on the wall."""
    return read.ticks(_or(board.get("flap"), "80 mm" if read.unit.name == "mm" else "3 in"), "up")


def _rolls(product: Mapping[str, Any], read: _Lengths, flap: int) -> tuple[AskedStock, ...]:
    return tuple(
        AskedStock("", read.ticks(roll["length"], "down"), read.ticks(product["width"], "down") + flap,
                   None if roll.get("price") is None else Decimal(str(roll["price"])), roll.get("on_hand"))
        for roll in product.get("rolls") or ()
    )


def _remnants(product: Mapping[str, Any], read: _Lengths, flap: int) -> tuple[AskedStock, ...]:
    return tuple(
        AskedStock(str(remnant["tag"]), read.ticks(remnant["length"], "down"),
                   read.ticks(_or(remnant.get("width"), product["width"]), "down") + flap, Decimal(0), 1)
        for remnant in product.get("remnants") or ()
    )


def board_of(asked: Asked) -> Asked | None:
    """Return the job as the drainage board must follow it, or None when there is no board.

    The board hangs from ``top_below_grade`` under grade where a run's every face has a grade, else from the
    membrane line, never over either, and ends at the wall/footing joint. It laps by its flap, and is cut tight
    around openings.
    """
    board = asked.job.get("drainage_board")
    if not board:
        return None
    read = _Lengths(asked.unit)
    metric = asked.unit.name == "mm"

    def length(key: str, inch: str, mm: str, toward: Rounding = "up") -> int:
        return read.ticks(_or(board.get(key), mm if metric else inch), toward)

    below = -length("top_below_grade", "6 in", "150 mm")
    flap = length("flap", "3 in", "80 mm")
    rules = {
        **asked.rules, "side_lap": flap, "end_lap": flap, "fillet": 0, "opening_return": 0,
        "above_grade": min(below, asked.rules["above_grade"]) if asked.top == "grade" else below,
        "min_width": length("min_width", "12 in", "305 mm"),
        "max_piece": length("max_piece", "12 ft", "3650 mm", "down"),
        "board_seam": length("seams_apart", "4 in", "100 mm"),
    }
    return replace(asked, layer="drainage", rules=rules, top="grade", turn_down=(0, 0),
                   runs=tuple(_ledgeless(run) for run in asked.runs))


def _ledgeless(run: AskedRun) -> AskedRun:
    """Return a run as the board sees it: without ledges, and without grade unless every face has one."""
    graded = all(face.grade is not None for face in run.faces)
    return replace(run, faces=tuple(
        replace(face, ledge=0, grade=face.grade if graded else None) for face in run.faces
    ))


def _run(run: Mapping[str, Any], read: _Lengths) -> AskedRun:
    faces: list[AskedFace] = []
    left = 0
    for index, face in enumerate(run["faces"]):
        last = index == len(run["faces"]) - 1 and not run.get("closed")
        faces.append(_face(face, left, read, corner="none" if last else "outside"))
        left = int(faces[-1].right)
    return AskedRun(
        name=str(run["name"]), closed=bool(run.get("closed")), length=left, flow=run.get("flow") or "",
        lows=_stations(run.get("lows"), read), highs=_stations(run.get("highs"), read),
        drain=tuple((read.ticks(x, "nearest"), read.ticks(y, "nearest")) for x, y in run.get("drain") or ()),
        faces=tuple(faces),
    )


def _stations(values: Iterable[object] | None, read: _Lengths) -> tuple[float, ...]:
    return tuple(sorted(read.ticks(value, "nearest") for value in values or ()))


def _face(face: Mapping[str, Any], left: int, read: _Lengths, *, corner: str) -> AskedFace:
    right = left + read.ticks(face["length"], "up")
    grade = face.get("grade")
    return AskedFace(
        name=str(face["name"]), left=left, right=right,
        top=read.profile(face["top"], "up", left=left, right=right),
        footing=read.profile(_or(face.get("footing"), 0), "down", left=left, right=right),
        grade=None if grade is None else read.profile(grade, "up", left=left, right=right),
        ledge=read.ticks(_or(face.get("ledge"), 0), "up"),
        footing_depth=read.ticks(
            _or(face.get("footing_depth"), "300 mm" if read.unit.name == "mm" else "12 in"), "down"),
        corner=face.get("corner") or corner, angle=float(_or(face.get("angle"), 90)),
        openings=tuple(_opening(opening, left, read) for opening in face.get("openings") or ()),
        sleeves=tuple(
            AskedSleeve(str(sleeve["tag"]), left + read.ticks(sleeve["at"], "nearest"),
                        read.ticks(sleeve["elevation"], "nearest"), read.ticks(sleeve["diameter"], "up"),
                        read.ticks(_or(sleeve.get("projects"), 0), "up"))
            for sleeve in face.get("sleeves") or ()
        ),
    )


def _opening(opening: Mapping[str, Any], left: int, read: _Lengths) -> AskedOpening:
    x = left + read.ticks(opening["left"], "nearest")
    y = read.ticks(opening["sill"], "nearest")
    return AskedOpening(str(opening["tag"]), x, x + read.ticks(opening["width"], "down"),
                        y, y + read.ticks(opening["height"], "down"))
