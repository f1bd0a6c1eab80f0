"""Reads the model space of a DXF file: what is visible and live on layers that are read, as plain lines.

Nothing a file holds gets further than this module unchecked: every number is finite and within bounds.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from layout.errors import Fault, JobError
from layout.job.trace.carried import app_data, own_wall
from layout.job.trace.curves import (
    LETTER, MAX_CORNERS, MAX_TICKS, Strange, bow_of, circle_of, dimension_of, placed_text, points_of, somewhere,
)
from layout.job.trace.document import DRAWING_UNITS, drawn_in, open_document, reason_of
from layout.job.trace.drawn import (
    NOWHERE, Bow, DrawnBox, Disc, DrawingPlace, DrawnPolyline, DrawnWords, Own, ReadDrawing, Seen, Vec,
    box_around_points, box_within, boxes_apart,
)
from layout.job.trace.layers import Roles
from layout.job.trace.visible import CLIPPED, INVISIBLE, Clipped, Visibility, clip_of
from layout.job.tree import show
from layout.units import UNITS, Unit

MAX_DRAWN = 300_000
"""Most entities in model space, block references written out."""
MAX_READ = 20_000
"""Most lines and circles on layers that are read."""
MAX_WORDS = 50_000
"""Most texts in what is read."""
MAX_BLOCKS = 8
"""Deepest nesting of blocks."""
MAX_SEEN = 20_000
"""Most lines of what was passed over that go into a picture."""

ANNOTATION = frozenset(("DIMENSION", "ARC_DIMENSION", "LEADER", "MULTILEADER", "MLEADER", "HATCH", "TOLERANCE"))
"""What may stand on a layer that is read without shaping the wall; it is counted and said."""
_LINES = frozenset(("LINE", "LWPOLYLINE", "POLYLINE", "CIRCLE", "ARC", "ELLIPSE", "SPLINE"))


def read_sheet(
    path: Path, *, roles: Roles, unit: str, window: DrawnBox | None, picture: bool = False,
    own_roles: Callable[[str], Roles | None] | None = None,
) -> tuple[ReadDrawing, Unit]:
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
    picture
        Keep what is passed over too, for a picture of it.
    own_roles
        Gives what layers are for from the text that a drawing carries, where it carries any.

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
    document, repairs = open_document(path)
    told, note = drawn_in(document, unit, path)
    name, scale = DRAWING_UNITS[told]
    carried = app_data(document)
    own = own_roles(carried) if own_roles is not None and carried else None
    reading = _Reading(document, own or roles, scale, window, picture=picture)
    sheet = reading.sheet
    sheet.repairs, sheet.unit_note, sheet.scale, sheet.carried = repairs, note, scale, carried
    try:
        reading.read()
    except _TooMuch as error:
        raise JobError([Fault(0, "", str(error), hint="save the elevations alone as a DXF file of their own")],
                       str(path)) from None
    return sheet, UNITS[name]


class _TooMuch(Exception):
    """A drawing holds more than is read."""


class _Reading:
    """One pass over a model space."""

    def __init__(self, document: Any, roles: Roles, scale: float, window: DrawnBox | None, *, picture: bool) -> None:
        self.document, self.roles, self.scale, self.window, self.picture = document, roles, scale, window, picture
        self.unit = UNITS["in" if scale in (16.0, 192.0) else "mm"]
        self.sheet = ReadDrawing()
        self.drawn = 0
        self.visibility = Visibility(document, roles)
        self.sheet.notes.update(self.visibility.notes)
        self.in_block: dict[tuple[str, bool], bool] = {}
        self.clips: list[DrawnBox] = []

    def read(self) -> None:
        """Read everything."""
        names: set[str] = set()
        for entity in self.document.modelspace():
            layer, handle = self._named(entity)
            names.add(layer.upper())
            self._take(entity, layer, handle, 0)
        self.sheet.faults += self.visibility.faults(names)

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
        if self._hidden(entity, kind, layer):
            return
        place = DrawingPlace(handle, layer, NOWHERE, self.scale)
        try:
            place = DrawingPlace(handle, layer, somewhere(entity), self.scale)
            if kind == "INSERT":
                self._insert(entity, layer, handle, depth)
            elif kind in ("TEXT", "MTEXT", "ATTRIB"):
                self._words(entity, place)
            elif kind == "DIMENSION":
                self._dimension(entity, role, place)
            elif not role:
                self.sheet.others[layer] += 1
                self._note(entity, "", "on another layer")
            elif kind in ANNOTATION:
                self.sheet.notes[kind.replace("_", " ").lower()] += 1
            else:
                self._shape(entity, kind, role, place)
        except _TooMuch:
            raise
        except (Strange, Clipped) as error:
            self._strange(entity, role, place, str(error))
        except Exception as error:  # broken in a way of its own
            self._strange(entity, role, place, f"cannot be understood ({reason_of(error)})")

    def _hidden(self, entity: Any, kind: str, layer: str) -> bool:
        """Tell whether something is not read since it is hidden, not plotted or not new work; count it."""
        why = self.visibility.why_not(layer, block=kind == "INSERT")
        if why and (kind != "INSERT" or self.visibility.hides_block(layer)):
            self.sheet.pass_over(why, layer)
            self._note(entity, self.roles.of(layer), why)
            return True
        unseen = entity.dxf.is_supported("invisible") and entity.dxf.get("invisible", 0)
        if unseen or (kind == "ATTRIB" and entity.is_invisible):
            if self.roles.of(layer) or kind != "ATTRIB":
                self.sheet.pass_over(INVISIBLE, layer)
                self._note(entity, self.roles.of(layer), INVISIBLE)
            return True
        return False

    def _strange(self, entity: Any, role: str, place: DrawingPlace, what: str) -> None:
        """Tell what is not understood, where its layer is read and it is not outside the window."""
        kind = entity.dxftype()
        if not role and kind != "INSERT":
            self.sheet.others[place.layer] += 1
            return
        if self.window is not None and place.at != NOWHERE and not box_within(
                (*place.at, *place.at), self.window, slack=0.0):
            self.sheet.outside += 1
            return
        self._note(entity, role, what)
        hint = f"it stands on a layer read as {role}; move it to a layer of its own"
        self.sheet.faults.append(place.fault(what, got=show(kind), hint=hint if role and kind not in _LINES else ""))

    # --- block references ----------------------------------------------------------------------

    def _insert(self, insert: Any, layer: str, handle: str, depth: int) -> None:
        """Take what a block reference stands for; what is on layer 0 in a block is on the reference's layer."""
        name = str(insert.dxf.get("name", ""))
        block = self.document.blocks.get(name)
        if block is not None and block.block is not None and int(block.block.dxf.get("flags", 0)) & 4:
            self.sheet.references[name] = str(block.block.dxf.get("xref_path", "")) or name
            if not len(block):
                return
        if not self._matters(name, layer):
            self.sheet.others[layer] += 1
            self._note(insert, "", "a block on another layer")
            return
        if depth >= MAX_BLOCKS:
            raise Strange(f"must not hold blocks nested deeper than {MAX_BLOCKS}")
        if block is None:
            raise Strange(f"must refer to a block of the drawing, which {show(name)} is not")
        copies = [insert]
        if insert.mcount > 1:
            if insert.mcount + self.drawn > MAX_DRAWN:
                raise _TooMuch(f"must hold at most {MAX_DRAWN:,} entities, block references written out")
            copies = list(insert.multi_insert())
        for attribute in getattr(insert, "attribs", ()):
            self._take(attribute, layer, handle, depth + 1)
        clip = clip_of(insert)
        if clip is not None:
            self.clips.append(clip)
        try:
            for copy in copies:
                self._parts(copy, layer, handle, depth)
        finally:
            if clip is not None:
                self.clips.pop()

    def _parts(self, insert: Any, layer: str, handle: str, depth: int) -> None:
        skipped: list[tuple[Any, str]] = []
        for part in insert.virtual_entities(skipped_entity_callback=lambda part, why: skipped.append((part, str(why)))):
            own = str(part.dxf.get("layer", "0"))
            self._take(part, layer if own == "0" else own, handle, depth + 1)
        for part, why in skipped:
            own = str(part.dxf.get("layer", "0"))
            on = layer if own == "0" else own
            self._strange(part, self.roles.of(on), DrawingPlace(handle, on, somewhere(insert), self.scale),
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

    def _shape(self, entity: Any, kind: str, role: str, place: DrawingPlace) -> None:
        """Take a line or a circle on a layer that is read."""
        if kind == "POINT":
            self.sheet.notes["point"] += 1
            return
        if kind == "CIRCLE" or kind == "ELLIPSE" and role == "sleeve":
            circle = circle_of(entity, kind, self.scale)
            if circle is not None:
                self._circle(*circle, role, place)
                return
        if kind == "ARC" and role == "sleeve":
            self._bow(entity, place)
            return
        points, closed = points_of(entity, self.scale)
        if len(points) > MAX_CORNERS:
            raise Strange(f"must have at most {MAX_CORNERS:,} points")
        if not points:
            raise Strange("must have points")
        place = replace(place, at=points[0])
        if not self._wanted(box_around_points(tuple(points)), place):
            return
        self._count(role, place.layer)
        own = own_wall(entity)
        self.sheet.chains.append(DrawnPolyline(role, place, tuple(self._ticks(point) for point in points), closed,
                                               Own(own[0], self._ticks(own[1])) if own else None))

    def _circle(self, centre: Vec, radius: float, role: str, place: DrawingPlace) -> None:
        x, y = centre
        if self._wanted((x - radius, y - radius, x + radius, y + radius), place):
            self._count(role, place.layer)
            self.sheet.discs.append(Disc(role, replace(place, at=centre), self._ticks(centre), radius * self.scale))

    def _bow(self, entity: Any, place: DrawingPlace) -> None:
        centre, radius, start, sweep = bow_of(entity, self.scale)
        x, y = centre
        if self._wanted((x - radius, y - radius, x + radius, y + radius), place):
            self._count("sleeve", place.layer)
            self.sheet.bows.append(
                Bow(replace(place, at=centre), self._ticks(centre), radius * self.scale, start, sweep))

    def _words(self, entity: Any, place: DrawingPlace) -> None:
        """Take a text, a line of it where it has several."""
        if place.at != NOWHERE and not self._wanted((*place.at, *place.at), place, text=True):
            return
        text, at, height, side = placed_text(entity)
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
        self.sheet.words.append(DrawnWords(first_line, place, self._ticks(middle), abs(height) * self.scale))

    def _dimension(self, entity: Any, role: str, place: DrawingPlace) -> None:
        """Count a dimension; keep one that says another length than it measures."""
        if role:
            self.sheet.notes["dimension"] += 1
        else:
            self.sheet.others[place.layer] += 1
        outside = self.window is not None and not box_within((*place.at, *place.at), self.window, slack=0.0)
        if outside and place.at != NOWHERE:
            return
        try:
            odd = dimension_of(entity, self.scale, self.unit)
        except Exception as error:  # a dimension that cannot be measured says nothing
            self.sheet.notes[f"dimensions that cannot be measured ({type(error).__name__})"] += 1
            return
        if odd is not None:
            self.sheet.unlike.append((place, *odd))

    # --- counting ------------------------------------------------------------------------------

    def _wanted(self, box: DrawnBox, place: DrawingPlace, *, text: bool = False) -> bool:
        """Tell whether something lies within the clip boundaries and the window; across an edge is a fault."""
        for clip in self.clips:
            slack = 1e-6 * max(clip[2] - clip[0], clip[3] - clip[1])
            if box_within(box, clip, slack=slack):
                continue
            if text or boxes_apart(box, clip, slack=-slack):
                self.sheet.pass_over(CLIPPED, place.layer)
                return False
            raise Strange("must lie inside or outside the clip boundary of its block, not across it")
        if self.window is None or box_within(box, self.window, slack=0.0):
            return True
        if text or boxes_apart(box, self.window, slack=0.0):
            self.sheet.outside += 1
            return False
        raise Strange("must lie inside or outside the window, not across its edge")

    def _count(self, role: str, layer: str) -> None:
        self.sheet.layers.setdefault(role, set()).add(layer)
        if len(self.sheet.chains) + len(self.sheet.discs) + len(self.sheet.bows) >= MAX_READ:
            raise _TooMuch(f"must have at most {MAX_READ:,} lines and circles on the layers that are read")

    def _ticks(self, point: Vec) -> Vec:
        return point[0] * self.scale, point[1] * self.scale

    def _note(self, entity: Any, role: str, why: str) -> None:
        """Keep what is passed over for the picture, as well as it can be drawn."""
        if not self.picture or len(self.sheet.seen) >= MAX_SEEN:
            return
        try:
            if entity.dxftype() == "CIRCLE":
                (x, y), r = circle_of(entity, "CIRCLE", self.scale) or ((0.0, 0.0), 0.0)
                turns = [math.tau * step / 24 for step in range(25)]
                points = [(x + r * math.cos(turn), y + r * math.sin(turn)) for turn in turns]
            else:
                points, closed = points_of(entity, self.scale)
                points += points[:1] if closed else []
        except Exception:  # what has no lines is marked where it stands
            at = somewhere(entity)
            points = [] if at == NOWHERE else [at]
        if points:
            self.sheet.seen.append(Seen(tuple(self._ticks(point) for point in points[:MAX_CORNERS]), role, why))


def roles_of_layers(sheet: ReadDrawing) -> Iterator[tuple[str, str]]:
    """Yield each role with the layers it was read from, as text."""
    for role in sorted(sheet.layers):
        yield role, ", ".join(show(layer) for layer in sorted(sheet.layers[role]))
