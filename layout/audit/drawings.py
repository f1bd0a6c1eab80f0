"""9xx, drawings: shapes and tags in the DXF and the SVGs are those of plan.json.

The DXF is read as what it is, pairs of lines; no CAD library is used.
"""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar
from xml.etree import ElementTree

from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from layout.audit import symbols
from layout.audit.asked import Asked
from layout.audit.coverage import window
from layout.audit.dxf import Dxf, finite_number, read_dxf
from layout.audit.files import NotReadable, read_text
from layout.audit.findings import Findings
from layout.audit.written import Written, WrittenPiece, WrittenRun

APP = "LAPWRIGHT"
NEAR = 0.01
"""Points of the DXF are the same within this [ticks]."""
PEN = 0.03
"""Shapes of an SVG are the same within this in its own units; it writes thousandths."""
ROUNDED = 0.0006
"""How far a size that is written in thousandths may be off, and a little."""
USER = {"in": 96.0, "mm": 1.0}
"""Units of an SVG in an inch, and in a millimetre."""
_SVG = "{http://www.w3.org/2000/svg}"

DrawnRing = list[tuple[float, float]]
S = TypeVar("S", bound=BaseGeometry)


def check_drawings(folder: Path, plan: Written, asked: Asked, book: Findings) -> None:
    """Hold elevations.dxf, then each face's SVG, then rolls.svg against plan.json."""
    laps = symbols.laps_to_draw(plan)
    check_dxf(folder, plan, laps, asked, book)
    check_svgs(folder, plan, laps, asked, book)
    check_roll_cards(folder, plan, asked, book)


# --- DXF ---------------------------------------------------------------------------------------

def check_dxf(
    folder: Path, plan: Written, laps: Sequence[symbols.DrawnLap], asked: Asked, book: Findings,
) -> None:
    """Hold elevations.dxf against plan.json: unit, one closed outline a flat piece, a block with its tag on it."""
    try:
        dxf = read_dxf(folder / "elevations.dxf")
        outlines = _outlines(dxf)
        tags = _tags(dxf)
    except NotReadable as error:
        book.note(error.number, error.place, error.needed, error.found)
        return
    code = "1" if asked.unit.name == "in" else "4"
    if dxf.unit != code and not (dxf.release == "AC1009" and not dxf.unit):  # that release knows no units
        book.note(910, "elevations.dxf", f"$INSUNITS {code}", dxf.unit or "none")
    flat = {piece.tag: piece for piece in plan.pieces if piece.flat}
    for tag in sorted(set(flat) ^ set(outlines)):
        book.note(907, "elevations.dxf", f"piece {tag}" if tag in flat else "no such piece",
                  "none" if tag in flat else f"piece {tag}")
    for tag, found in sorted(outlines.items()):
        if tag not in flat:
            continue
        if len(found) > 1:
            book.note(907, "elevations.dxf", f"one outline of {tag}", f"{len(found)}")
        elif not _same_ring(found[0], flat[tag], asked.unit.ticks):
            book.note(908, f"elevations.dxf, piece {tag}", "the outline in plan.json", "another")
        elif not _tagged(found[0], tags.get(_attribute(tag), ())):
            book.note(909, f"elevations.dxf, piece {tag}", "a block with its tag on it", "none")
    if not any(entity.kind == "INSERT" for entity in dxf.entities):
        return  # a flat file: its symbols and dimensions are lines and text
    try:
        symbols.check_dxf_symbols(dxf, outlines, plan, laps, asked, book)
    except NotReadable as error:
        book.note(error.number, error.place, error.needed, error.found)


def _outlines(dxf: Dxf) -> dict[str, list[list[tuple[float, float]]]]:
    """Return the closed outlines that bear a piece's tag."""
    found: dict[str, list[list[tuple[float, float]]]] = {}
    for entity in dxf.entities:
        known = entity.extended(APP) if entity.kind in ("LWPOLYLINE", "POLYLINE") else []
        if not known:
            continue
        tag = next((value for code, value in known if code == 1000), "")
        closed = int(entity.first(70) or 0) & 1
        xs, ys = ([finite_number(value) for value in entity.every(code)] for code in (10, 20))
        if entity.kind == "POLYLINE":  # of an old release: its points are entities of their own
            xs, ys = ([finite_number(point.first(code)) for point in entity.points] for code in (10, 20))
        found.setdefault(tag, []).append(list(zip(xs, ys)) if closed else [])
    return found


def _tags(dxf: Dxf) -> dict[str, list[tuple[float, float]]]:
    """Return where block references with a TAG stand, by their tag; in a flat file, text that knows its place."""
    found: dict[str, list[tuple[float, float]]] = {}
    place: list[tuple[float, float]] = []
    for entity in dxf.entities:
        known = dict(entity.extended(APP)) if entity.kind == "TEXT" else {}
        if {1000, 1011, 1021} <= set(known):
            found.setdefault(_attribute(known[1000]), []).append(
                (finite_number(known[1011]), finite_number(known[1021])))
        elif entity.kind == "INSERT":
            place = [(finite_number(entity.first(10)), finite_number(entity.first(20)))]
        elif entity.kind == "ATTRIB" and entity.first(2) == "TAG":
            found.setdefault(entity.first(1), []).extend(place)
    return found


def _attribute(tag: str) -> str:
    """Return a tag as text in a drawing: without what would be read as a code."""
    return tag.replace("%%", "% %").replace("^", "^ ").replace("\n", " ")


def _same_ring(points: Sequence[tuple[float, float]], piece: WrittenPiece, per: int) -> bool:
    """Tell whether a drawn outline is a piece's, moved as a whole, point for point from any start."""
    if len(points) != len(piece.ring):
        return False
    drawn = _from_corner([(x * per, y * per) for x, y in points])
    ring = _from_corner(piece.ring)
    for start in range(len(ring)):
        for way in (1, -1):
            moved = [ring[(start + way * i) % len(ring)] for i in range(len(ring))]
            if all(abs(a - c) < NEAR and abs(b - d) < NEAR for (a, b), (c, d) in zip(drawn, moved)):
                return True
    return False


def _from_corner(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    left, bottom = min(x for x, _ in points), min(y for _, y in points)
    return [(x - left, y - bottom) for x, y in points]


def _tagged(points: Sequence[tuple[float, float]], places: Sequence[tuple[float, float]]) -> bool:
    outline = Polygon(points)
    return any(outline.distance(Point(place)) < 1e-6 for place in places)


# --- SVG ---------------------------------------------------------------------------------------

def check_svgs(
    folder: Path, plan: Written, laps: Sequence[symbols.DrawnLap], asked: Asked, book: Findings,
) -> None:
    """Hold each face's SVG against plan.json: the pieces seen on it, their titles, and their shapes in place."""
    names = iter(elevation_names(plan))
    for run, asked_run in zip(plan.runs, asked.runs, strict=True):
        for index, face in enumerate(run.faces):
            name = next(names)
            try:
                drawing = _read_svg(folder / "elevations" / name, asked)
            except NotReadable as error:
                book.note(error.number, f"elevations/{error.place}", error.needed, error.found)
                continue
            moved = _check_svg(f"elevations/{name}", drawing.groups, _seen(plan, run, index), drawing.per, book)
            if moved is None:
                continue
            shown = symbols.Shown(f"elevations/{name}", run, "membrane", face.left, face.right, drawing.one)
            symbols.check_svg_symbols(shown, drawing.root, moved, drawing.per, plan, laps, asked_run, asked.unit, book)
            _check_svg_slits(shown, drawing, moved, plan, book)


def _check_svg_slits(shown: symbols.Shown, drawing: _Svg, moved: tuple[float, float], plan: Written,
                     book: Findings) -> None:
    """Hold the slits drawn on one face against those of the pieces seen on it."""
    lines: dict[str, list[symbols.SlitLine]] = {}
    tags = {re.sub(r"\s+", "_", piece.tag) for piece in plan.pieces}
    for name, group in drawing.groups.items():
        lines.setdefault(name if name in tags else re.sub(r"\.\d+$", "", name), []).extend(group.slits)
    for piece in plan.pieces:
        if (piece.run, piece.layer) != (shown.run.name, shown.layer) or not piece.flat:
            continue
        needed = []
        for by in shown.turns():
            for (x0, y0), (x1, y1) in piece.slits:
                part = symbols.slit_within(((x0 + by, y0), (x1 + by, y1)), shown.left, shown.right)
                if part and min(x for x, _ in piece.ring) + by < shown.right and (
                    max(x for x, _ in piece.ring) + by > shown.left
                ):
                    needed.append(tuple((x * drawing.per + moved[0], y * drawing.per + moved[1]) for x, y in part))
        found = lines.get(re.sub(r"\s+", "_", piece.tag), [])
        symbols.check_slits(918, f"{shown.place}, piece {piece.tag}", [(a, b) for a, b in needed], found, PEN * 2, book)


def elevation_names(plan: Written) -> list[str]:
    """Return the names of the faces' SVG files: run and face in lower case with dashes, a number where one is taken."""
    taken: set[str] = set()
    names = []
    for run in plan.runs:
        for face in run.faces:
            base = _cleaned(f"{run.name} {face.name}")
            stem, number = base, 1
            while stem in taken:
                number += 1
                stem = f"{base}-{number}"
            taken.add(stem)
            names.append(f"{stem}.svg")
    return names


def _cleaned(text: str) -> str:
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    stem = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60].strip("-") or "face"
    device = re.fullmatch(r"con|prn|aux|nul|com\d|lpt\d", stem)
    return f"{stem}-face" if device else stem


@dataclass(frozen=True)
class DrawnPiece:
    """One piece as drawn: whether it has a title, its shape and the slits in it, in the SVG's units, y up."""

    titled: bool
    shape: BaseGeometry
    slits: tuple[symbols.SlitLine, ...] = ()


@dataclass(frozen=True)
class _Svg:
    """An SVG: its pieces by tag, how many of its units one tick is, and how many ticks plot as a millimetre."""

    root: ElementTree.Element
    groups: Mapping[str, DrawnPiece]
    per: float
    one: float


def _read_svg(path: Path, asked: Asked) -> _Svg:
    """Return what an SVG draws; raises NotReadable."""
    text = read_text(path)
    if "<!DOCTYPE" in text or "<!ENTITY" in text or "<script" in text.lower():
        raise NotReadable(916, path.name, "plain SVG", "a document type, an entity or a script")
    try:
        root = ElementTree.fromstring(text)
    except ElementTree.ParseError as error:
        raise NotReadable(102, path.name, "XML", str(error)) from None
    scale = re.search(r"scale 1:(\d+)", (root.findtext(f"{_SVG}desc") or ""))
    box = root.attrib.get("viewBox", "").split()
    size = re.fullmatch(r"([0-9.]+)(in|mm)", root.attrib.get("width", ""))
    per = USER[asked.unit.name]
    if root.tag != f"{_SVG}svg" or not scale or len(box) != 4 or not size or size[2] != asked.unit.name or not (
            abs(finite_number(box[2]) - finite_number(size[1]) * per) <= ROUNDED * (1 + per)):
        raise NotReadable(102, path.name, "an SVG with its scale, its width and a viewBox of that width", "none")
    per /= int(scale[1]) * asked.unit.ticks
    groups: dict[str, list[DrawnPiece]] = {}
    for element in root.iter(f"{_SVG}g"):
        name = element.attrib.get("id", "")
        if name.startswith("piece-"):
            title = (element.findtext(f"{_SVG}title") or "").strip()
            slits = tuple(symbols.drawn_lines(element, "lw-slit"))
            drawn = DrawnPiece(bool(title), _shape(element, path), slits)
            groups.setdefault(name.removeprefix("piece-"), []).append(drawn)
    one = int(scale[1]) / float(asked.unit.tick_mm)
    return _Svg(root, {tag: found[0] for tag, found in groups.items()}, per, one)


def _shape(group: ElementTree.Element, path: Path) -> BaseGeometry:
    """Return the largest closed shape that a group draws, y up."""
    best: BaseGeometry = Polygon()
    for element in group.iter(f"{_SVG}path"):
        for part in re.findall(r"M([^MZ]*)Z", element.attrib.get("d", "")):
            try:
                points = [tuple(map(float, spot.split(","))) for spot in part.strip().split("L")]
                shape = Polygon([(x, -y) for x, y in points])
            except ValueError:
                raise NotReadable(102, path.name, "a path of lines", part[:40]) from None
            best = max(best, shape, key=lambda one: float(one.area))
    return best


def _seen(plan: Written, run: WrittenRun, index: int) -> dict[str, list[Polygon]]:
    """Return what is seen of each flat piece of the membrane on one face, by the name of its group."""
    face = run.faces[index]
    stripe = window(face.left, face.right)
    shifts = (0, -run.length, run.length) if run.closed else (0,)
    seen: dict[str, list[Polygon]] = {}
    for piece in plan.pieces:
        if piece.run != run.name or not piece.flat or piece.layer != "membrane":
            continue
        for by in shifts:
            xs = [x + by for x, _ in piece.ring]
            if max(xs) <= face.left or min(xs) >= face.right:
                continue
            part = Polygon([(x + by, y) for x, y in piece.ring]).intersection(stripe)
            for polygon in getattr(part, "geoms", [part]):
                if isinstance(polygon, Polygon) and polygon.area > 0:
                    seen.setdefault(re.sub(r"\s+", "_", piece.tag), []).append(polygon)
    return seen


def _check_svg(
    place: str, groups: Mapping[str, DrawnPiece], seen: Mapping[str, list[Polygon]], per: float, book: Findings,
) -> tuple[float, float] | None:
    """Hold the pieces of an SVG against those seen; return how far the drawing is moved from the wall."""
    own = _own(groups, seen)
    for name in sorted(set(seen) ^ own):
        book.note(911, place, f"piece {name}" if name in seen else "no such piece",
                  "none" if name in seen else f"piece {name}")
    drawn = _drawn(groups, seen)
    wanted = {
        name: [[(x * per, y * per) for x, y in shape.exterior.coords] for shape in _largest_first(shapes)]
        for name, shapes in seen.items()
    }
    moved = _moved(drawn, wanted)
    for name, group in groups.items():
        if not group.titled:
            book.note(913, f"{place}, piece {name}", "a title", "none")
    for name, shapes in drawn.items():
        if moved is None or not _all_alike(shapes, wanted[name], moved):
            book.note(912, f"{place}, piece {name}", "the outline in plan.json, in its place", "another")
    return moved


def _drawn(groups: Mapping[str, DrawnPiece], seen: Container[str]) -> dict[str, list[BaseGeometry]]:
    """Return the shapes drawn of each piece that is seen, the largest first: several where both its ends are seen."""
    drawn: dict[str, list[BaseGeometry]] = {}
    for name, group in groups.items():
        whole = name if name in seen else re.sub(r"\.\d+$", "", name)
        if whole in seen and not (name != whole and group.shape.is_empty):  # labels of a piece, drawn after all else
            drawn.setdefault(whole, []).append(group.shape)
    return {name: _largest_first(shapes) for name, shapes in drawn.items()}


def _largest_first(shapes: Iterable[S]) -> list[S]:
    return sorted(shapes, key=lambda one: -float(one.area))


def _moved(
    drawn: Mapping[str, list[BaseGeometry]], wanted: Mapping[str, list[DrawnRing]],
) -> tuple[float, float] | None:
    """Return how far a drawing is moved from the wall, by a piece that is drawn once if there is one."""
    if not drawn:
        return None
    name = min(drawn, key=lambda one: len(drawn[one]))
    ways = [_corner(drawn[name][0], ring) for ring in wanted[name]]
    return next((way for way in ways if way and _all_alike(drawn[name], wanted[name], way)), ways[0])


def _all_alike(shapes: Sequence[BaseGeometry], wanted: Sequence[DrawnRing], moved: tuple[float, float]) -> bool:
    """Tell whether all shapes drawn of a piece are parts of it in their places, and the largest part is among them."""
    return all(any(_alike(shape, ring, moved) for ring in wanted) for shape in shapes) and any(
        _alike(shape, wanted[0], moved) for shape in shapes)


def _own(groups: Iterable[str], known: Container[str]) -> set[str]:
    """Return the names of groups, without further parts of one piece: those have a number after its name."""
    return {name for name in groups if name in known or re.sub(r"\.\d+$", "", name) not in known}


def _corner(shape: BaseGeometry, wanted: Sequence[tuple[float, float]]) -> tuple[float, float] | None:
    """Return how far a drawing is moved from the wall, by the lower left corner of one piece."""
    if shape.is_empty:
        return None
    left, bottom = min(x for x, _ in wanted), min(y for _, y in wanted)
    return shape.bounds[0] - left, shape.bounds[1] - bottom


def _alike(shape: BaseGeometry, wanted: Sequence[tuple[float, float]], moved: tuple[float, float]) -> bool:
    if shape.is_empty:
        return False
    outline = Polygon([(x + moved[0], y + moved[1]) for x, y in wanted])
    return bool(shape.hausdorff_distance(outline) < PEN * 2)


def check_roll_cards(folder: Path, plan: Written, asked: Asked, book: Findings) -> None:
    """Hold rolls.svg against plan.json: every cut in its place on its roll, with a title."""
    try:
        drawing = _read_svg(folder / "rolls.svg", asked)
    except NotReadable as error:
        book.note(error.number, error.place, error.needed, error.found)
        return
    groups, per = drawing.groups, drawing.per
    cuts = Counter(cut.piece for roll in plan.rolls for cut in roll.cuts)
    sizes = {piece.tag: {piece.length, piece.width} for piece in plan.pieces}
    tags = {re.sub(r"\s+", "_", tag) for tag in cuts}
    for name in sorted(tags ^ _own(groups, tags)):
        book.note(911, "rolls.svg", f"piece {name}" if name in tags else "no such piece",
                  "none" if name in tags else f"piece {name}")
    for roll in plan.rolls:
        moved: tuple[float, float] | None = None
        for cut in roll.cuts:
            group = groups.get(re.sub(r"\s+", "_", cut.piece))
            if group is None or cuts[cut.piece] > 1 or {cut.length, cut.width} != sizes[cut.piece]:
                continue
            left, right = cut.at * per, (cut.at + cut.length) * per
            bottom, top = cut.across * per, (cut.across + cut.width) * per
            wanted = [(left, bottom), (left, top), (right, top), (right, bottom)]
            moved = moved or _corner(group.shape, wanted)
            if moved is None or not _alike(group.shape, wanted, moved):
                book.note(912, f"rolls.svg, roll {roll.tag}, piece {cut.piece}", "its cut, in its place", "another")
            if not group.titled:
                book.note(913, f"rolls.svg, piece {cut.piece}", "a title", "none")
