"""9xx, what is drawn beside the pieces: slits, arrows at laps and of water, dimensions, in the DXF and the SVGs.

Symbols are known by what they are, a block's name or a filled triangle and which way it points, and by where on the
wall they stand; lines of slits by their ends.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from xml.etree import ElementTree

import numpy as np

from layout.audit.asked import Asked, AskedRun
from layout.audit.dxf import Dxf, DxfEntity, finite_number
from layout.audit.findings import Findings
from layout.audit.walls import farther_along, parts
from layout.audit.water import ways
from layout.audit.written import Written, WrittenPiece, WrittenRun, WrittenSeam
from layout.units import Unit, inches, read_length, tape

NEAR = 0.5
"""Symbols and lines stand where they belong within this: drawings are written to a thousandth of their unit [ticks]."""
TALL = 14.0
"""A lap at least so tall has room for an arrow [plotted mm]."""
LONG = 40.0
"""A face at least so long has room for an arrow of water or a mark at a low or high point [plotted mm]."""
DEEP = 400.0
"""The row of water lies within this below the wall [plotted mm]."""
_SVG = "{http://www.w3.org/2000/svg}"
_POINT = re.compile(r"(-?[0-9.]+),(-?[0-9.]+)")

Spot = tuple[float, float]
SlitLine = tuple[Spot, Spot]


@dataclass(frozen=True)
class Mark:
    """A symbol where it stands on the developed wall [ticks]: right, left, low or high."""

    x: float
    y: float
    kind: str


@dataclass(frozen=True)
class Shown:
    """What one drawing shows: a layer of a run between two stations, and how many ticks plot as a millimetre."""

    place: str
    run: WrittenRun
    layer: str
    left: float
    right: float
    one: float

    def turns(self) -> tuple[float, ...]:
        """Return how far the same place of a closed run may be from where it is shown."""
        return (0.0, -self.run.length, self.run.length) if self.run.closed else (0.0,)


@dataclass(frozen=True)
class DrawnLap:
    """A seam and where its two sheets lap [ticks]."""

    seam: WrittenSeam
    spans: tuple[tuple[float, float], ...]


# --- laps, water -------------------------------------------------------------------------------

def laps_to_draw(plan: Written) -> list[DrawnLap]:
    """Return every seam with the heights at which its two drops really lap."""
    drops = {drop.tag: drop for drop in plan.drops}
    around = {run.name: run.length for run in plan.runs}
    found = []
    for seam in plan.seams:
        left, right = drops[seam.left], drops[seam.right]
        if (seam.right_edge - left.right) % around[seam.run] or (seam.left_edge - right.left) % around[seam.run]:
            continue  # not where its drops lap, which is a finding of its own
        both = farther_along(plan.sheets[seam.left], seam.right_edge - left.right).intersection(
            farther_along(plan.sheets[seam.right], seam.left_edge - right.left))
        found.append(DrawnLap(seam, tuple((part.bounds[1], part.bounds[3]) for part in parts(both))))
    return found


def check_laps(shown: Shown, marks: Sequence[Mark], laps: Sequence[DrawnLap], book: Findings) -> None:
    """Note arrows at laps that point the wrong way or at nothing, and tall laps without one."""
    own = [lap for lap in laps if (lap.seam.run, lap.seam.layer) == (shown.run.name, shown.layer)]
    lefts = np.array([lap.seam.left_edge - NEAR for lap in own])
    rights = np.array([lap.seam.right_edge + NEAR for lap in own])
    met: set[int] = set()
    for mark in marks:
        at = mark.x + np.array(shown.turns())[:, None]
        here = np.flatnonzero(((lefts <= at) & (at <= rights)).any(axis=0)).tolist()
        met |= set(here)
        way = {"right" if own[index].seam.over == own[index].seam.left else "left" for index in here}
        if mark.kind not in way:
            seam = own[here[0]].seam if here else None
            words = f"an arrow from {seam.over}" if seam else "no arrow where no sheets lap"
            book.note(924, f"{shown.place}, " + book.at(shown.run.name, mark.x, mark.y), words,
                      f"an arrow to the {mark.kind}")
    for index, lap in enumerate(own):
        whole = any(shown.left <= lap.seam.left_edge + by and lap.seam.right_edge + by <= shown.right
                    for by in shown.turns())
        wide = lap.seam.right_edge - lap.seam.left_edge
        tall = max((top - low for low, top in lap.spans), default=0.0)
        if whole and index not in met and tall >= TALL * shown.one and tall > wide:
            book.note(924, f"{shown.place}, seam of {lap.seam.left} and {lap.seam.right}", "an arrow", "none")


def check_water_symbols(shown: Shown, marks: Sequence[Mark], run: AskedRun, book: Findings) -> None:
    """Note arrows of water that point against it, low and high points that are none, and walls without either."""
    stretches = ways(run)
    open_ways = {"both", "up and over"}
    for mark in marks:
        before = {way for left, right, way in stretches if left < mark.x <= right + NEAR}
        after = {way for left, right, way in stretches if left - NEAR <= mark.x < right}
        if mark.kind in ("low", "high"):
            toward = ("right", "left") if mark.kind == "low" else ("left", "right")
            good = bool(before & {toward[0], *open_ways} and after & {toward[1], *open_ways})
        else:
            good = bool((before | after) & {mark.kind, *open_ways})
        if not good:
            book.note(926, f"{shown.place}, " + book.at(shown.run.name, mark.x), " or ".join(sorted(before | after)),
                      mark.kind)
    # a mark stands on one face: many short ones together have no room for it
    longest = max((min(face.right, shown.right) - max(face.left, shown.left) for face in shown.run.faces), default=0.0)
    if not marks and longest >= LONG * shown.one:
        book.note(926, shown.place, "the way that water runs", "nothing")


# --- dimensions --------------------------------------------------------------------------------

def stations_to_draw(shown: Shown, plan: Written) -> list[tuple[float, float]]:
    """Return what is dimensioned along the wall shown: each seam's upper edge, and how far along its face it is."""
    found = []
    for seam in plan.seams:
        if (seam.run, seam.layer) != (shown.run.name, shown.layer):
            continue
        x = float((seam.right_edge if seam.over == seam.left else seam.left_edge) % shown.run.length)
        if shown.left <= x < shown.right:
            face = next(face for face in shown.run.faces if face.left <= x <= face.right)
            found.append((x, x - face.left))
    return found


def _says(text: str, ticks: float, unit: Unit) -> bool:
    """Tell whether a text says a length, as a tape reads it or in inches, alone or before other words.

    A bare figure alone is in the millimetres of a metric job: patterns say their unit once.
    """
    if unit.name == "mm" and text == str(round(ticks)):
        return True
    return any(text == length or text.startswith(length + " ")
               for length in (tape(round(ticks), unit), inches(round(ticks), unit)))


# --- slits -------------------------------------------------------------------------------------

def check_slits(number_of: int, place: str, needed: Sequence[SlitLine], found: Sequence[SlitLine], near: float,
                book: Findings) -> None:
    """Note slits that are not drawn, and lines drawn as slits that are none.

    Parameters
    ----------
    number_of
        The finding to note.
    place
        Where they are drawn.
    needed, found
        The plan's slits and the lines drawn, in one frame.
    near
        How far apart the ends of one slit may be.
    book
        Where findings are noted.
    """
    rest = list(found)
    missing: list[SlitLine] = []
    for slit in needed:
        same = next((line for line in rest if _same(line, slit, near)), None)
        if same is None:
            missing.append(slit)
        else:
            rest.remove(same)
    if missing or rest:
        book.note(number_of, place, f"{len(needed)} slits in their places",
                  f"{len(missing)} missing, {len(rest)} elsewhere")


def _same(line: SlitLine, slit: SlitLine, near: float) -> bool:
    def close(a: Spot, b: Spot) -> bool:
        return abs(a[0] - b[0]) <= near and abs(a[1] - b[1]) <= near

    ways = ((slit[0], slit[1]), (slit[1], slit[0]))
    return any(close(line[0], start) and close(line[1], end) for start, end in ways)


def slit_within(slit: SlitLine, left: float, right: float) -> SlitLine | None:
    """Return the part of a slit between two stations, or None."""
    (x0, y0), (x1, y1) = slit
    if x0 == x1:
        return slit if left <= x0 <= right else None
    shares = sorted(((left - x0) / (x1 - x0), (right - x0) / (x1 - x0)))
    start, end = max(0.0, shares[0]), min(1.0, shares[1])
    if start >= end:
        return None
    return ((x0 + start * (x1 - x0), y0 + start * (y1 - y0)), (x0 + end * (x1 - x0), y0 + end * (y1 - y0)))


# --- the DXF -----------------------------------------------------------------------------------

@dataclass(frozen=True)
class _Frame:
    """Where a layer of a run lies in model space: how far it is moved, and the box of its pieces [ticks]."""

    run: WrittenRun
    layer: str
    by: Spot
    box: tuple[float, float, float, float]

    def station(self, spot: Spot) -> Spot:
        return spot[0] - self.by[0], spot[1] - self.by[1]

    def holds(self, spot: Spot, *, below: float = 0.0) -> bool:
        x, y = self.station(spot)
        left, low, right, high = self.box
        return left - NEAR <= x <= right + NEAR and low - below - NEAR <= y <= high + NEAR

    def away(self, spot: Spot) -> float:
        """Return how far above or below the wall a point lies."""
        y = self.station(spot)[1]
        return max(self.box[1] - y, y - self.box[3], 0.0)


def check_dxf_symbols(dxf: Dxf, outlines: Mapping[str, Sequence[Sequence[Spot]]], plan: Written,
                      laps: Sequence[DrawnLap], asked: Asked, book: Findings) -> None:
    """Hold the slits, symbols and dimensions of a DXF's model space against plan.json and the job.

    Parameters
    ----------
    dxf
        What was read.
    outlines
        The outlines drawn of each piece, by its tag, in the file's unit.
    plan, laps
        What plan.json says, and the laps it draws.
    asked
        What the job asks.
    book
        Where findings are noted.
    """
    per = asked.unit.ticks
    frames = list(_frames(outlines, plan, per))
    _check_dxf_slits(dxf, frames, plan, per, book)
    runs = {run.name: run for run in asked.runs}
    size, symbols = _inserts(dxf, per)
    for frame in frames:
        shown = Shown(f"elevations.dxf, run {frame.run.name}, {frame.layer}", frame.run, frame.layer,
                      0.0, max(frame.run.length, frame.box[2]), size)
        own = [Mark(*frame.station((mark.x, mark.y)), mark.kind.removeprefix("OVER-").lower()) for mark in symbols
               if mark.kind.startswith("OVER-") and frame.holds((mark.x, mark.y))]
        check_laps(shown, own, laps, book)
        water = [Mark(*frame.station((mark.x, mark.y)), mark.kind.removeprefix("FLOW-").lower()) for mark in symbols
                 if not mark.kind.startswith("OVER-") and frame is _above(frames, (mark.x, mark.y), DEEP * size)]
        row = max((mark.y for mark in water), default=0.0)  # what stands lower belongs to another drawing
        check_water_symbols(shown, [mark for mark in water if mark.y > row - NEAR], runs[frame.run.name], book)
    _check_dimensions(dxf, frames, plan, asked.unit, book)


def _frames(outlines: Mapping[str, Sequence[Sequence[Spot]]], plan: Written, per: int) -> Iterator[_Frame]:
    runs = {run.name: run for run in plan.runs}
    own: dict[tuple[str, str], list[WrittenPiece]] = {}
    for piece in plan.pieces:
        if piece.flat and len(outlines.get(piece.tag, ())) == 1 and outlines[piece.tag][0]:
            own.setdefault((piece.run, piece.layer), []).append(piece)
    for (run, layer), pieces in own.items():
        drawn = outlines[pieces[0].tag][0]
        by = (min(x for x, _ in drawn) * per - min(x for x, _ in pieces[0].ring),
              min(y for _, y in drawn) * per - min(y for _, y in pieces[0].ring))
        points = [point for piece in pieces for point in piece.ring]
        xs, ys = [x for x, _ in points], [y for _, y in points]
        yield _Frame(runs[run], layer, by, (min(xs), min(ys), max(xs), max(ys)))


def _above(frames: Sequence[_Frame], spot: Spot, deep: float) -> _Frame | None:
    """Return the wall that a point lies next below, or None."""
    near = [frame for frame in frames if frame.holds(spot, below=deep)]
    return min(near, key=lambda frame: abs(frame.station(spot)[1] - frame.box[1]), default=None)


def _check_dxf_slits(dxf: Dxf, frames: Sequence[_Frame], plan: Written, per: int, book: Findings) -> None:
    lines: list[tuple[SlitLine, str]] = []
    for entity in dxf.entities:
        if entity.kind == "LINE":
            ends = [(finite_number(entity.first(code)) * per, finite_number(entity.first(code + 10)) * per)
                    for code in (10, 11)]
            lines.append(((ends[0], ends[1]), entity.first(8)))
    found_on: Counter[str] = Counter()
    wanted: list[tuple[_Frame, list[SlitLine]]] = []
    index: dict[tuple[int, int], list[tuple[SlitLine, str]]] = {}
    for line, layer in lines:
        for end in line:
            index.setdefault((round(end[0] / 8), round(end[1] / 8)), []).append((line, layer))
    for frame in frames:
        slits = [((a[0] + frame.by[0], a[1] + frame.by[1]), (b[0] + frame.by[0], b[1] + frame.by[1]))
                 for piece in plan.pieces if piece.flat and (piece.run, piece.layer) == (frame.run.name, frame.layer)
                 for a, b in piece.slits]
        wanted.append((frame, slits))
        for slit in slits:
            cell = round(slit[0][0] / 8), round(slit[0][1] / 8)
            near = [pair for dx in (-1, 0, 1) for dy in (-1, 0, 1)
                    for pair in index.get((cell[0] + dx, cell[1] + dy), ())]
            found_on.update({layer for line, layer in near if _same(line, slit, NEAR)})
    usual = found_on.most_common(1)[0][0] if found_on else "Z-MEMB-SLIT-N"
    for frame, slits in wanted:
        drawn = [line for line, layer in lines if layer == usual and frame.holds(line[0]) and frame.holds(line[1])]
        check_slits(917, f"elevations.dxf, run {frame.run.name}, {frame.layer}", slits, drawn, NEAR, book)


def _inserts(dxf: Dxf, per: int) -> tuple[float, list[Mark]]:
    """Return how many ticks plot as a millimetre, and the symbols of laps and water [ticks of the file]."""
    size = 0.0
    found = []
    for entity in dxf.entities:
        name = entity.first(2)
        if entity.kind == "INSERT" and name in ("OVER-RIGHT", "OVER-LEFT", "FLOW-RIGHT", "FLOW-LEFT", "LOW", "HIGH"):
            found.append(Mark(finite_number(entity.first(10)) * per, finite_number(entity.first(20)) * per, name))
            if name.startswith(("OVER-", "FLOW-")):
                size = max(size, finite_number(entity.first(41) or "1") * per)
    return size or 24.0 * per, found


def _check_dimensions(dxf: Dxf, frames: Sequence[_Frame], plan: Written, unit: Unit, book: Findings) -> None:
    """Every dimension says what it measures; every seam and every face has one."""
    per = unit.ticks
    stations: list[tuple[Spot, float]] = []
    lengths: list[tuple[Spot, Spot]] = []
    for entity in dxf.entities:
        if entity.kind != "DIMENSION":
            continue
        kind = int(entity.first(70) or 0)
        first, second, origin = (_spot(entity, code, per) for code in (13, 14, 10))
        if kind & 7 == 6:
            axis = 0 if kind & 64 else 1
            length = first[axis] - origin[axis]
            if axis == 0:
                stations.append((first, length))
        elif kind & 7 == 0:
            axis = 1 if abs(finite_number(entity.first(50) or "0") - 90) < 1 else 0
            length = abs(second[axis] - first[axis])
            if axis == 0:
                lengths.append((first, second))
        else:
            continue
        _check_measure(entity, length, dxf, unit, book)
    needed = [(frame, x, along) for frame in frames for x, along in stations_to_draw(
        Shown("", frame.run, frame.layer, 0.0, frame.run.length, 1.0), plan)]
    shown = _dimensioned(needed, stations)
    for number, (frame, x, along) in enumerate(needed):
        if number not in shown:
            book.note(925, f"elevations.dxf, {frame.layer}, " + book.at(frame.run.name, x), along, "no dimension")
    for frame in frames:
        for face in frame.run.faces:
            if not any(abs(frame.station(a)[0] - face.left) < NEAR and abs(frame.station(b)[0] - face.right) < NEAR
                       for a, b in lengths):
                book.note(925, f"elevations.dxf, {frame.layer}, run {frame.run.name}, face {face.name}",
                          face.right - face.left, "no dimension")


def _dimensioned(needed: Sequence[tuple[_Frame, float, float]], drawn: Sequence[tuple[Spot, float]]) -> set[int]:
    """Return which stations have a dimension of their own: each one drawn is that of one wall, the nearest first."""
    fits = []
    stations, lengths = np.array([spot[0] for spot, _ in drawn]), np.array([length for _, length in drawn])
    for number, (frame, x, along) in enumerate(needed):
        near = (np.abs(lengths - along) < NEAR) & (np.abs(stations - frame.by[0] - x) < NEAR)
        fits += [(frame.away(drawn[each][0]), number, each) for each in np.flatnonzero(near).tolist()]
    found: set[int] = set()
    used: set[int] = set()
    for _, number, each in sorted(fits):
        if number not in found and each not in used:
            found.add(number)
            used.add(each)
    return found


def _spot(entity: DxfEntity, code: int, per: int) -> Spot:
    return finite_number(entity.first(code) or "0") * per, finite_number(entity.first(code + 10) or "0") * per


def _check_measure(entity: DxfEntity, length: float, dxf: Dxf, unit: Unit, book: Findings) -> None:
    """Hold a dimension's figure and the words of its picture against its points."""
    place = f"elevations.dxf, dimension {entity.first(5)}"
    measured = finite_number(entity.first(42) or "0") * unit.ticks
    if abs(measured - length) > NEAR:
        book.note(925, place, length, measured)
        return
    words = entity.first(1)
    if words and "<>" not in words:
        if _is_length(words, unit):
            book.note(925, place, length, words)
        return
    shown = [part.first(1) for part in dxf.blocks.get(entity.first(2), ()) if part.kind in ("TEXT", "MTEXT")]
    if not any(_says(text, length, unit) for text in shown):
        book.note(925, place, length, ", ".join(shown) or "nothing")


def _is_length(text: str, unit: Unit) -> bool:
    try:
        read_length(text, unit)
    except ValueError:
        return False
    return text.endswith(('"', "mm"))


# --- SVG ---------------------------------------------------------------------------------------

def check_svg_symbols(shown: Shown, root: ElementTree.Element, moved: Spot, per: float, plan: Written,
                      laps: Sequence[DrawnLap], run: AskedRun, unit: Unit, book: Findings) -> None:
    """Hold the symbols and dimensions of one face's SVG against plan.json and the job.

    Parameters
    ----------
    shown
        The face, as it is seen.
    root
        The drawing.
    moved
        How far it is moved from the wall, in its own units with y up.
    per
        Its units to a tick.
    plan, laps
        What plan.json says, and the laps it draws.
    run, unit
        The run as the job has it, and the job's unit.
    book
        Where findings are noted.
    """
    over: list[Mark] = []
    water: list[Mark] = []
    own = [piece.ring for piece in plan.pieces
           if piece.flat and (piece.run, piece.layer) == (shown.run.name, shown.layer)]
    low = min((y for by in shown.turns() for ring in own for x, y in ring if shown.left <= x + by <= shown.right),
              default=0)
    for path in root.iter(f"{_SVG}path"):
        use = path.attrib.get("class", "")
        if use in ("lw-over", "lw-water"):
            mark = _triangle(path, moved, per)
            if mark and (use == "lw-water" or mark.y > low):  # below the wall stands the legend
                (over if use == "lw-over" else water).append(mark)
    check_laps(shown, over, laps, book)
    check_water_symbols(shown, water, run, book)
    said = [text.text or "" for text in root.iter(f"{_SVG}text") if "lw-t-dims" in text.attrib.get("class", "")]
    needed = Counter([tape(round(along), unit) for _, along in stations_to_draw(shown, plan)]
                     + [tape(round(shown.right - shown.left), unit)])
    for length, count in sorted(needed.items()):
        found = sum(text == length or text.startswith(length + " ") for text in said)
        if found < count:
            book.note(925, shown.place, f"{count} times {length}", f"{found} times")


def _triangle(path: ElementTree.Element, moved: Spot, per: float) -> Mark | None:
    """Return the mark that a filled triangle is, or None; hollow ones are high points."""
    points = [(float(x), -float(y)) for x, y in _POINT.findall(path.attrib.get("d", ""))]
    if len(points) != 3 or "fill" not in path.attrib.get("style", ""):
        return None
    xs, ys = sorted(x for x, _ in points), sorted(y for _, y in points)
    middle = ((xs[0] + xs[2]) / 2 - moved[0]) / per, ((ys[0] + ys[2]) / 2 - moved[1]) / per
    if xs[0] == xs[1] or xs[1] == xs[2]:
        return Mark(*middle, "right" if xs[0] == xs[1] else "left")
    return Mark(*middle, "low" if ys[1] == ys[2] else "high")


def drawn_lines(group: ElementTree.Element, use: str) -> Iterable[SlitLine]:
    """Yield the lines that a group draws on one layer, as they stand in the SVG with y up."""
    for path in group.iter(f"{_SVG}path"):
        if path.attrib.get("class", "") == use:
            for part in path.attrib.get("d", "").split("M")[1:]:
                points = [(float(x), -float(y)) for x, y in _POINT.findall(part)]
                yield from zip(points, points[1:])
