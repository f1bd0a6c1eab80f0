"""Writes a drawing as SVG at its plotted size."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from typing import Any
from xml.sax.saxutils import escape

import svgwrite

from layout.drawing.model.fonts import CAP, EM, width
from layout.drawing.model.layers import DASHES, LAYERS, TONES, layer_of
from layout.drawing.model.entities import Circle, Drawing, Entity, Group, Line, SubDrawing, Polyline, Text, Vec, unknown
from layout.drawing.model.plain import box_of_text, plain

PX = 96 / 25.4
"""User units in a plotted millimetre of an inch drawing: SVG counts 96 to the inch."""
BETWEEN = 6.0
"""White between drawings one below the other [plotted mm]."""
FONTS = "'DejaVu Sans', Verdana, 'Liberation Sans', Arial, sans-serif"


def svg_text(drawing: Drawing) -> str:
    """Return a drawing as SVG text.

    Parameters
    ----------
    drawing
        Any drawing.

    Returns
    -------
    str
        A whole document, width and height at the plotted scale in the job's unit: user units are 1/96 in for an
        inch job and millimetres for a metric one. Each piece is one group ``piece-TAG`` with a title.

    Raises
    ------
    DrawingError
        When an entity cannot be drawn; nothing is left out.
    """
    return _Writer(drawing).document()


def stacked_svg(drawings: Sequence[Drawing], title: str) -> str:
    """Return drawings one below the other as one SVG text.

    Parameters
    ----------
    drawings
        At least one; all of one unit.
    title
        Of the whole.
    """
    unit, per = ("in", 25.4) if drawings[0].unit.name == "in" else ("mm", 1.0)
    wide = max(drawing.paper[0] for drawing in drawings)
    parts: list[str] = []
    down = 0.0
    for drawing in drawings:
        body = svg_text(drawing).partition("?>\n")[2]
        parts.append(body.replace("<svg ", f'<svg x="0" y="{_number(down / per)}{unit}" ', 1))
        down += drawing.paper[1] + BETWEEN
    view = f"0 0 {_number(wide * PX)} {_number(down * PX)}"
    size = f'width="{_number(wide / per)}{unit}" height="{_number(down / per)}{unit}" viewBox="{view}"'
    return ('<?xml version="1.0" encoding="UTF-8"?>\n'
            f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" role="img" {size}>\n'
            f"<title>{escape(title)}</title>\n"
            '<rect width="100%" height="100%" fill="#ffffff"/>\n' + "".join(parts) + "</svg>\n")


class _Writer:
    """The state of writing one drawing: where its corner is and how long a tick comes out."""

    def __init__(self, drawing: Drawing) -> None:
        self.drawing = drawing
        self.one = drawing.on_wall(1.0)
        self.user = PX if drawing.unit.name == "in" else 1.0
        self.svg = svgwrite.Drawing(debug=False)

    def document(self) -> str:
        drawing = self.drawing
        wide, high = drawing.paper
        inch = drawing.unit.name == "in"
        per = 25.4 if inch else 1.0
        root = self.svg
        root["width"] = f"{_number(wide / per)}{'in' if inch else 'mm'}"
        root["height"] = f"{_number(high / per)}{'in' if inch else 'mm'}"
        root["viewBox"] = f"0 0 {_number(wide * self.user)} {_number(high * self.user)}"
        root["role"] = "img"
        told = f". {drawing.told}" if drawing.told else ""
        root.set_desc(title=drawing.title, desc=f"{drawing.name}, scale 1:{drawing.scale}{told}")
        self.seen: set[str] = set()
        self.uses: set[str] = set()
        body = self.svg.g()
        self.fill(body, plain(drawing.entities, one=self.one))
        root.defs.add(root.style(self.styles()))
        root.add(root.rect(insert=(0, 0), size=("100%", "100%"), fill="#ffffff"))
        root.add(body)
        return '<?xml version="1.0" encoding="UTF-8"?>\n' + str(root.tostring()) + "\n"

    def styles(self) -> str:
        """Return a rule for each layer used; class names begin with lw- so that a page's own styles stay apart."""
        rules = []
        for use in LAYERS:
            if use not in self.uses:
                continue
            layer = LAYERS[use]
            dashes = " ".join(_number(mark * self.user) for mark in DASHES[layer.line])
            rules.append(f".lw-{use}{{fill:none;stroke:{layer.colour};stroke-linejoin:round;"
                         f"stroke-width:{_number(layer.weight / 100 * self.user)}"
                         + (f";stroke-dasharray:{dashes}" if dashes else "") + "}")
            rules.append(f".lw-t-{use}{{fill:{layer.colour};stroke:none;white-space:pre;font-family:{FONTS}}}")
        rules.append(f".lw-blank{{fill:{TONES['paper'][0]};stroke:none}}")
        return "\n".join(rules)

    def at(self, point: Vec) -> Vec:
        """Return a point of the drawing in user units, y down."""
        scale = self.user / self.one
        frame = self.drawing.frame
        return round((point[0] - frame.left) * scale, 3), round((frame.top - point[1]) * scale, 3)

    def fill(self, group: Any, entities: Iterable[Entity]) -> None:
        """Add entities to a group; lines that follow each other on one layer become one path."""
        path: list[str] = []
        use = ""

        def close() -> None:
            if path:
                group.add(self.svg.path(d=" ".join(path), class_=f"lw-{use}"))
                path.clear()

        for entity in entities:
            if isinstance(entity, Group):
                close()
                group.add(self.piece(entity))
                continue
            if isinstance(entity, SubDrawing) or not hasattr(entity, "layer"):
                raise unknown(entity)
            layer = layer_of(entity.layer)
            self.uses.add(layer.use)
            bare = isinstance(entity, Line) or (isinstance(entity, Polyline) and not entity.tone)
            if not bare or layer.use != use:
                close()
            use = layer.use
            if isinstance(entity, Line):
                path.append(_path((self.at(entity.start), self.at(entity.end)), False))
            elif isinstance(entity, Polyline):
                d = _path([self.at(point) for point in entity.points], entity.closed)
                if entity.tone:
                    group.add(self.svg.path(d=d, class_=f"lw-{use}", style=_fill(entity.tone)))
                else:
                    path.append(d)
            elif isinstance(entity, Circle):
                style = {"style": _fill(entity.tone)} if entity.tone else {}
                group.add(self.svg.circle(center=self.at(entity.centre), class_=f"lw-{use}",
                                          r=round(entity.radius * self.user / self.one, 3), **style))
            elif isinstance(entity, Text):
                if entity.text and entity.masked:
                    group.add(self.blank(entity))
                if entity.text:
                    group.add(self.text(entity, use))
            else:
                raise unknown(entity)
        close()

    def piece(self, group: Group) -> Any:
        """Return the group of one piece; a second part of the same piece gets a number after its name."""
        name = "piece-" + re.sub(r"\s+", "_", group.tag)
        number = 1
        while (name if number == 1 else f"{name}.{number}") in self.seen:
            number += 1
        name = name if number == 1 else f"{name}.{number}"
        self.seen.add(name)
        element = self.svg.g(id=name)
        element.set_desc(title=group.title)
        self.fill(element, group.entities)
        return element

    def blank(self, text: Text) -> Any:
        """Return what hides the lines drawn before a text in its place."""
        box = box_of_text(text, one=self.one)
        left, top = self.at((box.left, box.top))
        right, bottom = self.at((box.right, box.bottom))
        return self.svg.rect((left, top), (round(right - left, 3), round(bottom - top, 3)), class_="lw-blank")

    def text(self, text: Text, use: str) -> Any:
        """Return a text element whose length is fixed to the measured one, whatever face the reader has."""
        x, y = self.at(text.at)
        height = text.height * self.user
        drop = {"base": 0.0, "middle": height / 2, "top": height}[text.up]
        more: dict[str, Any] = {"text_anchor": {"left": "start", "centre": "middle", "right": "end"}[text.across]}
        if text.turned:
            more["transform"] = f"rotate(-90 {_number(x)} {_number(y)})"
        if text.strong:
            more["font_weight"] = "bold"
        else:
            more["textLength"] = _number(width(text.text, height))
            more["lengthAdjust"] = "spacingAndGlyphs"
        return self.svg.text(text.text, insert=(x, round(y + drop, 3)), class_=f"lw-t-{use}",
                             font_size=_number(height * EM / CAP), **more)


def _fill(tone: str) -> str:
    colour, opacity = TONES[tone]
    return f"fill:{colour}" + (f";fill-opacity:{opacity}" if opacity < 1 else "")


def _path(points: Iterable[Vec], closed: bool) -> str:
    return "M" + "L".join(f"{_number(x)},{_number(y)}" for x, y in points) + ("Z" if closed else "")


def _number(value: float) -> str:
    """Return a number with no more digits than a thousandth needs."""
    if not math.isfinite(value):
        raise ValueError(f"must be finite (got {value})")
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
