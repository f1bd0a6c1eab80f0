"""What of a drawing is visible and live: layers that are on, thawed, plotted and new work; clip boundaries."""

from __future__ import annotations

from collections import Counter
from typing import Any

from ezdxf.xclip import XClip

from layout.errors import Fault
from layout.job.trace.drawn import DrawnBox
from layout.job.trace.layers import Roles, status_of
from layout.job.tree import show

HIDDEN = "on layers that are off or frozen"
NO_PLOT = "on layers that are not plotted"
OLD = "on layers of what is not new work (read one with --as)"
INVISIBLE = "invisible"
CLIPPED = "outside the clip boundary of its block"


class Clipped(Exception):
    """A clip boundary is not understood; the message says why."""


class Visibility:
    """Which layers are read.

    Parameters
    ----------
    document
        The drawing.
    roles
        What each layer is for; a layer that the drafter names is read though it is not plotted, or not new work.
    """

    def __init__(self, document: Any, roles: Roles) -> None:
        self.roles = roles
        self.off: set[str] = set()
        self.frozen: set[str] = set()
        self.unplotted: set[str] = {"DEFPOINTS"}
        self.names: set[str] = set()
        self.notes: Counter[str] = Counter()
        for layer in document.layers:
            try:
                name = str(layer.dxf.name).upper()
                self.names.add(name)
                if layer.is_off():
                    self.off.add(name)
                if layer.is_frozen():
                    self.frozen.add(name)
                if not int(layer.dxf.get("plot", 1)):
                    self.unplotted.add(name)
            except Exception as error:  # a layer without its own record is one that is seen
                self.notes[f"broken layer records ({type(error).__name__})"] += 1

    def why_not(self, layer: str, *, block: bool = False) -> str:
        """Return why an entity, or a block reference, on a layer is not read; empty when it is."""
        name = layer.upper()
        if name in self.off or name in self.frozen:
            return HIDDEN
        if name in self.roles.told:
            return ""
        if name in self.unplotted:
            return NO_PLOT
        return OLD if (block or self.roles.of(layer)) and status_of(layer) else ""

    def hides_block(self, layer: str) -> bool:
        """Tell whether a block reference on a layer is passed over whole, and not only what takes its layer."""
        return self.why_not(layer, block=True) == OLD or self.is_frozen(layer)

    def is_frozen(self, layer: str) -> bool:
        """Tell whether a layer is frozen, which hides all that a block reference on it stands for."""
        return layer.upper() in self.frozen

    def faults(self, seen: set[str]) -> list[Fault]:
        """Return the faults of layers that the drafter names: unknown in the drawing, or hidden in it."""
        faults: list[Fault] = []
        for layer in sorted(self.roles.told):
            if layer not in self.names | seen:
                faults.append(Fault(0, "--as", "must name a layer of the drawing", show(layer)))
            elif self.roles.told[layer] != "none" and layer in self.off | self.frozen:
                faults.append(Fault(0, "--as", "must name a layer that is on and thawed", show(layer)))
        return faults


def clip_of(insert: Any) -> DrawnBox | None:
    """Return the box that a block reference is clipped to [drawing units]; None when it is not clipped.

    Raises
    ------
    Clipped
        When what is clipped is no level rectangle.
    """
    origin = insert.source_of_copy or insert
    clip = XClip(origin)
    if not clip.has_clipping_path or not clip.is_clipping_enabled:
        return None
    path = clip.get_block_clipping_path()
    if path.is_inverted_clip:
        raise Clipped("must not be clipped to what lies outside a boundary")
    corners = list(path.vertices)
    if len(corners) == 2:
        (x0, y0), (x1, y1) = corners
        corners = [type(corners[0])(x, y) for x, y in ((x0, y0), (x1, y0), (x1, y1), (x0, y1))]
    points = [(float(point[0]), float(point[1])) for point in insert.matrix44().transform_vertices(
        [(corner[0], corner[1], 0.0) for corner in corners])]
    if len(points) == 5 and points[0] == points[-1]:
        points.pop()
    xs, ys = sorted(x for x, _ in points), sorted(y for _, y in points)
    if len(points) != 4:
        raise Clipped("must be clipped by a level rectangle")
    near = 1e-6 * max(xs[-1] - xs[0], ys[-1] - ys[0], 1e-9)
    if xs[1] - xs[0] > near or xs[3] - xs[2] > near or ys[1] - ys[0] > near or ys[3] - ys[2] > near:
        raise Clipped("must be clipped by a level rectangle")
    return xs[0], ys[0], xs[3], ys[3]
