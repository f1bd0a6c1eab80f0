"""Writes pages as one PDF through matplotlib's own PDF renderer: vector, fonts embedded, the same bytes each time."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path as FilePath
from typing import Any

import matplotlib
from matplotlib.backends.backend_pdf import PdfFile, RendererPdf
from matplotlib.colors import to_rgb
from matplotlib.font_manager import FontProperties
from matplotlib.path import Path
from matplotlib.transforms import Affine2D, Bbox

from layout.drawing.model.entities import Box, Circle, Entity, Group, Line, Page, Polyline, Text, Vec, unknown
from layout.drawing.model.fonts import CAP, EM, width
from layout.drawing.model.layers import DASHES, TONES, layer_of
from layout.drawing.model.plain import plain

POINTS = 72 / 25.4
"""Points in a millimetre."""
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
        file = PdfFile(path, metadata={"Title": title, "Creator": "lapwright", "Producer": None, "CreationDate": None})
        try:
            for page in pages:
                _Paper(file, page).draw()
            file.finalize()
        finally:
            file.close()


class _Paper:
    """One page being written."""

    def __init__(self, file: Any, page: Page) -> None:
        self.page = page
        wide, high = page.size.width / 25.4, page.size.height / 25.4
        file.newPage(wide, high)
        self.renderer = RendererPdf(file, 72, high, wide)
        self.scale = POINTS
        self.origin: Vec = (0.0, 0.0)
        self.clip: Box | None = None

    def draw(self) -> None:
        for view in self.page.views:
            one = view.drawing.on_wall(1.0)
            self.scale = POINTS / one
            self.origin = (view.at[0] * POINTS - view.window.left * self.scale,
                           view.at[1] * POINTS - view.window.bottom * self.scale)
            self.clip = view.box
            self.fill(plain(view.drawing.entities, one=one), view.window)
        self.scale, self.origin, self.clip = POINTS, (0.0, 0.0), None
        self.fill(plain(self.page.entities, one=1.0), None)
        self.renderer.finalize()

    def at(self, point: Vec) -> Vec:
        """Return a point in points of the page."""
        return self.origin[0] + point[0] * self.scale, self.origin[1] + point[1] * self.scale

    def fill(self, entities: Iterable[Entity], window: Box | None) -> None:
        """Draw entities; lines that follow each other on one layer become one path."""
        vertices: list[Vec] = []
        codes: list[int] = []
        use = ""

        def close() -> None:
            if vertices:
                self.stroke(Path(vertices, codes), use, "")
                vertices.clear()
                codes.clear()

        for entity in _flat(entities):
            layer = layer_of(getattr(entity, "layer", "")).use
            bare = isinstance(entity, Line) or (isinstance(entity, Polyline) and not entity.tone)
            if not bare or layer != use:
                close()
            use = layer
            if isinstance(entity, Line):
                vertices += [self.at(entity.start), self.at(entity.end)]
                codes += [Path.MOVETO, Path.LINETO]
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

    @contextmanager
    def context(self) -> Iterator[Any]:
        """Give a graphics context clipped to the view."""
        gc = self.renderer.new_gc()
        if self.clip is not None:
            box = self.clip
            gc.set_clip_rectangle(Bbox.from_extents(box.left * POINTS, box.bottom * POINTS, box.right * POINTS,
                                                    box.top * POINTS))
        yield gc
        gc.restore()

    def stroke(self, path: Any, use: str, tone: str) -> None:
        layer = layer_of(use)
        with self.context() as gc:
            gc.set_foreground(layer.colour)
            gc.set_linewidth(layer.weight / 100 * POINTS)
            gc.set_joinstyle("round")
            gc.set_capstyle("butt")
            if DASHES[layer.line]:
                gc.set_dashes(0, [mark * POINTS for mark in DASHES[layer.line]])
            face = None
            if tone:
                colour, opacity = TONES[tone]
                face = (*to_rgb(colour), opacity)
            self.renderer.draw_path(gc, path, Affine2D(), face)

    def write(self, text: Text) -> None:
        """Write one line of text from the start of its base line."""
        if not text.text:
            return
        height = text.height * POINTS
        wide = width(text.text, height, strong=text.strong)
        back = {"left": 0.0, "centre": -wide / 2, "right": -wide}[text.across]
        drop = {"base": 0.0, "middle": -height / 2, "top": -height}[text.up]
        x, y = self.at(text.at)
        x, y = (x - drop, y + back) if text.turned else (x + back, y + drop)
        font = FontProperties(family=FAMILY, size=height * EM / CAP, weight="bold" if text.strong else "normal")
        with self.context() as gc:
            gc.set_foreground(layer_of(text.layer).colour)
            self.renderer.draw_text(gc, x, y, text.text, font, 90.0 if text.turned else 0.0)


def _flat(entities: Iterable[Entity]) -> Iterator[Entity]:
    """Yield entities with groups opened, in drawing order."""
    for entity in entities:
        if isinstance(entity, Group):
            yield from _flat(entity.entities)
        else:
            yield entity
