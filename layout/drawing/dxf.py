"""Writes a set of drawings as DXF: full size in model space, sheets in paper space, the same bytes each time."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import ezdxf
from ezdxf import units
from ezdxf.document import Drawing as Document
from ezdxf.enums import TextEntityAlignment

from layout.drawing.dxf_carried import WALL_APP, carry, mark
from layout.drawing.dxf_tables import DIMENSIONS, STYLE, ltscale, set_up
from layout.drawing.model.blocks import BLOCKS
from layout.drawing.model.entities import (
    CadSet, Circle, Dimension, Drawing, Entity, Group, Hatch, Insert, Line, Model, Page, Polyline, Text, Vec, unknown,
)
from layout.drawing.model.layers import LAYERS, Layer, layer_of
from layout.drawing.model.plain import dimension_parts, dimension_text

EZDXF: Any = ezdxf  # its front does not say what it exports
APP = "LAPWRIGHT"
"""Name under which a piece's outline carries its tag as extended data."""

_ALIGN = {
    ("left", "base"): TextEntityAlignment.LEFT, ("left", "middle"): TextEntityAlignment.MIDDLE_LEFT,
    ("left", "top"): TextEntityAlignment.TOP_LEFT, ("centre", "base"): TextEntityAlignment.CENTER,
    ("centre", "middle"): TextEntityAlignment.MIDDLE_CENTER, ("centre", "top"): TextEntityAlignment.TOP_CENTER,
    ("right", "base"): TextEntityAlignment.RIGHT, ("right", "middle"): TextEntityAlignment.MIDDLE_RIGHT,
    ("right", "top"): TextEntityAlignment.TOP_RIGHT,
}


def write_dxf(cad: CadSet, path: Path, *, layers: Mapping[str, Layer] | None = None,
              carried: str = "") -> None:
    """Write a set of drawings as one DXF file of release R2010.

    Parameters
    ----------
    cad
        The drawings and the sheets.
    path
        Where to write.
    layers
        An office's own layers by their use; the standard ones when None.
    carried
        Text of the job file, carried along for reading the walls back; empty for none.

    Raises
    ------
    DrawingError
        When something cannot be drawn; nothing is left out.
    """
    with no_clock():
        doc = EZDXF.new("R2010")
        doc.units = units.IN if cad.unit.name == "in" else units.MM
        doc.appids.add(APP)
        doc.appids.add(WALL_APP)
        table = LAYERS if layers is None else layers
        set_up(doc, cad, table)
        if carried:
            carry(doc, carried, table)
        _blocks(doc, table, cad)
        for model in cad.models:
            _Space(doc, doc.modelspace(), table, cad, model.drawing, model.at).fill(model.drawing.entities)
        _sheets(doc, table, cad)
        doc.update_all()
        doc.classes.classes = dict(sorted(doc.classes.classes.items()))  # ezdxf adds them from a set, in any order
        doc.saveas(path)


@contextmanager
def no_clock() -> Iterator[None]:
    """Write neither dates nor random identifiers while this lasts."""
    before = EZDXF.options.write_fixed_meta_data_for_testing
    EZDXF.options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        EZDXF.options.write_fixed_meta_data_for_testing = before


class _Space:
    """A layout being filled from one drawing, moved by a step [ticks]; ``per`` ticks are one unit of the file."""

    def __init__(self, doc: Document, layout: Any, layers: Mapping[str, Layer], cad: CadSet, drawing: Drawing | None,
                 at: Vec) -> None:
        self.doc, self.layout, self.layers, self.at = doc, layout, layers, at
        # a paper sheet counts in millimetres: a drawing is None there
        self.per = float(cad.unit.ticks) if drawing else (25.4 if cad.unit.name == "in" else 1.0)
        self.one = drawing.on_wall(1.0) if drawing else 1.0
        self.scale = drawing.scale if drawing else 1
        self.ltscale = ltscale(cad, self.scale)
        self.tag = ""

    def put(self, point: Vec) -> Vec:
        """Return a point in the file's unit."""
        return (point[0] + self.at[0]) / self.per, (point[1] + self.at[1]) / self.per

    def plotted(self, height: float) -> float:
        """Return a plotted height [mm] in the file's unit."""
        return height * self.one / self.per

    def on(self, use: str) -> dict[str, Any]:
        layer = layer_of(use, self.layers)
        attributes: dict[str, Any] = {"layer": layer.name}
        if layer.line != "solid" and self.ltscale != 1.0:
            attributes["ltscale"] = self.ltscale
        return attributes

    def fill(self, entities: Iterable[Entity]) -> None:
        for entity in entities:
            if isinstance(entity, Group):
                self.fill(entity.entities)
            else:
                self.add(entity)

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
        line = self.layout.add_lwpolyline(points, close=entity.closed, dxfattribs=self.on(entity.layer))
        if entity.piece:
            line.set_xdata(APP, [(1000, entity.piece)])
        if entity.wall:
            mark(line, (*entity.wall[:2], self.put(entity.wall[2])))
        if entity.tone == "ink":
            fill = self.layout.add_hatch(dxfattribs={**self.on(entity.layer), "color": 256})
            fill.paths.add_polyline_path(points, is_closed=True)

    def hatch(self, entity: Hatch) -> None:
        fill = self.layout.add_hatch(dxfattribs={**self.on(entity.layer), "color": 256})
        spacing = self.plotted(entity.spacing)
        slant = spacing * 2 ** 0.5 / 2
        offset = (-slant, slant) if entity.angle == 45 else (-slant, -slant)
        fill.set_pattern_fill("ANSI31", color=256, scale=1.0, pattern_type=0,
                              definition=[[float(entity.angle), (0.0, 0.0), offset, []]])
        for number, ring in enumerate(entity.rings):
            fill.paths.add_polyline_path([self.put(point) for point in ring], is_closed=True, flags=16 if number else 1)

    def text(self, entity: Text, layout: Any) -> None:
        text = layout.add_text(
            _plain(entity.text), height=self.plotted(entity.height), rotation=90 if entity.turned else 0,
            dxfattribs={**self.on(entity.layer), "style": STYLE[entity.strong]})
        text.set_placement(self.put(entity.at), align=_ALIGN[entity.across, entity.up])

    def insert(self, entity: Insert) -> None:
        """Put a block at the plotted scale, its attributes where they are written."""
        size = self.one / self.per
        block = self.layout.add_blockref(entity.block, self.put(entity.at), dxfattribs={
            **self.on(entity.layer), "xscale": size, "yscale": size, "zscale": size})
        values = dict(entity.values)
        away = entity.away or entity.at
        for slot in BLOCKS[entity.block].slots:
            attribute = block.add_attrib(slot.tag, _plain(values.get(slot.tag, "")), dxfattribs={
                **self.on(entity.layer), "height": self.plotted(slot.height), "style": STYLE[slot.strong],
                "rotation": 90 if slot.turned else 0})
            point = away[0] + slot.at[0] * self.one, away[1] + slot.at[1] * self.one
            attribute.set_placement(self.put(point), align=_ALIGN[slot.across, slot.up])
            attribute.is_invisible = slot.hidden

    def dimension(self, entity: Dimension) -> None:
        """Add a real dimension; its picture is drawn here, so that every reader shows the same one."""
        style = DIMENSIONS.format(self.scale)
        attributes = self.on(entity.layer)
        start, end, at = self.put(entity.start), self.put(entity.end), self.put(entity.at)
        if entity.measure in ("across", "up"):
            made = self.layout.add_linear_dim(base=at, p1=start, p2=end, angle=0 if entity.measure == "across" else 90,
                                              dimstyle=style, dxfattribs=attributes).dimension
            length = abs(end[0] - start[0]) if entity.measure == "across" else abs(end[1] - start[1])
        else:
            station = entity.measure == "station"
            made = self.layout.add_ordinate_dim(feature_location=end, offset=(at[0] - end[0], at[1] - end[1]),
                                                dtype=1 if station else 0, origin=start, dimstyle=style,
                                                override={"dimtad": 0}, dxfattribs=attributes).dimension
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
        from layout.drawing.model.plain import box_of

        return self.put(box_of(text, one=self.one).centre)


def _blocks(doc: Document, layers: Mapping[str, Layer], cad: CadSet) -> None:
    """Define every symbol in plotted millimetres, its attributes included."""
    for block in BLOCKS.values():
        made = doc.blocks.new(block.name)
        space = _Space(doc, made, layers, cad, None, (0.0, 0.0))
        space.per = 1.0
        space.fill(block.entities)
        for slot in block.slots:
            attribute = made.add_attdef(slot.tag, text="", dxfattribs={
                "height": slot.height, "style": STYLE[slot.strong], "rotation": 90 if slot.turned else 0,
                "prompt": slot.tag.replace("_", " ").lower(), "layer": layer_of("tag", layers).name})
            attribute.set_placement(slot.at, align=_ALIGN[slot.across, slot.up])
            attribute.is_invisible = slot.hidden


def _sheets(doc: Document, layers: Mapping[str, Layer], cad: CadSet) -> None:
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
        _Space(doc, layout, layers, cad, None, (0.0, 0.0)).fill(page.entities)
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


def _plain(text: str) -> str:
    """Return text without what DXF reads as codes: %% and ^ start symbols and control characters."""
    return text.replace("%%", "% %").replace("^", "^ ").replace("\n", " ")
