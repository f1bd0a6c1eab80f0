"""Writes a set of drawings as DXF: full size in model space, sheets in paper space, the same bytes each time."""

from __future__ import annotations

import logging
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import ezdxf
from ezdxf import units
from ezdxf.document import Drawing as Document

from layout.drawing.dxf_carried import WALL_APP, carry, mark
from layout.drawing.dxf_tables import DIMENSIONS, STYLE, extents, keep_used_layers, ltscale, set_up
from layout.drawing.model.blocks import BLOCKS
from layout.drawing.model.entities import (
    AlignAcross, AlignUp, Block, Box, CadSet, Circle, Dimension, Drawing, Entity, Group, Hatch, Insert, Line, Model,
    Page, Polyline, SubDrawing, Text, Vec, opened, unknown,
)
from layout.drawing.model.layers import LAYERS, Layer, layer_of
from layout.drawing.model.blanks import unmasked
from layout.drawing.model.plain import box_of_text, dimension_parts, dimension_text, hatch_lines, insert_parts
from layout.errors import DrawingError

EZDXF: Any = ezdxf  # its front does not say what it exports
APP = "LAPWRIGHT"
"""Name under which a piece's outline carries its tag as extended data."""
APP_DATA = "LAPWRIGHT_PIECE"
"""Name under which it carries what else is known of the piece, each value after its name."""
VERSIONS = ("R12", "R2000", "R2010", "R2018")
"""Releases of the format that can be written."""
PIECE = "PIECE"
"""The block that carries what is known of a piece as attributes, whichever way its tag is written."""
_SAME = {"TAG": PIECE, "TAG-UP": PIECE, "MARK": PIECE, "MARK-UP": PIECE}
_SORTS = {
    "WALL": ("wall", "footing", "grade", "opening", "sleeve", "fold"),
    "REINFORCING": ("strip", "collar", "cover"), "DROPS": ("piece", "edge", "slit", "drainage", "beyond"),
    "LAPS": ("lap", "over", "closing"), "DIMS": ("dims", "water", "note"),
}
"""What the blocks within a part hold, by the use of its layer; TAGS holds the rest."""

_ACROSS, _UP = {"left": 0, "centre": 1, "right": 2}, {"base": 0, "middle": 2, "top": 3}
"""What of a text lies at its point, as the format counts it."""


def check_version(version: str) -> None:
    """Raise DrawingError unless a release of the format can be written."""
    if version not in VERSIONS:
        raise DrawingError(f"the DXF release must be one of {', '.join(VERSIONS)} (got {version!r})")


def write_dxf(cad: CadSet, path: Path, *, layers: Mapping[str, Layer] | None = None, version: str = "R2010",
              flat: bool = False, carried: str = "") -> None:
    """Write a set of drawings as one DXF file.

    Parameters
    ----------
    cad
        The drawings and the sheets.
    path
        Where to write.
    layers
        An office's own layers by their use; the standard ones when None.
    version
        Release of the format. R12 has neither sheets nor hatches nor attributes that are seen everywhere, so it is
        always flat, and it has model space only.
    flat
        Tags as text, dimensions as lines and text, hatches as lines, no blocks: for programs that read little.
    carried
        Text of the job file, carried along for reading the walls back; empty for none.

    Raises
    ------
    DrawingError
        When something cannot be drawn; nothing is left out.
    """
    check_version(version)
    flat = flat or version == "R12"
    with no_clock():
        doc = EZDXF.new(version)
        if version != "R12":  # it knows no units
            doc.units = units.IN if cad.unit.name == "in" else units.MM
        for app in (APP, APP_DATA, WALL_APP):
            doc.appids.add(app)
        table = LAYERS if layers is None else layers
        set_up(doc, cad, table, flat=flat)
        if not flat:
            _blocks(doc, table, cad)
            doc.set_wipeout_variables(frame=0)
        for model in cad.models:
            space = _Space(doc, doc.modelspace(), table, cad, model.drawing, model.at, flat=flat)
            space.fill(unmasked(model.drawing.entities, one=space.one) if flat else model.drawing.entities)
        if version != "R12":
            _sheets(doc, table, cad, flat=flat)
        extents(doc, cad)
        keep_used_layers(doc)
        if carried and version != "R12":  # it has no dictionaries to carry it in
            carry(doc, carried, {use: layer for use, layer in table.items() if doc.layers.has_entry(layer.name)})
        doc.update_all()
        doc.classes.classes = dict(sorted(doc.classes.classes.items()))  # ezdxf adds them from a set, in any order
        doc.saveas(path)


@contextmanager
def no_clock() -> Iterator[None]:
    """Write neither dates nor random identifiers, and log nothing, while this lasts."""
    before = EZDXF.options.write_fixed_meta_data_for_testing
    log = logging.getLogger("ezdxf")
    silent = log.disabled
    EZDXF.options.write_fixed_meta_data_for_testing = True
    log.disabled = True  # it warns of every R12 document that the format knows no units
    try:
        yield
    finally:
        EZDXF.options.write_fixed_meta_data_for_testing = before
        log.disabled = silent


class _Space:
    """A layout being filled from one drawing, moved by a step [ticks]; ``per`` ticks are one unit of the file."""

    def __init__(self, doc: Document, layout: Any, layers: Mapping[str, Layer], cad: CadSet, drawing: Drawing | None,
                 at: Vec, *, flat: bool = False, nested: bool = False) -> None:
        self.doc, self.layout, self.layers, self.at, self.cad, self.drawing = doc, layout, layers, at, cad, drawing
        self.flat, self.nested = flat, nested
        # a paper sheet counts in millimetres: a drawing is None there
        self.per = float(cad.unit.ticks) if drawing else (25.4 if cad.unit.name == "in" else 1.0)
        self.one = drawing.on_wall(1.0) if drawing else 1.0
        self.scale = drawing.scale if drawing else 1
        self.ltscale = ltscale(cad, self.scale)
        self.tag = ""
        self.known: dict[str, dict[str, Any]] = {}

    def put(self, point: Vec) -> Vec:
        """Return a point in the file's unit."""
        return (point[0] + self.at[0]) / self.per, (point[1] + self.at[1]) / self.per

    def plotted(self, height: float) -> float:
        """Return a plotted height [mm] in the file's unit."""
        return height * self.one / self.per

    def on(self, use: str) -> Mapping[str, Any]:
        """Return what everything on the layer of a use has in common."""
        if use not in self.known:
            layer = layer_of(use, self.layers)
            self.known[use] = {"layer": layer.name}
            if layer.line != "solid" and self.ltscale != 1.0:
                self.known[use]["ltscale"] = self.ltscale
        return self.known[use]

    def lettered(self, use: str, height: float, *, strong: bool, turned: bool) -> dict[str, Any]:
        """Return how text on the layer of a use is written, its capitals so high [mm]."""
        made = {**self.on(use), "height": self.plotted(height), "style": STYLE[strong]}
        return {**made, "rotation": 90.0} if turned else made

    def fill(self, entities: Iterable[Entity]) -> None:
        for entity in entities:
            if isinstance(entity, Group):
                self.fill(entity.entities)
            elif isinstance(entity, SubDrawing):
                self.part(entity)
            else:
                self.add(entity)

    def part(self, part: SubDrawing) -> None:
        """Put a part as a block; what it holds lies in blocks of its own within that, by what it is."""
        if self.flat:
            step = self.at[0] + part.step[0], self.at[1] + part.step[1]
            _Space(self.doc, self.layout, self.layers, self.cad, self.drawing, step, flat=True,
                   nested=True).fill(part.entities)
            return
        if part.name not in self.doc.blocks:
            made: Any = self.doc.blocks.new(part.name)
            for name, _ in part.values:
                made.add_attdef(name, (0, 0), dxfattribs={**self.on("tag"), "height": self.plotted(2.5), "flags": 1})
            sorts: dict[str, list[Entity]] = {}
            for entity in opened(part.entities):
                use = "" if isinstance(entity, (Group, SubDrawing)) else entity.layer
                sort = next((sort for sort, uses in _SORTS.items() if use in uses), "TAGS")
                sorts.setdefault(sort, []).append(entity)
            for sort in (*_SORTS, "TAGS"):
                if sort in sorts:
                    inner = self.doc.blocks.new(f"{part.name}-{sort}")
                    step = (-part.base[0], -part.base[1])
                    _Space(self.doc, inner, self.layers, self.cad, self.drawing, step, nested=True).fill(sorts[sort])
                    made.add_blockref(inner.name, (0, 0), dxfattribs=self.on(_SORTS.get(sort, ("tag",))[0]))
        block = self.layout.add_blockref(part.name, self.put(part.at), dxfattribs=self.on("wall"))
        for name, value in part.values:
            block.add_attrib(name, _plain(value), self.put(part.at), dxfattribs={
                **self.on("tag"), "height": self.plotted(2.5)}).is_invisible = True

    def add(self, entity: Entity) -> None:
        if isinstance(entity, Line):
            self.layout.add_line(self.put(entity.start), self.put(entity.end), self.on(entity.layer))
        elif isinstance(entity, Polyline):
            self.polyline(entity)
        elif isinstance(entity, Circle):
            self.layout.add_circle(self.put(entity.centre), entity.radius / self.per, self.on(entity.layer))
        elif isinstance(entity, Hatch):
            self.hatch(entity)
        elif isinstance(entity, Text):
            self.text(entity, self.layout)
        elif isinstance(entity, Dimension):
            self.dimension(entity)
        elif isinstance(entity, Insert):
            self.insert(entity)
        else:
            raise unknown(entity)

    def polyline(self, entity: Polyline) -> None:
        points = [self.put(point) for point in entity.points]
        if self.doc.dxfversion == "AC1009":
            line = self.layout.add_polyline2d(points, close=entity.closed, dxfattribs=self.on(entity.layer))
        else:
            line = self.layout.add_lwpolyline(points, "xy", close=entity.closed, dxfattribs=self.on(entity.layer))
        if entity.piece and not self.nested:
            line.set_xdata(APP, [(1000, entity.piece)])
            if entity.values:
                line.set_xdata(APP_DATA, [(1000, _plain(text)[:255]) for pair in entity.values for text in pair])
        if entity.wall and not self.nested:
            mark(line, (*entity.wall[:2], self.put(entity.wall[2])))
        if entity.tone == "ink" and not self.flat:
            fill = self.layout.add_hatch(dxfattribs={**self.on(entity.layer), "color": 256})
            fill.paths.add_polyline_path(points, is_closed=True)

    def hatch(self, entity: Hatch) -> None:
        if self.flat:
            self.fill(hatch_lines(entity, one=self.one))
            return
        fill = self.layout.add_hatch(dxfattribs={**self.on(entity.layer), "color": 256})
        spacing = self.plotted(entity.spacing)
        slant = spacing * 2 ** 0.5 / 2
        offset = (-slant, slant) if entity.angle == 45 else (-slant, -slant)
        fill.set_pattern_fill("ANSI31", color=256, scale=1.0, pattern_type=0,
                              definition=[[float(entity.angle), (0.0, 0.0), offset, []]])
        for number, ring in enumerate(entity.rings):
            fill.paths.add_polyline_path([self.put(point) for point in ring], is_closed=True, flags=16 if number else 1)

    def blank(self, ring: Sequence[Vec], use: str) -> None:
        """Hide what was drawn before within a ring."""
        wipe = self.layout.add_wipeout([self.put(point) for point in ring])
        wipe.dxf.layer = layer_of(use, self.layers).name

    def text(self, entity: Text, layout: Any) -> None:
        if entity.masked and not self.flat:
            box = box_of_text(entity, one=self.one)
            self.blank(((box.left, box.bottom), (box.right, box.bottom), (box.right, box.top), (box.left, box.top)),
                       entity.layer)
        layout.add_text(_plain(entity.text), dxfattribs={
            **self.lettered(entity.layer, entity.height, strong=entity.strong, turned=entity.turned),
            **_placed(self.put(entity.at), entity.across, entity.up)})

    def insert(self, entity: Insert) -> None:
        """Put a block at the plotted scale, its attributes where they are written."""
        if self.flat:
            self.flat_insert(entity)
            return
        if BLOCKS[entity.block].blank:
            self.blank([(entity.at[0] + x, entity.at[1] + y) for x, y in _around(BLOCKS[entity.block], self.one)],
                       entity.layer)
        texts = [part for part in insert_parts(entity, one=self.one) if isinstance(part, Text)]
        if self.nested:  # what is known of a piece is told once, where its whole outline is
            if BLOCKS[entity.block].entities:
                self.place(entity)
            self.fill(part for part in texts if part.text)
            return
        for text in texts:
            if text.masked and text.text:
                self.blank(_corners(box_of_text(text, one=self.one)), entity.layer)
        self.attributed(entity, texts)

    def place(self, entity: Insert) -> Any:
        size = self.one / self.per
        return self.layout.add_blockref(_SAME.get(entity.block, entity.block), self.put(entity.at), dxfattribs={
            **self.on(entity.layer), "xscale": size, "yscale": size, "zscale": size})

    def flat_insert(self, entity: Insert) -> None:
        """Put the lines and the text of a symbol; a piece's tag carries it, and where on the piece it belongs."""
        values = dict(entity.values)
        for part in insert_parts(entity, one=self.one):
            if not isinstance(part, Text):
                self.add(part)
            elif part.text:
                self.text(part, self.layout)
                if entity.block in _SAME and "TAG" in values and self.drawing and not self.nested:
                    text = self.layout[-1]
                    text.set_xdata(APP, [(1000, values["TAG"]), (1011, (*self.put(entity.at), 0.0))])

    def attributed(self, entity: Insert, texts: Sequence[Text]) -> None:
        block = self.place(entity)
        values = dict(entity.values)
        away = entity.away or entity.at
        for slot in BLOCKS[entity.block].slots:
            point = self.put((away[0] + slot.at[0] * self.one, away[1] + slot.at[1] * self.one))
            attribute = block.add_attrib(slot.tag, _plain(values.get(slot.tag, "")), point, dxfattribs={
                **self.lettered(entity.layer, slot.height, strong=slot.strong, turned=slot.turned),
                **_placed(point, slot.across, slot.up), "flags": int(slot.hidden)})
            if slot.tag == "TAG" and values.get(slot.tag) not in [text.text for text in texts]:  # too long for a label
                attribute.is_invisible = True
                self.fill(text._replace(masked=False) for text in texts)

    def dimension(self, entity: Dimension) -> None:
        """Add a real dimension; its picture is drawn here, so that every reader shows the same one."""
        if self.flat:
            self.fill(dimension_parts(entity, one=self.one))
            return
        style, fill = DIMENSIONS.format(self.scale), {"dimtfill": 1} if entity.masked else {}
        attributes = dict(self.on(entity.layer))
        start, end, at = self.put(entity.start), self.put(entity.end), self.put(entity.at)
        if entity.measure in ("across", "up"):
            made = self.layout.add_linear_dim(base=at, p1=start, p2=end, angle=0 if entity.measure == "across" else 90,
                                              dimstyle=style, override=fill, dxfattribs=attributes).dimension
            length = abs(end[0] - start[0]) if entity.measure == "across" else abs(end[1] - start[1])
        else:
            station = entity.measure == "station"
            made = self.layout.add_ordinate_dim(feature_location=end, offset=(at[0] - end[0], at[1] - end[1]),
                                                dtype=1 if station else 0, origin=start, dimstyle=style,
                                                override={"dimtad": 0, **fill}, dxfattribs=attributes).dimension
            length = end[0] - start[0] if station else end[1] - start[1]
        measured = entity.text != entity.suffix
        made.dxf.text = _plain(("<>" if measured else "") + entity.suffix) if entity.suffix else ""
        made.dxf.actual_measurement = length
        text = dimension_text(entity, one=self.one)
        made.dxf.text_midpoint = (*self._middle(text), 0)
        picture = self.doc.blocks.new_anonymous_block(type_char="D")
        made.dxf.geometry = picture.name
        inside = _Space.__new__(_Space)
        inside.__dict__.update(self.__dict__, layout=picture)
        for part in dimension_parts(entity, one=self.one):
            inside.add(part)

    def _middle(self, text: Text) -> Vec:
        return self.put(box_of_text(text, one=self.one).centre)


def _around(block: Block, one: float) -> list[Vec]:
    """Return a ring around the outline of a blank symbol, from its own origin."""
    radius = max(entity.radius for entity in block.entities if isinstance(entity, Circle)) * one
    return [(radius * math.cos(math.tau * step / 24), radius * math.sin(math.tau * step / 24)) for step in range(24)]


def _corners(box: Box) -> list[Vec]:
    return [(box.left, box.bottom), (box.right, box.bottom), (box.right, box.top), (box.left, box.top)]


def _blocks(doc: Document, layers: Mapping[str, Layer], cad: CadSet) -> None:
    """Define every symbol in plotted millimetres, its attributes included."""
    for block in BLOCKS.values():
        name = _SAME.get(block.name, block.name)
        if name in doc.blocks:
            continue
        made = doc.blocks.new(name)
        space = _Space(doc, made, layers, cad, None, (0.0, 0.0))
        space.per = 1.0
        space.fill(block.entities)
        for slot in block.slots:
            made.add_attdef(slot.tag, slot.at, dxfattribs={
                "height": slot.height, "style": STYLE[slot.strong], "rotation": 90 if slot.turned else 0,
                "prompt": slot.tag.replace("_", " ").lower(), "layer": layer_of("tag", layers).name,
                **_placed(slot.at, slot.across, slot.up), "flags": int(slot.hidden)})


def _sheets(doc: Document, layers: Mapping[str, Layer], cad: CadSet, *, flat: bool) -> None:
    """Make one layout a page, with a viewport for each view."""
    placed = {id(model.drawing): model for model in cad.models}
    inch = cad.unit.name == "in"
    per = 25.4 if inch else 1.0
    for number, page in enumerate(cad.pages):
        if number == 0:
            doc.layouts.rename("Layout1", page.number)
        else:
            doc.layouts.new(page.number)
        layout: Any = doc.layouts.get(page.number)
        layout.page_setup(
            size=(round(page.size.width / per, 4), round(page.size.height / per, 4)), margins=(0, 0, 0, 0),
            units="inch" if inch else "mm", name=page.size.name.replace(" ", "_"))
        for viewport in layout.viewports():
            viewport.dxf.layer = layer_of("viewport", layers).name
        layout.dxf.extmin, layout.dxf.extmax = (0.0, 0.0, 0.0), (page.size.width / per, page.size.height / per, 0.0)
        _Space(doc, layout, layers, cad, None, (0.0, 0.0), flat=flat).fill(page.entities)
        _viewports(layout, page, placed, layers, per, float(cad.unit.ticks))


def _viewports(layout: Any, page: Page, placed: Mapping[int, Model], layers: Mapping[str, Layer], per: float,
               ticks: float) -> None:
    for view in page.views:
        at = placed[id(view.drawing)].at
        box = view.box
        x, y = view.window.centre
        made = layout.add_viewport(
            center=(box.centre[0] / per, box.centre[1] / per), size=(box.width / per, box.height / per),
            view_center_point=((x + at[0]) / ticks, (y + at[1]) / ticks), view_height=view.window.height / ticks,
            dxfattribs={"layer": layer_of("viewport", layers).name})
        made.dxf.flags |= 16384  # the scale is locked


def _placed(point: Vec, across: AlignAcross, up: AlignUp) -> dict[str, Any]:
    """Return where a text stands as the format says it."""
    return {"insert": point, "align_point": point, "halign": _ACROSS[across], "valign": _UP[up]}


def _plain(text: str) -> str:
    """Return text without what DXF reads as codes: %% and ^ start symbols and control characters."""
    return text.replace("%%", "% %").replace("^", "^ ").replace("\n", " ")
