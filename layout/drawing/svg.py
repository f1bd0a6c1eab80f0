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
ANCHORS = {"left": "start", "centre": "middle", "right": "end"}
FONTS = "'DejaVu Sans', Verdana, 'Liberation Sans', Arial, sans-serif"

JoinedLine = tuple[Sequence[Vec], bool]
"""Points joined by straight lines, and whether they close."""


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
    return _DocumentWriter(drawing).document()


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
        parts.append(body.replace("<svg ", f'<svg x="0" y="{number(down / per)}{unit}" ', 1))
        down += drawing.paper[1] + BETWEEN
    view = f"0 0 {number(wide * PX)} {number(down * PX)}"
    size = f'width="{number(wide / per)}{unit}" height="{number(down / per)}{unit}" viewBox="{view}"'
    return ('<?xml version="1.0" encoding="UTF-8"?>\n'
            f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" role="img" {size}>\n'
            f"<title>{escape(title)}</title>\n"
            '<rect width="100%" height="100%" fill="#ffffff"/>\n' + "".join(parts) + "</svg>\n")


class SvgWriter:
    """What both ways of writing have in common: where things lie, and which lines become one path."""

    def __init__(self, drawing: Drawing) -> None:
        self.drawing = drawing
        self.one = drawing.on_wall(1.0)
        self.user = PX if drawing.unit.name == "in" else 1.0
        self.seen: set[str] = set()
        self.uses: set[str] = set()

    def told(self) -> str:
        """Return what the drawing shows, in words."""
        drawing = self.drawing
        return f"{drawing.name}, scale 1:{drawing.scale}" + (f". {drawing.told}" if drawing.told else "")

    def rules(self) -> list[tuple[str, str]]:
        """Return a rule for each layer used; class names begin with lw- so that a page's own styles stay apart."""
        rules: list[tuple[str, str]] = []
        for use in LAYERS:
            if use not in self.uses:
                continue
            layer = LAYERS[use]
            dashes = " ".join(number(mark * self.user) for mark in DASHES[layer.line])
            rules.append((f"lw-{use}", f"fill:none;stroke:{layer.colour};stroke-linejoin:round;"
                          f"stroke-width:{number(layer.weight / 100 * self.user)}"
                          + (f";stroke-dasharray:{dashes}" if dashes else "")))
            rules.append((f"lw-t-{use}", f"fill:{layer.colour};stroke:none;white-space:pre;font-family:{FONTS}"))
        rules.append(("lw-blank", f"fill:{TONES['paper'][0]};stroke:none"))
        return rules

    def at(self, point: Vec) -> Vec:
        """Return a point of the drawing in user units, y down."""
        scale = self.user / self.one
        frame = self.drawing.frame
        return round((point[0] - frame.left) * scale, 3), round((frame.top - point[1]) * scale, 3)

    def fill(self, group: Any, entities: Iterable[Entity]) -> None:
        """Put entities into a group; lines that follow each other on one layer become one path."""
        lines: list[JoinedLine] = []
        use = ""
        for entity in entities:
            if isinstance(entity, Group):
                if lines:
                    self.path(group, lines, use)
                    lines = []
                self.piece(group, entity)
                continue
            if isinstance(entity, SubDrawing) or not hasattr(entity, "layer"):
                raise unknown(entity)
            layer = layer_of(entity.layer)
            self.uses.add(layer.use)
            bare = isinstance(entity, Line) or (isinstance(entity, Polyline) and not entity.tone)
            if lines and (not bare or layer.use != use):
                self.path(group, lines, use)
                lines = []
            use = layer.use
            if isinstance(entity, Line):
                lines.append(((entity.start, entity.end), False))
            elif isinstance(entity, Polyline):
                if entity.tone:
                    self.path(group, [(entity.points, entity.closed)], use, entity.tone)
                else:
                    lines.append((entity.points, entity.closed))
            elif isinstance(entity, Circle):
                self.circle(group, entity, use)
            elif isinstance(entity, Text):
                if entity.text and entity.masked:
                    self.blank(group, entity)
                if entity.text:
                    self.text(group, entity, use)
            else:
                raise unknown(entity)
        if lines:
            self.path(group, lines, use)

    def path(self, group: Any, lines: Sequence[JoinedLine], use: str, tone: str = "") -> None:
        """Put lines into a group, filled where they have a tone."""
        raise NotImplementedError

    def circle(self, group: Any, circle: Circle, use: str) -> None:
        """Put a circle into a group."""
        raise NotImplementedError

    def blank(self, group: Any, text: Text) -> None:
        """Put into a group what hides the lines drawn before a text in its place."""
        raise NotImplementedError

    def text(self, group: Any, text: Text, use: str) -> None:
        """Put a text into a group, its length fixed to the measured one, whatever face the reader has."""
        raise NotImplementedError

    def piece(self, group: Any, piece: Group) -> None:
        """Put the group of one piece into a group."""
        raise NotImplementedError

    def named(self, tag: str) -> str:
        """Return the name of a piece's group; a second part of the same piece gets a number after its name."""
        name = group_name(tag)
        part = 1
        while (name if part == 1 else f"{name}.{part}") in self.seen:
            part += 1
        name = name if part == 1 else f"{name}.{part}"
        self.seen.add(name)
        return name

    def hidden(self, text: Text) -> tuple[Vec, Vec]:
        """Return the top left corner and the size of the blank under a text."""
        box = box_of_text(text, one=self.one)
        left, top = self.at((box.left, box.top))
        right, bottom = self.at((box.right, box.bottom))
        return (left, top), (round(right - left, 3), round(bottom - top, 3))

    def stands(self, text: Text) -> tuple[Vec, float]:
        """Return where a text stands, and the height of its capitals."""
        x, y = self.at(text.at)
        height = text.height * self.user
        return (x, round(y + {"base": 0.0, "middle": height / 2, "top": height}[text.up], 3)), height


class _DocumentWriter(SvgWriter):
    """Writes a document."""

    def __init__(self, drawing: Drawing) -> None:
        super().__init__(drawing)
        self.svg = svgwrite.Drawing(debug=False)

    def document(self) -> str:
        drawing = self.drawing
        wide, high = drawing.paper
        inch = drawing.unit.name == "in"
        per = 25.4 if inch else 1.0
        root = self.svg
        root["width"] = f"{number(wide / per)}{'in' if inch else 'mm'}"
        root["height"] = f"{number(high / per)}{'in' if inch else 'mm'}"
        root["viewBox"] = f"0 0 {number(wide * self.user)} {number(high * self.user)}"
        root["role"] = "img"
        root.set_desc(title=drawing.title, desc=self.told())
        body = self.svg.g()
        self.fill(body, plain(drawing.entities, one=self.one))
        root.defs.add(root.style(css(self.rules())))
        root.add(root.rect(insert=(0, 0), size=("100%", "100%"), fill="#ffffff"))
        root.add(body)
        return '<?xml version="1.0" encoding="UTF-8"?>\n' + str(root.tostring()) + "\n"

    def path(self, group: Any, lines: Sequence[JoinedLine], use: str, tone: str = "") -> None:
        """Put lines into a group, filled where they have a tone."""
        d = " ".join(_path(map(self.at, points), closed) for points, closed in lines)
        group.add(self.svg.path(d=d, class_=f"lw-{use}", **({"style": fill_style(tone)} if tone else {})))

    def circle(self, group: Any, circle: Circle, use: str) -> None:
        """Put a circle into a group."""
        style = {"style": fill_style(circle.tone)} if circle.tone else {}
        group.add(self.svg.circle(center=self.at(circle.centre), class_=f"lw-{use}",
                                  r=round(circle.radius * self.user / self.one, 3), **style))

    def blank(self, group: Any, text: Text) -> None:
        """Put into a group what hides the lines drawn before a text in its place."""
        group.add(self.svg.rect(*self.hidden(text), class_="lw-blank"))

    def text(self, group: Any, text: Text, use: str) -> None:
        """Put a text into a group, its length fixed to the measured one, whatever face the reader has."""
        at, height = self.stands(text)
        more: dict[str, Any] = {"text_anchor": ANCHORS[text.across]}
        if text.turned:
            x, y = self.at(text.at)
            more["transform"] = f"rotate(-90 {number(x)} {number(y)})"
        if text.strong:
            more["font_weight"] = "bold"
        else:
            more["textLength"] = number(width(text.text, height))
            more["lengthAdjust"] = "spacingAndGlyphs"
        group.add(self.svg.text(text.text, insert=at, class_=f"lw-t-{use}", font_size=number(height * EM / CAP),
                                **more))

    def piece(self, group: Any, piece: Group) -> None:
        """Put the group of one piece into a group."""
        element = self.svg.g(id=self.named(piece.tag))
        element.set_desc(title=piece.title)
        self.fill(element, piece.entities)
        group.add(element)


def css(rules: Iterable[tuple[str, str]]) -> str:
    """Return rules of classes as a style sheet."""
    return "\n".join(f".{name}{{{rule}}}" for name, rule in rules)


def group_name(tag: str) -> str:
    """Return the name of the group of a piece."""
    return "piece-" + re.sub(r"\s+", "_", tag)


def fill_style(tone: str) -> str:
    """Return how an area of a tone is filled."""
    colour, opacity = TONES[tone]
    return f"fill:{colour}" + (f";fill-opacity:{opacity}" if opacity < 1 else "")


def _path(points: Iterable[Vec], closed: bool) -> str:
    return "M" + "L".join(f"{number(x)},{number(y)}" for x, y in points) + ("Z" if closed else "")


def number(value: float) -> str:
    """Return a number with no more digits than a thousandth needs."""
    if not math.isfinite(value):
        raise ValueError(f"must be finite (got {value})")
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
