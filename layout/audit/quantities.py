"""835: net quantities of the takeoff, worked again from the job's own words and from what the plan cuts.

What is measured on the walls is worked from the job: areas, the joint, seams, the terminated edge. What is bought is
worked from that by the job's coverage, bead or length, and what is done by the plan's pieces. Not worked again: the
first band of primer, days of work, fasteners, outlets, pallets, and edges where a line that is not level cuts an
opening, or an opening reaches a face's end.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import permutations
from typing import Any

from shapely.geometry import LineString
from shapely.ops import unary_union

from layout.audit.asked import Asked, AskedFace, AskedRun, ProfilePoints, board_of
from layout.audit.bill import COVER, JsonRow, row_figure
from layout.audit.coverage import FIELD
from layout.audit.findings import Findings
from layout.audit.walls import area_between, bounds_of, line_of, must, opening_seen, toe, value
from layout.audit.written import Written, WrittenPiece
from layout.units import Unit, read_length, round_ticks

ENDLESS = 1e9
TENTH, HUNDREDTH = 0.1, 0.01
"""Areas are told to a tenth, all else to a hundredth."""
DAB = {"in": 2, "mm": 3}
"""Thickness of a dab: 1/8 in or 3 mm [ticks]."""
FLUID_OUNCE = 231 / 128
"""Cubic inches in a US fluid ounce."""


@dataclass(frozen=True)
class NeededQuantity:
    """What a line's net quantity must be, and what it may differ by for rounding, both in the line's own unit."""

    item: str
    net: float
    off: float


def check_quantities(plan: Written, asked: Asked, book: Findings) -> None:
    """Note lines whose net quantity is another than worked here; lines that are not worked are passed over."""
    lines = {str(row.get("item")): row for row in plan.takeoff}
    for need in _needs(_Measured(plan, asked), lines):
        found = row_figure(lines[need.item], "net") if need.item in lines else None
        if found is not None and abs(float(found) - need.net) > need.off:
            book.note(835, f"takeoff, {need.item[:60]}", f"{need.net:.2f}", str(found))


def _needs(here: _Measured, lines: Mapping[str, JsonRow]) -> Iterator[NeededQuantity]:
    def told(*items: str) -> float:
        """Return what the takeoff says of some lines together; each is worked again by itself."""
        return sum(float(row_figure(lines[item], "net") or 0) for item in items if item in lines)

    yield from _corners(here)
    yield from _edges(here)
    yield from _seams(here)
    surface = told(COVER, OPEN, RISERS) - told(DOUBLED)
    seams = told("side laps", "end laps")
    bar = told("top edge", "steps in the top edge") + here.long(sum(here.bar_ends))
    yield from _spread(here, surface, told)
    yield from _sealant(here, told, seams)
    yield from _lengths(here, told, bar)
    yield from _used(here, lines)
    yield from _consumed(here, surface, seams)
    yield from _done(here, surface, seams, bar)


OPEN, DOUBLED, RISERS = ("footing corners open under flat drops, closed by covers",
                         "sheet doubled at inside footing corners", "footing risers, closed by covers")


class _Measured:
    """The job's walls as the sheet sees them, measured once [ticks]."""

    def __init__(self, plan: Written, asked: Asked) -> None:
        self.plan, self.asked = plan, asked
        self.unit: Unit = asked.unit
        self.turn_down = {run.name: run.turn_down for run in plan.runs}

    def part(self, name: str) -> Mapping[str, Any] | None:
        """Return what the job says under a key, or None."""
        found = self.asked.job.get(name)
        return found if isinstance(found, Mapping) else None

    def long(self, ticks: float) -> float:
        """Return a length in feet or metres."""
        return ticks / (12 * self.unit.ticks if self.unit.name == "in" else 1000)

    def area(self, square: float) -> float:
        """Return an area in square feet or square metres."""
        return square / ((12 * self.unit.ticks) ** 2 if self.unit.name == "in" else 1e6)

    def ticks(self, given: object, inch: str, metric: str) -> int:
        """Return a length of the job, rounded up; the usual one where it says nothing."""
        usual = metric if self.unit.name == "mm" else inch
        return round_ticks(read_length(usual if given is None else given, self.unit), "up")

    def below(self, run: AskedRun, face: AskedFace) -> int:
        """Return how far the sheet goes below the joint, on a whole tick."""
        reach = toe(face, turn_down=self.turn_down.get(run.name, 0), fillet=self.asked.rules["fillet"])
        return math.ceil(round(reach, 6))

    @cached_property
    def reinforcing(self) -> list[WrittenPiece]:
        """The pieces of reinforcing."""
        return [piece for piece in self.plan.pieces
                if piece.layer == FIELD and piece.kind not in ("drop", "course", "spare")]

    @cached_property
    def sleeves(self) -> list[float]:
        """Diameters of all sleeves."""
        return [sleeve.diameter for run in self.asked.runs for face in run.faces for sleeve in face.sleeves]

    @cached_property
    def openings(self) -> int:
        """How many openings the job has."""
        return sum(len(face.openings) for run in self.asked.runs for face in run.faces)

    @cached_property
    def board(self) -> float:
        """Area of the drainage board [square ticks]."""
        board = board_of(self.asked)
        laid = {drop.run for drop in self.plan.drops if drop.layer != FIELD}
        return sum(shape.area for run in (board.runs if board else ()) if run.name in laid
                   for _, shape in must(run, board, 0)) if board else 0.0

    @cached_property
    def bar_ends(self) -> list[int]:
        """Length of bar at each end of an open run; none where the job wants none."""
        bar = self.part("termination_bar")
        if bar is not None and bar.get("run_ends") is False:
            return []
        return [math.ceil(round(high - joint, 6)) for high, joint, _ in self.ends]

    @cached_property
    def ends(self) -> list[tuple[float, float, float]]:
        """Membrane line, joint and the sheet's lower end at each end of an open run."""
        found = []
        for run in self.asked.runs:
            for face, at, right in () if run.closed else (
                    (run.faces[0], 0.0, True), (run.faces[-1], run.length, False)):
                joint = value(face.footing, at, from_right=right)
                found.append((value(line_of(face, self.asked), at, from_right=right), joint,
                              joint - self.below(run, face)))
        return found


# --- what is measured --------------------------------------------------------------------------

def _corners(here: _Measured) -> Iterator[NeededQuantity]:
    """Yield what footing corners leave open or double up, and the risers of footing steps."""
    sums = {OPEN: 0.0, DOUBLED: 0.0, RISERS: 0.0}
    for run in here.asked.runs:
        down = here.turn_down.get(run.name, 0)
        for face, after in zip(run.faces, [*run.faces[1:], *(run.faces[:1] if run.closed else ())]):
            if face.corner in ("outside", "inside"):
                turn = math.radians(face.angle)
                on = [max((b - a * math.cos(turn)) / math.sin(turn), 0.0)
                      for a, b in ((face.ledge, after.ledge), (after.ledge, face.ledge))]
                open_area = (face.ledge * on[0] + after.ledge * on[1]) / 2 + sum(on) * down
                sums[OPEN if face.corner == "outside" else DOUBLED] += open_area
            first, then = face.footing[-1][1], after.footing[0][1]
            sums[RISERS] += abs(first - then) * (face if first > then else after).ledge
        sums[RISERS] += sum(abs(a[1] - b[1]) * face.ledge for face in run.faces
                            for a, b in zip(face.footing, face.footing[1:]) if a[0] == b[0])
    for item, square in sums.items():
        yield NeededQuantity(item, here.area(square), TENTH)
    yield NeededQuantity("drainage board area", here.area(here.board), TENTH)


def _edges(here: _Measured) -> Iterator[NeededQuantity]:
    """Yield the terminated edge by its kinds; nothing where an opening is cut by a line that is not level."""
    top, steps, around, parts = 0.0, 0.0, 0.0, 0
    for run in here.asked.runs:
        before = line_of(run.faces[-1], here.asked)[-1][1] if run.closed else None
        for face in run.faces:
            line = line_of(face, here.asked)
            if before is not None:
                steps += abs(line[0][1] - before)
            before = line[-1][1]
            found = _of_face(face, line, here.asked.rules["opening_return"])
            if found is None:
                return
            top, steps, around = top + found[0], steps + found[1], around + found[2]
            parts += len(line) + 6 * len(face.openings) + 1
    off = HUNDREDTH + here.long(parts)
    yield NeededQuantity("top edge", here.long(top), off)
    yield NeededQuantity("steps in the top edge", here.long(steps), off)
    yield NeededQuantity("edges at openings", here.long(around), off)
    yield NeededQuantity("ends of open runs", here.long(sum(high - low for high, _, low in here.ends)), off)


def _of_face(face: AskedFace, line: ProfilePoints, back: int) -> tuple[float, float, float] | None:
    """Return a face's top edge, steps and edges at openings [ticks]; None where they are not worked here."""
    top = math.fsum(math.dist(a, b) for a, b in zip(line, line[1:]) if a[0] < b[0])
    steps = math.fsum(abs(a[1] - b[1]) for a, b in zip(line, line[1:]) if a[0] == b[0])
    around = 0.0
    for opening in face.openings:
        shape = opening_seen(opening, back)
        if shape.is_empty:
            continue
        left, bottom, right, high = shape.bounds
        levels = [value(line, left, from_right=True), value(line, right, from_right=False),
                  *(y for x, y in line if left <= x <= right)]
        foot = max(bottom, *(value(face.footing, x, from_right=side) for x in (left, right) for side in (True, False)),
                   *(y for x, y in face.footing if left <= x <= right))
        sloping = max(levels) > min(levels) and bottom < max(levels) and min(levels) <= high
        if left <= face.left or right >= face.right or sloping:
            return None
        if high < min(levels):
            around += 2 * (right - left + 2 * back) + (2 * (high - foot + 2 * back) if foot < high else 0)
        elif foot < min(levels):
            around += right - left + 2 * back + 2 * (levels[0] - foot + back)
            top -= right - left
    return top, steps, around


def _seams(here: _Measured) -> Iterator[NeededQuantity]:
    """Yield the lengths of side laps, up the middle of each seam, and of end laps, across the pieces."""
    covered = {}
    for run in here.asked.runs:
        shapes = []
        for face in run.faces:
            bare = replace(face, sleeves=())
            below = here.below(run, face)
            band = unary_union([area_between(bounds) for bounds in bounds_of(bare, line_of(bare, here.asked), below)])
            free = [opening_seen(opening, here.asked.rules["opening_return"]) for opening in bare.openings]
            shapes.append(band.difference(unary_union(free)) if free else band)
        covered[run.name] = unary_union(shapes), run
    total, count = 0.0, 0
    for seam in here.plan.seams:
        if seam.layer == FIELD and seam.run in covered:
            shape, run = covered[seam.run]
            middle = (seam.left_edge + seam.right_edge) / 2
            middle = middle % run.length if run.closed else middle
            total += shape.intersection(LineString([(middle, -ENDLESS), (middle, ENDLESS)])).length
            count += 1
    yield NeededQuantity("side laps", here.long(total), HUNDREDTH + here.long(2 * count))
    rings = {piece.tag: piece.ring for piece in here.plan.pieces}
    across = 0
    for drop in here.plan.drops:
        hung = [rings[tag] for tag in drop.pieces if tag in rings] if drop.layer == FIELD else []
        for upper, lower in permutations(hung, 2):
            head, foot = max(y for _, y in lower), min(y for _, y in upper)
            if min(y for _, y in lower) < foot < head < max(y for _, y in upper):
                across += max(0, min(max(x for x, _ in ring) for ring in (upper, lower))
                              - max(min(x for x, _ in ring) for ring in (upper, lower)))
    yield NeededQuantity("end laps", here.long(across), HUNDREDTH)


# --- what is bought ----------------------------------------------------------------------------

ToldFigure = Callable[..., float]
"""Returns what the takeoff says of some lines together."""


def _spread(here: _Measured, surface: float, told: ToldFigure) -> Iterator[NeededQuantity]:
    """Yield primer, adhesive and protection, by the area that a package covers."""
    primer = here.part("primer")
    if primer is not None:
        first = told("primer, first band")
        yield NeededQuantity("primer, field", surface - first, 3 * TENTH)
        coats = int(primer.get("coats") or 1)
        yield _package(here, "primer", "primer", surface * coats, 3 * TENTH * coats)
    board = here.area(here.board)
    yield _package(here, "adhesive", "", board or told(COVER), TENTH)
    yield _package(here, "protection", "", surface, 3 * TENTH)


def _package(here: _Measured, key: str, name: str, area: float, off: float) -> NeededQuantity:
    """Return how many packages an area takes; of a product that the job does not name, a need of no line."""
    product = here.part(key)
    if product is None:
        return NeededQuantity("", 0.0, 0.0)
    coverage = float(product["coverage"])
    return NeededQuantity(str(product.get("name") or name), area / coverage, off / coverage + HUNDREDTH)


def _sealant(here: _Measured, told: ToldFigure, seams: float) -> Iterator[NeededQuantity]:
    """Yield the packages of sealant: each bead's section by its length, the fillet a triangle, dabs flat."""
    sealant = here.part("sealant")
    if sealant is None:
        return
    unit, inch = here.unit, here.unit.name == "in"

    def bead(key: str, usual: str, metric: str) -> float:
        return math.pi * here.ticks(sealant.get(key), usual, metric) ** 2 / 4

    long = 12 * unit.ticks if inch else 1000
    fillet = here.asked.rules["fillet"] if sealant.get("joint_fillet") is not False else 0
    joint = math.fsum(math.dist(a, b) for run in here.asked.runs for face in run.faces if face.ledge
                      for a, b in zip(face.footing, face.footing[1:]) if a[0] < b[0])
    edge, opening, seam = (bead("top_bead", "1/4 in", "6 mm"), bead("opening_bead", "1/4 in", "6 mm"),
                           bead("seam_bead", "0", "0"))
    volume = joint * fillet ** 2 / 2
    volume += told("top edge", "steps in the top edge", "ends of open runs") * long * edge
    volume += told("edges at openings") * long * opening + seams * long * seam
    volume += math.pi * sum(here.sleeves) * bead("sleeve_bead", "1/2 in", "13 mm")
    volume += sum(math.pi * dab.size ** 2 / 4 for dab in here.plan.dabs) * DAB[unit.name]
    package = float(sealant["volume"]) * (FLUID_OUNCE * unit.ticks ** 3 if inch else 1000.0)
    off = (4 * HUNDREDTH * long + unit.ticks) * max(edge, opening, seam, fillet ** 2 / 2) / package
    yield NeededQuantity(str(sealant.get("name") or "sealant"), volume / package, HUNDREDTH + off)


def _lengths(here: _Measured, told: ToldFigure, bar: float) -> Iterator[NeededQuantity]:
    """Yield bars and channels, by the length of one."""
    for key, usual, length, off in (("termination_bar", "termination bar", bar, 4 * HUNDREDTH),
                                    ("outlet_channel", "outlet channel", told("wall/footing joint"), HUNDREDTH)):
        product = here.part(key)
        if product is not None:
            given = product.get("length")
            one = round_ticks(read_length(
                given if given is not None else "3000 mm" if here.unit.name == "mm" else "10 ft", here.unit), "down")
            yield NeededQuantity(str(product.get("name") or usual), length / here.long(one),
                                 HUNDREDTH + off / here.long(one))


def _used(here: _Measured, lines: Mapping[str, JsonRow]) -> Iterator[NeededQuantity]:
    """Yield the rolls and remnants as far as pieces are cut from them, and what the rolls weigh."""
    words = {"membrane": "membrane", "strip": "strip", "drainage": "drainage board"}
    for product, word in words.items():
        given = here.part("drainage_board" if product == "drainage" else product) or {}
        if product == "membrane":
            given = here.asked.job["sheet"]
        rolls = [roll for roll in here.plan.rolls if roll.product == product]
        for item in lines:
            if item != word and not item.startswith((f"{word} (", f"{word}, ")):
                continue
            for kind in ("roll", "remnant"):
                stock = item.rpartition(f", {kind} ")[2] if f", {kind} " in item else None
                mine = [roll for roll in rolls if roll.stock == stock and roll.remnant == (kind == "remnant")]
                if mine and len({roll.width for roll in mine}) == 1:
                    used = sum(cut.length * cut.width for roll in mine for cut in roll.cuts if not cut.within)
                    yield NeededQuantity(item, used / (mine[0].length * mine[0].width), HUNDREDTH)
        weights = {round_ticks(read_length(roll["length"], here.unit), "down"): roll.get("weight_lb")
                   for roll in given.get("rolls") or ()}
        known = [weights.get(roll.length) for roll in rolls if not roll.remnant]
        if known and all(weight is not None for weight in known):
            name = str(given.get("name") or word)
            titled = word if name == word else f"{word} ({name})"
            yield NeededQuantity(f"weight of {titled} rolls", float(sum(float(weight or 0) for weight in known)), TENTH)


def _consumed(here: _Measured, surface: float, seams: float) -> Iterator[NeededQuantity]:
    """Yield tools and supplies, by what there is one for; those by the day are not worked."""
    given = here.asked.job.get("consumables")
    inch = here.unit.name == "in"
    pieces = [piece for piece in here.plan.pieces if piece.kind != "spare"]
    count = {
        "job": 1.0, "roll": float(sum(roll.product == "membrane" for roll in here.plan.rolls)),
        "drop": float(sum(drop.layer == FIELD for drop in here.plan.drops)), "piece": float(len(pieces)),
        "sleeve": float(len(here.sleeves)), "opening": float(here.openings),
        "corner": float(sum(face.corner != "none" for run in here.asked.runs
                            for face in (run.faces if run.closed else run.faces[:-1]))),
        "area": surface / (100 if inch else 10), "seam": seams / (100 if inch else 30),
    }
    for item in given if isinstance(given, Sequence) else ():
        per = count.get(item.get("per") or "job")
        if per is not None:
            one = float(item.get("quantity") or 1) / float(item.get("in_package") or 1)
            yield NeededQuantity(str(item["item"]), per * one, HUNDREDTH + HUNDREDTH * one)


# --- what is done ------------------------------------------------------------------------------

def _done(here: _Measured, surface: float, seams: float, bar: float) -> Iterator[NeededQuantity]:
    """Yield what labour is counted by: areas, lengths and counts."""
    primer = here.part("primer")
    if primer is not None:
        coats = int(primer.get("coats") or 1)
        yield NeededQuantity("prime", surface * coats, 3 * TENTH * coats)
    for kind in {piece.kind: None for piece in here.reinforcing}:
        pieces = [piece for piece in here.reinforcing if piece.kind == kind]
        strip = kind.endswith("strip")
        done = here.long(sum(piece.length for piece in pieces)) if strip else len(pieces)
        yield NeededQuantity(f"put on: {kind}", done, HUNDREDTH)
    yield NeededQuantity("dabs of sealant", float(len(here.plan.dabs)), 0.0)
    yield NeededQuantity("roll seams", seams, 2 * HUNDREDTH)
    yield NeededQuantity("fasten termination bar", bar, 4 * HUNDREDTH)
    yield NeededQuantity("put on drainage board", here.area(here.board), TENTH)
    yield NeededQuantity("set up", float(sum(len(run.faces) for run in here.asked.runs)), 0.0)
