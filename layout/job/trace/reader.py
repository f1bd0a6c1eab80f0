"""Reads the model space of a DXF file: the second door to ezdxf.

Damaged files are repaired as far as ezdxf can, and that is said. What ezdxf cannot read at all is refused. Nothing
a file holds gets further than this module unchecked: every number is finite and within bounds.
"""

from __future__ import annotations

import io
import math
import os
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import ezdxf
from ezdxf import recover

from layout.errors import Fault, JobError
from layout.files import read_bytes
from layout.job.trace.drawn import NOWHERE, Box, Chain, Disc, Place, Sheet, Vec, Words, box_of, within
from layout.job.trace.layers import Roles
from layout.job.tree import show
from layout.units import UNITS, Unit

_EZDXF: Any = ezdxf  # its front does not say what it exports

MAX_DXF_BYTES = 50_000_000
"""Largest DXF file [bytes]."""
MAX_BINARY_BYTES = 10_000_000
"""Largest binary DXF file [bytes]; it holds about five times as much as a text file of its size."""
MAX_RECORDS = 300_000
"""Most records (entities, vertices, table entries, objects) in a file."""
MAX_DRAWN = 300_000
"""Most entities in model space, block references written out."""
MAX_READ = 20_000
"""Most lines and circles on layers that are read."""
MAX_WORDS = 50_000
"""Most texts in what is read."""
MAX_CORNERS = 10_000
"""Most points in one line."""
MAX_BLOCKS = 8
"""Deepest nesting of blocks."""
MAX_TICKS = 1e12
"""Farthest from the origin that anything is believed to be drawn [ticks]."""

DRAWING_UNITS: dict[str, tuple[str, float]] = {
    "in": ("in", 16.0), "ft": ("in", 192.0), "mm": ("mm", 1.0), "cm": ("mm", 10.0), "m": ("mm", 1000.0),
}
"""What a drawing may be drawn in: the job's unit, and ticks in one drawing unit."""
INSUNITS = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m"}
"""Codes of $INSUNITS; DXF reference, header variables."""

ANNOTATION = frozenset(("DIMENSION", "ARC_DIMENSION", "LEADER", "MULTILEADER", "MLEADER", "HATCH", "TOLERANCE"))
"""What may stand on a layer that is read without shaping the wall; it is counted and said."""
LETTER = 0.7
"""About how wide a letter is, in heights of it."""
_RECORD = re.compile(rb"(?:\A|\n)[ \t]*0[ \t]*\r?\n[ \t]*[A-Za-z]")
_BINARY = b"AutoCAD Binary DXF"
_DWG = re.compile(rb"AC10\d\d")


def read_sheet(path: Path, *, roles: Roles, unit: str, window: Box | None) -> tuple[Sheet, Unit]:
    """Read what is drawn in a DXF file's model space.

    Parameters
    ----------
    path
        The file.
    roles
        What each layer is for.
    unit
        What it is drawn in, where the drafter says so; empty to take the drawing's own word.
    window
        Only what lies within this box is read [drawing units]; None for everything.

    Returns
    -------
    Sheet
        What is drawn, in ticks, and what was not read.
    Unit
        The job's unit.

    Raises
    ------
    JobError
        When the file cannot be read at all, or its unit is not known.
    """
    document, repairs = _document(path)
    try:
        drawn_in, note = _drawn_in(document.header.get("$INSUNITS", 0), unit)
    except ValueError as error:
        rule, got = error.args
        raise JobError([Fault(0, "$INSUNITS", rule, got, "say it with --unit in, ft, mm, cm or m")],
                       str(path)) from None
    name, scale = DRAWING_UNITS[drawn_in]
    reading = _Reading(document, roles, scale, window)
    reading.sheet.repairs = repairs
    reading.sheet.unit_note = note
    try:
        reading.read()
    except _TooMuch as error:
        raise JobError([Fault(0, "", str(error), hint="save the elevations alone as a DXF file of their own")],
                       str(path)) from None
    return reading.sheet, UNITS[name]


def _drawn_in(code: object, told: str) -> tuple[str, str]:
    """Return what a drawing is drawn in, and what there is to say of it; ValueError(rule, got) when unknown."""
    own = INSUNITS.get(code) if isinstance(code, int) else None
    if told:
        differs = own is not None and own != told
        return told, f"the drawing says it is in {own}; it was read in {told}, as --unit says" if differs else ""
    if own is None:
        if code == 0:
            raise ValueError("must say what the drawing is drawn in, which it does not", "0, no unit")
        raise ValueError("must be inches, feet, millimetres, centimetres or metres", show(str(code)))
    return own, ""


# --- the file ----------------------------------------------------------------------------------

def _document(path: Path) -> tuple[Any, int]:
    """Return the document in a file, and how many repairs it took to read it."""
    file = str(path)
    data = _bytes(path)
    if _DWG.match(data):
        raise JobError([Fault(0, "", "must be a DXF file, which a DWG file is not",
                              hint="save it as DXF in the CAD program")], file)
    if data.startswith(_BINARY) and len(data) > MAX_BINARY_BYTES:
        raise JobError([Fault(0, "", f"must be at most {MAX_BINARY_BYTES // 1_000_000} MB as a binary DXF",
                              hint="save it as a text DXF")], file)
    records = sum(1 for _ in _RECORD.finditer(data))
    if records > MAX_RECORDS:
        raise JobError([Fault(0, "", f"must hold at most {MAX_RECORDS:,} records", f"{records:,}",
                              "save the elevations alone as a DXF file of their own")], file)
    if not data.startswith(_BINARY) and not records:
        raise JobError([Fault(0, "", "must be a DXF file, which this is not")], file)
    try:
        document = _EZDXF.readfile(path)
        document.modelspace()
        return document, 0
    except Exception as first:  # whatever a broken file does to the parser, the recovering one is tried
        why = _reason(first)
    try:
        document, auditor = recover.read(io.BytesIO(data))
        document.modelspace()
        return document, max(len(auditor.errors) + len(auditor.fixes), 1)
    except Exception as second:  # nothing is known of what broken files raise; all of it means the same
        raise JobError([Fault(0, "", f"cannot be read as DXF: {_reason(second) or why}")], file) from None


def _reason(error: Exception) -> str:
    """Return a parser's reason as one short line."""
    return show(" ".join(str(error).split()), most=120) or type(error).__name__


def _bytes(path: Path) -> bytes:
    if os.path.exists(path) and not os.path.isfile(path):
        raise JobError([Fault(0, "", "must be a file")], str(path))
    return read_bytes(path, MAX_DXF_BYTES, hint="save the elevations alone as a DXF file of their own")


# --- model space -------------------------------------------------------------------------------

class _TooMuch(Exception):
    """A drawing holds more than is read."""


class _Strange(Exception):
    """One entity is not understood; the message says why."""


class _Reading:
    """One pass over a model space."""

    def __init__(self, document: Any, roles: Roles, scale: float, window: Box | None) -> None:
        self.document, self.roles, self.scale, self.window = document, roles, scale, window
        self.sheet = Sheet()
        self.drawn = 0
        self.unseen = self._unseen_layers()
        self.in_block: dict[tuple[str, bool], bool] = {}

    def _unseen_layers(self) -> set[str]:
        """Return the layers that are off or frozen, in capitals."""
        unseen: set[str] = set()
        for layer in self.document.layers:
            try:
                if layer.is_off() or layer.is_frozen():
                    unseen.add(str(layer.dxf.name).upper())
            except Exception as error:  # a layer without its own record is one that is seen
                self.sheet.notes[f"broken layer records ({type(error).__name__})"] += 1
        return unseen

    def read(self) -> None:
        """Read everything."""
        names = {str(layer.dxf.name).upper() for layer in self.document.layers if layer.dxf.hasattr("name")}
        for entity in self.document.modelspace():
            layer, handle = self._named(entity)
            names.add(layer.upper())
            self._take(entity, layer, handle, 0)
        for layer in sorted(set(self.roles.told) - names):
            self.sheet.faults.append(Fault(0, "--as", "must name a layer of the drawing", show(layer)))

    def _named(self, entity: Any) -> tuple[str, str]:
        """Return an entity's layer and handle."""
        try:
            return str(entity.dxf.get("layer", "0")), str(entity.dxf.get("handle", None) or "")
        except Exception as error:  # an entity so broken that it has no layer is told as one on no layer
            self.sheet.notes[f"broken entities ({type(error).__name__})"] += 1
            return "0", ""

    def _take(self, entity: Any, layer: str, handle: str, depth: int) -> None:
        """Take one entity, or what a block reference stands for."""
        self.drawn += 1
        if self.drawn > MAX_DRAWN:
            raise _TooMuch(f"must hold at most {MAX_DRAWN:,} entities, block references written out")
        kind = entity.dxftype()
        role = self.roles.of(layer)
        if layer.upper() in self.unseen:
            self.sheet.hidden[layer] += 1
            return
        place = Place(handle, layer, NOWHERE, self.scale)
        try:
            place = Place(handle, layer, _somewhere(entity), self.scale)
            if kind == "INSERT":
                self._insert(entity, layer, handle, depth)
            elif kind in ("TEXT", "MTEXT", "ATTRIB"):
                self._words(entity, place)
            elif not role:
                self.sheet.others[layer] += 1
            elif kind in ANNOTATION:
                self.sheet.notes[kind.replace("_", " ").lower()] += 1
            else:
                self._shape(entity, kind, role, place)
        except _TooMuch:
            raise
        except _Strange as error:
            self._strange(entity, role, place, str(error))
        except Exception as error:  # broken in a way of its own
            self._strange(entity, role, place, f"cannot be understood ({_reason(error)})")

    def _strange(self, entity: Any, role: str, place: Place, what: str) -> None:
        """Tell what is not understood, where its layer is read and it is not outside the window."""
        if not role:
            self.sheet.others[place.layer] += 1
            return
        if self.window is not None and place.at != NOWHERE and not within(
                (*place.at, *place.at), self.window, slack=0.0):
            self.sheet.outside += 1
            return
        self.sheet.faults.append(place.fault(
            what, got=show(entity.dxftype()), hint=f"it stands on a layer read as {role}; move it to a layer of its own"
            if entity.dxftype() not in ("LINE", "LWPOLYLINE", "POLYLINE", "CIRCLE") else ""))

    # --- block references ----------------------------------------------------------------------

    def _insert(self, insert: Any, layer: str, handle: str, depth: int) -> None:
        """Take what a block reference stands for; what is on layer 0 in a block is on the reference's layer."""
        if not self._matters(str(insert.dxf.get("name", "")), layer):
            self.sheet.others[layer] += 1
            return
        if depth >= MAX_BLOCKS:
            raise _Strange(f"must not hold blocks nested deeper than {MAX_BLOCKS}")
        copies = [insert]
        if insert.mcount > 1:
            if insert.mcount + self.drawn > MAX_DRAWN:
                raise _TooMuch(f"must hold at most {MAX_DRAWN:,} entities, block references written out")
            copies = list(insert.multi_insert())
        for attribute in getattr(insert, "attribs", ()):
            self._take(attribute, layer, handle, depth + 1)
        skipped: list[tuple[Any, str]] = []
        for copy in copies:
            parts = copy.virtual_entities(skipped_entity_callback=lambda part, why: skipped.append((part, str(why))))
            for part in parts:
                own = str(part.dxf.get("layer", "0"))
                self._take(part, layer if own == "0" else own, handle, depth + 1)
        for part, why in skipped:
            own = str(part.dxf.get("layer", "0"))
            on = layer if own == "0" else own
            self._strange(part, self.roles.of(on), Place(handle, on, _somewhere(insert), self.scale),
                          f"cannot be taken out of its block ({show(why)})")

    def _matters(self, name: str, layer: str) -> bool:
        """Tell whether a block holds anything on a layer that is read, layer 0 being the reference's.

        A block that holds itself matters, so that it is told.
        """
        key = name.upper(), bool(self.roles.of(layer))
        if key not in self.in_block:
            self.in_block[key] = True
            block = self.document.blocks.get(name)
            if block is None:
                self.in_block[key] = key[1]
            else:
                self.in_block[key] = any(self._part_matters(part, layer) for part in block)
        return self.in_block[key]

    def _part_matters(self, part: Any, layer: str) -> bool:
        own = str(part.dxf.get("layer", "0"))
        on = layer if own == "0" else own
        if part.dxftype() == "INSERT":
            return self._matters(str(part.dxf.get("name", "")), on)
        return part.dxftype() not in ("TEXT", "MTEXT", "ATTDEF") and bool(self.roles.of(on))

    # --- lines, circles, words -----------------------------------------------------------------

    def _shape(self, entity: Any, kind: str, role: str, place: Place) -> None:
        """Take a line or a circle on a layer that is read."""
        if kind == "CIRCLE":
            self._circle(entity, role, place)
            return
        if kind == "POINT":
            self.sheet.notes["point"] += 1
            return
        points, closed = self._points(entity, kind)
        if len(points) > MAX_CORNERS:
            raise _Strange(f"must have at most {MAX_CORNERS:,} points")
        if not points:
            raise _Strange("must have points")
        place = replace(place, at=points[0])
        if not self._wanted(box_of(tuple(points)), place):
            return
        self._count(role, place.layer)
        self.sheet.chains.append(Chain(role, place, tuple(self._ticks(point) for point in points), closed))

    def _points(self, entity: Any, kind: str) -> tuple[list[Vec], bool]:
        """Return the points of a line [drawing units], and whether it is closed."""
        if kind == "LINE":
            start, end = entity.dxf.start, entity.dxf.end
            return self._flat([start, end]), False
        if kind == "LWPOLYLINE":
            if any(abs(bulge) > 1e-9 for *_, bulge in entity.get_points("xyb")):
                raise _Strange("must have straight sides")
            return self._flat(list(entity.vertices_in_wcs())), bool(entity.closed)
        if kind == "POLYLINE" and (entity.is_2d_polyline or entity.is_3d_polyline):
            if any(abs(vertex.dxf.get("bulge", 0.0)) > 1e-9 for vertex in entity.vertices):
                raise _Strange("must have straight sides")
            return self._flat(list(entity.points_in_wcs())), bool(entity.is_closed)
        raise _Strange("must be drawn with lines, polylines or circles")

    def _flat(self, points: list[Any]) -> list[Vec]:
        """Return points without their heights, which must be one and the same."""
        flat = [(float(point[0]), float(point[1])) for point in points]
        depths = [float(point[2]) for point in points]
        if not all(math.isfinite(x) and math.isfinite(y) for x, y in flat):
            raise _Strange("must have points that are numbers")
        if depths and not max(depths) - min(depths) <= 1e-6 + 1e-9 * max(abs(depth) for depth in depths):
            raise _Strange("must lie flat in the XY plane")
        if any(max(abs(x), abs(y)) * self.scale > MAX_TICKS for x, y in flat):
            raise _Strange("must be drawn nearer to the origin")
        return flat

    def _circle(self, entity: Any, role: str, place: Place) -> None:
        normal = entity.dxf.get("extrusion", (0.0, 0.0, 1.0))
        if abs(normal[0]) > 1e-9 or abs(normal[1]) > 1e-9:
            raise _Strange("must lie flat in the XY plane")
        centre = self._flat([entity.ocs().to_wcs(entity.dxf.center)])[0]
        radius = abs(float(entity.dxf.radius))
        if not math.isfinite(radius) or radius * self.scale > MAX_TICKS:
            raise _Strange("must have a radius that is a number")
        x, y = centre
        if not self._wanted((x - radius, y - radius, x + radius, y + radius), place):
            return
        self._count(role, place.layer)
        self.sheet.discs.append(Disc(role, replace(place, at=centre), self._ticks(centre),
                                     radius * self.scale))

    def _words(self, entity: Any, place: Place) -> None:
        """Take a text, a line of it where it has several."""
        if place.at != NOWHERE and not self._wanted((*place.at, *place.at), place, text=True):
            return
        text, at, height, side = _placed(entity)
        lines = [" ".join(line.split()) for line in str(text)[:2000].splitlines()]
        first_line = next((line for line in lines if line), "")
        if not first_line or not first_line.isprintable() or not math.isfinite(height):
            return
        shift = side * LETTER * height * len(first_line)
        middle = (float(at[0]) + shift, float(at[1]) + height / 2)
        if not all(math.isfinite(value) and abs(value) * self.scale < MAX_TICKS for value in (*middle, height)):
            return
        if len(self.sheet.words) >= MAX_WORDS:
            raise _TooMuch(f"must hold at most {MAX_WORDS:,} texts")
        self.sheet.words.append(Words(first_line, place, self._ticks(middle), abs(height) * self.scale))

    # --- counting ------------------------------------------------------------------------------

    def _wanted(self, box: Box, place: Place, *, text: bool = False) -> bool:
        """Tell whether something lies within the window; what lies across its edge is a fault."""
        if self.window is None or within(box, self.window, slack=0.0):
            return True
        left, bottom, right, top = self.window
        if text or box[2] < left or box[0] > right or box[3] < bottom or box[1] > top:
            self.sheet.outside += 1
            return False
        raise _Strange("must lie inside or outside the window, not across its edge")

    def _count(self, role: str, layer: str) -> None:
        self.sheet.layers.setdefault(role, set()).add(layer)
        if len(self.sheet.chains) + len(self.sheet.discs) >= MAX_READ:
            raise _TooMuch(f"must have at most {MAX_READ:,} lines and circles on the layers that are read")

    def _ticks(self, point: Vec) -> Vec:
        return point[0] * self.scale, point[1] * self.scale


def _somewhere(entity: Any) -> Vec:
    """Return some point of an entity [drawing units]; NOWHERE when none is found."""
    point: Any = None
    for name in ("start", "insert", "center", "location", "vtx0", "defpoint"):
        if point is None and entity.dxf.hasattr(name):
            point = entity.dxf.get(name)
    kind = entity.dxftype()
    if kind == "LWPOLYLINE":
        point = next(iter(entity.vertices()), None)
    elif kind == "SPLINE":
        point = next((point for points in (entity.control_points, entity.fit_points) for point in points), None)
    elif kind == "POLYLINE":
        point = next((vertex.dxf.location for vertex in entity.vertices), None)
    if point is None:
        return NOWHERE
    x, y = float(point[0]), float(point[1])
    return (x, y) if math.isfinite(x) and math.isfinite(y) else NOWHERE


def _placed(entity: Any) -> tuple[str, Any, float, float]:
    """Return a text's words, where it is put, its height, and how far its middle is from there in its own lengths."""
    if entity.dxftype() == "MTEXT":
        side = {1: 0.5, 2: 0.0, 0: -0.5}[int(entity.dxf.get("attachment_point", 1)) % 3]
        return str(entity.plain_text()), entity.dxf.insert, float(entity.dxf.get("char_height", 1.0)), side
    align, first, second = entity.get_placement()
    if align.name in ("ALIGNED", "FIT"):
        first, side = (first + second) / 2, 0.0
    else:
        side = 0.5 if "LEFT" in align.name else -0.5 if "RIGHT" in align.name else 0.0
    return str(entity.plain_text()), entity.ocs().to_wcs(first), float(entity.dxf.get("height", 1.0)), side


def roles_of_layers(sheet: Sheet) -> Iterator[tuple[str, str]]:
    """Yield each role with the layers it was read from, as text."""
    for role in sorted(sheet.layers):
        yield role, ", ".join(show(layer) for layer in sorted(sheet.layers[role]))
