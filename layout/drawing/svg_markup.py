"""Writes a drawing as SVG markup within a page."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any
from xml.sax.saxutils import escape

from layout.drawing.model.entities import Circle, Drawing, Group, Text, Vec
from layout.drawing.model.fonts import CAP, EM, width
from layout.drawing.model.plain import plain
from layout.drawing.svg import ANCHORS, PX, JoinedLine, SvgWriter, css, fill_style, group_name, number
from layout.paths import short_path


@dataclass(frozen=True)
class Markup:
    """A drawing as markup within a page: what is written, and the rules of its classes."""

    text: str
    css: str


def svg_markup(drawing: Drawing, tags: Collection[str]) -> Markup:
    """Return a drawing as markup for a page that takes no style attribute, with as many decimals as a screen shows.

    Parameters
    ----------
    drawing
        Any drawing.
    tags
        Of the pieces that can be chosen on the page: their groups bear ``data-piece``.

    Raises
    ------
    DrawingError
        When an entity cannot be drawn; nothing is left out.

    Notes
    -----
    It is what ``packet.inline_svg`` makes of the document, in a third of the time.
    """
    return _MarkupWriter(drawing, tags).markup()


class _MarkupWriter(SvgWriter):
    """Writes markup within a page; a group is a list of what stands in it."""

    def __init__(self, drawing: Drawing, tags: Collection[str]) -> None:
        super().__init__(drawing)
        self.tags = {group_name(tag): tag for tag in tags}
        self.digits = 1 if drawing.unit.name == "in" else 2  # a user unit is 1/96 in, or a millimetre
        self.fonts: dict[str, str] = {}
        self.fills: dict[str, str] = {}

    def markup(self) -> Markup:
        drawing = self.drawing
        inch = drawing.unit.name == "in"
        viewed = " ".join(number(length * self.user) for length in drawing.paper)
        per, pixels = (25.4, 96.0) if inch else (1.0, PX)
        wide, high = (_short(float(number(length / per)) * pixels, 2) for length in drawing.paper)
        body: list[str] = []
        self.fill(body, plain(drawing.entities, one=self.one))
        text = (f'<svg height="{high}" viewBox="0 0 {viewed}" width="{wide}" role="group" '
                f'aria-label="{_quoted(drawing.title)}">{_titled(drawing.title)}'
                f'<desc>{escape(self.told())}</desc><defs />'
                f'<rect fill="#ffffff" height="100%" width="100%" x="0" y="0" />{_grouped("<g", body)}</svg>')
        fonts, fills = ([(name, rule) for rule, name in each.items()] for each in (self.fonts, self.fills))
        return Markup(text, css([*fonts, *self.rules(), *fills]))

    def path(self, group: Any, lines: Sequence[JoinedLine], use: str, tone: str = "") -> None:
        """Put lines into a group, filled where they have a tone."""
        frame, scale, grain = self.drawing.frame, self.user / self.one, 10 ** self.digits
        left, top = frame.left, frame.top

        def on_screen(point: Vec) -> tuple[int, int]:
            x, y = (point[0] - left) * scale, (top - point[1]) * scale
            return round(round(x, 3) * grain), round(round(y, 3) * grain)

        d = short_path([([on_screen(point) for point in points], closed) for points, closed in lines], self.digits)
        group.append(f'<path d="{d}" class="lw-{use}{self.filled(tone)}" />')

    def circle(self, group: Any, circle: Circle, use: str) -> None:
        """Put a circle into a group."""
        x, y, r = (_short(length, self.digits)
                   for length in (*self.at(circle.centre), round(circle.radius * self.user / self.one, 3)))
        group.append(f'<circle cx="{x}" cy="{y}" r="{r}" class="lw-{use}{self.filled(circle.tone)}" />')

    def blank(self, group: Any, text: Text) -> None:
        """Put into a group what hides the lines drawn before a text in its place."""
        at, size = self.hidden(text)
        x, y, wide, high = (_short(length, self.digits) for length in (*at, *size))
        group.append(f'<rect height="{high}" width="{wide}" x="{x}" y="{y}" class="lw-blank" />')

    def text(self, group: Any, text: Text, use: str) -> None:
        """Put a text into a group, its length fixed to the measured one, whatever face the reader has."""
        at, height = self.stands(text)
        font = (f"font-size:{number(height * EM / CAP)}px" + (";font-weight:bold" if text.strong else "")
                + f";text-anchor:{ANCHORS[text.across]}")
        said = ""
        if not text.strong:
            long = _short(float(number(width(text.text, height))), self.digits)
            said += f' lengthAdjust="spacingAndGlyphs" textLength="{long}"'
        if text.turned:
            turn = " ".join(_short(length, self.digits) for length in self.at(text.at))
            said += f' transform="rotate(-90 {turn})"'
        x, y = (_short(length, self.digits) for length in at)
        letters = self.fonts.setdefault(font, f"lw-f{len(self.fonts) + 1}")
        group.append(f'<text{said} x="{x}" y="{y}" class="lw-t-{use} {letters}">{escape(text.text)}</text>')

    def piece(self, group: Any, piece: Group) -> None:
        """Put the group of one piece into a group."""
        name = self.named(piece.tag)
        tag = self.tags.get(name) or self.tags.get(group_name(piece.tag))
        inside = [_titled(piece.title)]
        self.fill(inside, piece.entities)
        start = f'<g id="d1-{_quoted(name)}"'
        if tag is not None:
            start = f'<g data-piece="{_quoted(tag)}" role="button" tabindex="-1" class="piece"'
            start += "" if piece.title else f' aria-label="{_quoted(tag)}"'
        group.append(_grouped(start, inside))

    def filled(self, tone: str) -> str:
        """Return the class of a tone, to stand after others."""
        return " " + self.fills.setdefault(fill_style(tone), f"lw-s{len(self.fills) + 1}") if tone else ""


def _titled(title: str) -> str:
    """Return the title of what it stands in."""
    return f"<title>{escape(title)}</title>" if title else "<title />"


def _grouped(start: str, inside: Sequence[str]) -> str:
    """Return a group with what stands in it."""
    return f"{start}>{''.join(inside)}</g>" if inside else f"{start} />"


def _quoted(text: str) -> str:
    """Return text fit to stand between double quotes."""
    return escape(text, {'"': "&quot;", "\r": "&#13;", "\n": "&#10;", "\t": "&#09;"})


def _short(length: float, digits: int) -> str:
    """Return a number with so many decimals, without needless noughts."""
    return f"{length:.{digits}f}".rstrip("0").rstrip(".")
