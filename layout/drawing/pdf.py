"""Writes pages as one PDF through matplotlib's own PDF renderer: vector, fonts embedded, the same bytes each time."""

from __future__ import annotations

import itertools
import warnings
from collections.abc import Iterable, Sequence
from pathlib import Path as FilePath
from typing import Any

import matplotlib
from matplotlib import font_manager
from matplotlib.backends import backend_pdf
from matplotlib.colors import to_rgb
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.path import Path
from matplotlib.transforms import Affine2D, Bbox

from layout.drawing.model.entities import Box, Circle, Entity, Group, Line, Page, Polyline, Text, Vec, opened, unknown
from layout.drawing.model.fonts import CAP, EM, text_box, width
from layout.drawing.model.layers import DASHES, TONES, layer_of
from layout.drawing.model.plain import plain, plain_within

_BACKEND: Any = backend_pdf  # without type information
Op = _BACKEND.Op
FontPath: Any = getattr(font_manager, "FontPath", None)  # since matplotlib 3.11

POINTS = 72 / 25.4
"""Points in a millimetre."""
PEN = 2.0
"""What is drawn so near a window is drawn too, as half a pen's width of it may lie within [mm]."""
AS_IT_IS = Affine2D()
FAMILY = "DejaVu Sans"
"""The face that matplotlib brings along, and that labels are measured in."""


def write_pdf(pages: Sequence[Page], path: FilePath, *, title: str) -> None:
    """Write pages as one PDF file, each at its own true size.

    Parameters
    ----------
    pages
        The pages in order.
    path
        Where to write.
    title
        Title of the document.

    Raises
    ------
    DrawingError
        When something cannot be drawn; nothing is left out.
    """
    # fonttype 42 embeds the TrueType outlines; no date, so that the same plan gives the same bytes
    with matplotlib.rc_context({"pdf.fonttype": 42, "pdf.compression": 6, "path.simplify": False}):
        about = {"Title": title, "Creator": "lapwright", "Producer": None, "CreationDate": None}
        file = _BACKEND.PdfFile(path, metadata=about)
        lettering = _Lettering(file)
        try:
            for page in pages:
                _Paper(file, page, lettering).draw()
            _guide(file, pages)
            file.finalize()
        finally:
            file.close()


def _guide(file: Any, pages: Sequence[Page]) -> None:
    """Put what guides a reader through a document in it: outline, page labels, language, its title in the window.

    ISO 32000-1, 12.3.3 (outline), 12.4.2 (page labels), 14.9.2 (language). The catalogue that matplotlib has written is
    written once more; the later one counts.
    """
    sheets = list(getattr(file, "pageList", ()))
    needed = ("rootObject", "pagesObject", "reserveObject", "writeObject", "endStream")
    if not all(hasattr(file, part) for part in needed) or len(sheets) != len(pages):
        return
    file.endStream()  # of the last page
    name = _BACKEND.Name
    rows = [(at, page.title) for at, page in enumerate(pages) if not at or page.title != pages[at - 1].title]
    top = file.reserveObject("outlines")
    entries = [file.reserveObject("outline entry") for _ in rows]
    for number, (entry, (at, words)) in enumerate(zip(entries, rows)):
        last = rows[number + 1][0] if number + 1 < len(rows) else len(pages)
        inner = [(page, view) for page in range(at, last) for view in pages[page].views]
        below = [file.reserveObject("outline entry") for _ in inner]
        entry_words: dict[str, Any] = {"Title": _text(words), "Parent": top, "Dest": [sheets[at], name("Fit")]}
        if number:
            entry_words["Prev"] = entries[number - 1]
        if number + 1 < len(entries):
            entry_words["Next"] = entries[number + 1]
        if below:
            entry_words |= {"First": below[0], "Last": below[-1], "Count": -len(below)}
        file.writeObject(entry, entry_words)
        for index, (each, (page, view)) in enumerate(zip(below, inner)):
            told: dict[str, Any] = {"Title": _text(view.drawing.title), "Parent": entry,
                                    "Dest": [sheets[page], name("Fit")]}
            if index:
                told["Prev"] = below[index - 1]
            if index + 1 < len(below):
                told["Next"] = below[index + 1]
            file.writeObject(each, told)
    file.writeObject(top, {"Type": name("Outlines"), "First": entries[0], "Last": entries[-1], "Count": len(entries)})
    labels = [part for at, each in enumerate(pages) for part in (at, {"P": _text(each.number)})]
    file.writeObject(file.rootObject, {
        "Type": name("Catalog"), "Pages": file.pagesObject, "Outlines": top, "PageMode": name("UseOutlines"),
        "PageLabels": {"Nums": labels}, "Lang": b"en-US", "ViewerPreferences": {"DisplayDocTitle": True}})


def _text(text: str) -> bytes:
    """Return a text as PDF holds it: UTF-16 with its mark where it is not plain."""
    return text.encode("ascii") if text.isascii() else b"\xfe\xff" + text.encode("utf-16-be")


class _Paper:
    """One page being written."""

    def __init__(self, file: Any, page: Page, lettering: _Lettering) -> None:
        self.page, self.lettering = page, lettering
        wide, high = page.size.width / 25.4, page.size.height / 25.4
        file.newPage(wide, high)
        self.renderer = _BACKEND.RendererPdf(file, 72, high, wide)
        self.scale = POINTS
        self.origin: Vec = (0.0, 0.0)
        self.gc: Any = None
        self.lettered = ""

    def draw(self) -> None:
        for view in self.page.views:
            one = view.drawing.on_wall(1.0)
            self.scale = POINTS / one
            self.origin = (view.at[0] * POINTS - view.window.left * self.scale,
                           view.at[1] * POINTS - view.window.bottom * self.scale)
            self.begin(view.box)
            self.fill(plain_within(view.drawing.entities, view.window.grown(PEN * one), one=one))
        self.scale, self.origin = POINTS, (0.0, 0.0)
        self.begin(None)
        self.fill(plain(self.page.entities, one=1.0))
        self.renderer.finalize()

    def begin(self, clip: Box | None) -> None:
        """Take a graphics context clipped to a view [mm]: one for all of it, since a file tells each change of clip."""
        self.gc = self.renderer.new_gc()
        self.lettered = ""
        self.gc.set_joinstyle("round")
        self.gc.set_capstyle("butt")
        if clip is not None:
            self.gc.set_clip_rectangle(Bbox.from_extents(*(edge * POINTS for edge in (
                clip.left, clip.bottom, clip.right, clip.top))))

    def at(self, point: Vec) -> Vec:
        """Return a point in points of the page."""
        return self.origin[0] + point[0] * self.scale, self.origin[1] + point[1] * self.scale

    def fill(self, entities: Iterable[Entity]) -> None:
        """Draw entities; lines that follow each other on one layer become one path."""
        vertices: list[Vec] = []
        codes: list[int] = []
        use = ""

        def close() -> None:
            if vertices:
                self.stroke(Path(vertices, codes), use, "")
                vertices.clear()
                codes.clear()

        for entity in opened(entities):
            if isinstance(entity, Group) or not hasattr(entity, "layer"):
                raise unknown(entity)
            layer = layer_of(entity.layer).use
            bare = isinstance(entity, Line) or (isinstance(entity, Polyline) and not entity.tone)
            if not bare or layer != use:
                close()
            use = layer
            if isinstance(entity, Line):
                vertices += [self.at(entity.start), self.at(entity.end)]
                codes += [int(Path.MOVETO), int(Path.LINETO)]
            elif isinstance(entity, Polyline):
                path = self.path(entity)
                if entity.tone:
                    self.stroke(Path(*path), use, entity.tone)
                else:
                    vertices += path[0]
                    codes += path[1]
            elif isinstance(entity, Circle):
                circle = Path.unit_circle().transformed(
                    Affine2D().scale(entity.radius * self.scale).translate(*self.at(entity.centre)))
                self.stroke(circle, use, entity.tone)
            elif isinstance(entity, Text):
                self.write(entity)
            else:
                raise unknown(entity)
        close()

    def path(self, entity: Polyline) -> tuple[list[Vec], list[int]]:
        points = [self.at(point) for point in entity.points]
        codes = [int(Path.MOVETO)] + [int(Path.LINETO)] * (len(points) - 1)
        if entity.closed:
            points.append(points[0])
            codes.append(int(Path.CLOSEPOLY))
        return points, codes

    def stroke(self, path: Any, use: str, tone: str) -> None:
        layer, gc = layer_of(use), self.gc
        self.lettered = ""
        gc.set_foreground(layer.colour)
        gc.set_linewidth(layer.weight / 100 * POINTS)
        marks = [mark * POINTS for mark in DASHES[layer.line]]
        gc.set_dashes(0, marks or None)
        face = None
        if tone:
            colour, opacity = TONES[tone]
            face = (*to_rgb(colour), opacity)
        self.renderer.draw_path(gc, path, AS_IT_IS, face)

    def blank(self, text: Text) -> None:
        """Hide what was drawn before a text in its place."""
        box = text_box(self.at(text.at), text.text, text.height * POINTS, across=text.across, up=text.up,
                       turned=text.turned, strong=text.strong)
        corners = [(box.left, box.bottom), (box.right, box.bottom), (box.right, box.top), (box.left, box.top)]
        path = Path([*corners, corners[0]], [int(Path.MOVETO)] + [int(Path.LINETO)] * 3 + [int(Path.CLOSEPOLY)])
        self.lettered = ""
        self.gc.set_linewidth(0.0)
        self.renderer.draw_path(self.gc, path, AS_IT_IS, (*to_rgb(TONES["paper"][0]), 1.0))

    def write(self, text: Text) -> None:
        """Write one line of text from the start of its base line."""
        if not text.text:
            return
        height = text.height * POINTS
        wide = width(text.text, height, strong=text.strong)
        back = {"left": 0.0, "centre": -wide / 2, "right": -wide}[text.across]
        drop = {"base": 0.0, "middle": -height / 2, "top": -height}[text.up]
        x, y = self.at(text.at)
        if text.masked:
            self.blank(text)
        x, y = (x - drop, y + back) if text.turned else (x + back, y + drop)
        colour = layer_of(text.layer).colour
        self.gc.set_foreground(colour)
        self.lettering.write(self.renderer, self.gc, (x, y), text.text, height * EM / CAP, strong=text.strong,
                             turned=text.turned, same=colour == self.lettered)
        self.lettered = colour


class _Lettering:
    """Writes text without kerning or ligatures, so that it comes out exactly as wide as it was measured.

    matplotlib lays out every string anew, which takes longer than all the rest of a page. Where its renderer has the
    parts used here, the glyphs of a character are looked up once, and what shows a string is kept; with any other
    release, and for characters that the face does not have, matplotlib's own ``draw_text`` does it.
    """

    def __init__(self, file: Any) -> None:
        self.file = file
        self.shown: dict[tuple[bool, str], list[tuple[Any, bytes]] | None] = {}
        self.glyphs: dict[tuple[bool, str], tuple[Any, int] | None] = {}
        self.faces: dict[bool, Any] = {}

    def write(self, renderer: Any, gc: Any, at: Vec, text: str, size: float, *, strong: bool, turned: bool,
              same: bool) -> None:
        """Write a string; ``same`` where nothing was drawn since the last one, of the same colour."""
        key = strong, text
        if key not in self.shown:
            self.shown[key] = self.parts(renderer, text, strong)
        parts = self.shown[key]
        if parts is None:
            font = FontProperties(family=FAMILY, size=size, weight="bold" if strong else "normal")
            with warnings.catch_warnings():
                warnings.filterwarnings("ignore", message="Glyph .* missing")
                renderer.draw_text(gc, *at, text, font, 90.0 if turned else 0.0)
            return
        if not same:
            renderer.check_gc(gc, gc._rgb)
        x, y, high = (_BACKEND.pdfRepr(each) for each in (*at, size))
        lines = [b"q", b"%b %b %b cm" % (b"0 1 -1 0" if turned else b"1 0 0 1", x, y), b"BT"]
        for face, shown in parts:
            lines += [b"%b %b Tf" % (face, high), shown]
        self.file.write(b"\n".join([*lines, b"ET", b"Q", b""]))

    def parts(self, renderer: Any, text: str, strong: bool) -> list[tuple[bytes, bytes]] | None:
        """Return the faces that a string is written in, each with what shows its part of it; None where one has none.

        A face of many characters is embedded in parts, each under a name of its own.
        """
        found = [self.glyph(character, strong) for character in text]
        if None in found:
            return None
        return [(face.pdfRepr(), _BACKEND._fill([
            _BACKEND.pdfRepr([renderer._encode_glyphs([code for _, code in group], 42)]), b"TJ"]))
            for face, group in itertools.groupby([glyph for glyph in found if glyph], key=lambda glyph: glyph[0])]

    def glyph(self, character: str, strong: bool) -> tuple[Any, int] | None:
        """Return the name of the embedded face and the code of a character in it; None when it is not to be had."""
        key = strong, character
        if key not in self.glyphs:
            self.glyphs[key] = self._looked_up(character, strong)
        return self.glyphs[key]

    def _looked_up(self, character: str, strong: bool) -> tuple[Any, int] | None:
        tracker: Any = getattr(self.file, "_character_tracker", None)
        known = hasattr(tracker, "track_glyph") and hasattr(_BACKEND.RendererPdf, "_encode_glyphs") and (
            hasattr(_BACKEND, "_fill"))
        if not known or FontPath is None:
            return None
        if strong not in self.faces:
            weight = "bold" if strong else "normal"
            self.faces[strong] = get_font(findfont(FontProperties(family=FAMILY, weight=weight)))
        face = self.faces[strong]
        index = face.get_char_index(ord(character))
        if not index:
            return None
        subset, code = tracker.track_glyph(face, character, index)
        return self.file.fontName(FontPath(face.fname, face.face_index), subset), code
