"""Drawings as people draw them, each named by what is odd in it, with what a trace must make of it.

All lengths here are inches. The plain drawing is one wall 240 long and 96 high at (0, 0), its footing on elevation 0.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
from ezdxf.xclip import XClip

Space = Any
TRACED: dict[str, tuple[Callable[[Space], object], dict[str, Any], dict[str, object], str]] = {}
"""What is odd: how it is drawn, options of the trace, what is then true of the first face, what is told."""
REFUSED: dict[str, tuple[Callable[[Space], object], dict[str, Any], str]] = {}
"""What is odd: how it is drawn, options of the trace, the fault."""


def on(layer: str, **more: Any) -> dict[str, Any]:
    """Return the attributes of something on a layer."""
    return {"dxfattribs": {"layer": layer, **more}}


def box(space: Space, layer: str, left: float, bottom: float, right: float, top: float, **more: Any) -> Any:
    """Draw a closed rectangle."""
    return space.add_lwpolyline([(left, bottom), (left, top), (right, top), (right, bottom)], close=True,
                                **on(layer, **more))


def lines(space: Space, layer: str, *points: tuple[float, float], close: bool = False) -> None:
    """Draw single lines from point to point."""
    for one, other in zip(points, [*points[1:], *points[:1]] if close else points[1:]):
        space.add_line(one, other, **on(layer))


def wall(space: Space, left: float = 0, bottom: float = 0, right: float = 240, top: float = 96) -> None:
    """Draw the plain wall."""
    box(space, "A-WALL", left, bottom, right, top)


def text(space: Space, words: str, x: float, y: float, high: float = 6) -> None:
    """Write a text, its middle at a station."""
    space.add_text(words, height=high, **on("A-ANNO-TEXT")).set_placement(
        (x, y), align=ezdxf.enums.TextEntityAlignment.CENTER)


def traced(odd: str, *, options: dict[str, Any] | None = None, told: str = "", **true: object) -> Any:
    """Enter a drawing that is traced."""
    def enter(put: Callable[[Space], object]) -> Callable[[Space], object]:
        TRACED[odd] = put, options or {}, true, told
        return put
    return enter


def refused(odd: str, fault: str, *, options: dict[str, Any] | None = None) -> Any:
    """Enter a drawing that is refused."""
    def enter(put: Callable[[Space], object]) -> Callable[[Space], object]:
        REFUSED[odd] = put, options or {}, fault
        return put
    return enter


# --- not visible, not live ---------------------------------------------------------------------

@traced("an invisible window", openings=[], told="not read: 1 invisible: A-WINDOW")
def _(space: Space) -> None:
    wall(space)
    box(space, "A-WINDOW", 30, 40, 60, 70, invisible=1)


@traced("a state of a dynamic block that is hidden", openings=[(30, 40, 36, 24)], told="not read: 1 invisible")
def _(space: Space) -> None:
    wall(space)
    block = space.doc.blocks.new("*U1")
    box(block, "A-WINDOW", 0, 0, 36, 24)
    box(block, "A-WINDOW", 0, 0, 48, 30, invisible=1)
    space.add_blockref("*U1", (30, 40), **on("0"))


@traced("a block clipped so that one of its two windows is seen", openings=[(30, 40, 36, 24)],
        told="not read: 1 outside the clip boundary of its block: A-WINDOW")
def _(space: Space) -> None:
    wall(space)
    block = space.doc.blocks.new("PAIR")
    box(block, "A-WINDOW", 0, 0, 36, 24)
    box(block, "A-WINDOW", 80, 0, 116, 24)
    clip = XClip(space.add_blockref("PAIR", (30, 40), **on("0")))
    clip.set_block_clipping_path([(-5, -5), (50, 50)])


@refused("a block clipped through its window", r"layer A-WINDOW, at \(30, 40\): must lie inside or outside the clip")
def _(space: Space) -> None:
    wall(space)
    block = space.doc.blocks.new("ONE")
    box(block, "A-WINDOW", 0, 0, 36, 24)
    XClip(space.add_blockref("ONE", (30, 40), **on("0"))).set_block_clipping_path([(-5, -5), (20, 50)])


@refused("a block clipped by a triangle", r"at \(30, 40\): must be clipped by a level rectangle")
def _(space: Space) -> None:
    wall(space)
    block = space.doc.blocks.new("ONE")
    box(block, "A-WINDOW", 0, 0, 36, 24)
    XClip(space.add_blockref("ONE", (30, 40), **on("0"))).set_block_clipping_path([(-5, -5), (90, -5), (0, 90)])


@traced("walls to be demolished beside new ones", length=240.0, told="what is not new work (read one with --as): "
        "A-WALL-D, WALL-DEMO")
def _(space: Space) -> None:
    wall(space)
    box(space, "WALL-DEMO", 300, 0, 400, 96)
    box(space, "A-WALL-D", 500, 0, 600, 96)


@traced("existing walls, read since the drafter says so", options={"layers": ["wall=A-WALL-E"]}, length=100.0)
def _(space: Space) -> None:
    wall(space)
    box(space, "A-WALL-E", 300, 0, 400, 96)


@traced("construction lines on a layer that is not plotted", openings=[],
        told="on layers that are not plotted: A-WINDOW-AUX")
def _(space: Space) -> None:
    wall(space)
    space.doc.layers.add("A-WINDOW-AUX").dxf.plot = 0
    box(space, "A-WINDOW-AUX", 30, 40, 66, 64)


@traced("a block on a frozen layer", sleeves=[], told="on layers that are off or frozen: HIDE")
def _(space: Space) -> None:
    wall(space)
    space.doc.blocks.new("PIPE").add_circle((0, 0), 2, **on("P-SLEEVE"))
    space.doc.layers.add("HIDE").freeze()
    space.add_blockref("PIPE", (30, 40), **on("HIDE"))


@traced("a block on a layer that is off, its parts on layers that are on", sleeves=[(30, 40, 4)])
def _(space: Space) -> None:
    wall(space)
    space.doc.blocks.new("PIPE").add_circle((0, 0), 2, **on("P-SLEEVE"))
    space.doc.layers.add("HIDE").off()
    space.add_blockref("PIPE", (30, 40), **on("HIDE"))


@refused("a layer named with --as that is frozen", "--as: must name a layer that is on and thawed",
         options={"layers": ["wall=COLD"]})
def _(space: Space) -> None:
    wall(space)
    space.doc.layers.add("COLD").freeze()


@traced("a reference that is not loaded", length=240.0, told="not read: the reference SITE to the file site.dwg")
def _(space: Space) -> None:
    wall(space)
    block = space.doc.blocks.new("SITE")
    block.block.dxf.flags = 4
    block.block.dxf.xref_path = "site.dwg"
    space.add_blockref("SITE", (0, 0), **on("0"))


@traced("a reference whose file name has the word wall", openings=[], told="on other layers: WALLS|C-TREE")
def _(space: Space) -> None:
    wall(space)
    box(space, "WALLS|C-TREE", 30, 40, 66, 64)


@refused("a wall nested nine blocks deep", r"must not hold blocks nested deeper than 8")
def _(space: Space) -> None:
    wall(space)
    for depth in range(9):
        block = space.doc.blocks.new(f"B{depth}")
        if depth == 0:
            box(block, "A-WALL", 300, 0, 400, 96)
        else:
            block.add_blockref(f"B{depth - 1}", (0, 0), **on("0"))
    space.add_blockref("B8", (0, 0), **on("0"))


@refused("a reference to a block that is not there", "must refer to a block of the drawing, which GONE is not")
def _(space: Space) -> None:
    wall(space)
    space.add_blockref("GONE", (0, 0), **on("A-WALL"))


# --- sizes and heights -------------------------------------------------------------------------

@refused("feet in a file marked inches",
         r"at \(0, 0\): must be a wall at least 3'-0\" high \(got 8\"\); is it drawn in another unit\? say --unit ft")
def _(space: Space) -> None:
    wall(space, right=20, top=8)


@traced("feet in a file marked inches, and the drafter says so", options={"unit": "ft"}, length=240.0,
        top=[(0, 96), (240, 96)], told="the drawing says it is in in; it was read in ft")
def _(space: Space) -> None:
    wall(space, right=20, top=8)


@refused("millimetres in a file marked inches", r"must be a wall at most 40'-0\" high .*say --unit mm")
def _(space: Space) -> None:
    wall(space, right=6000, top=2400)


@traced("a wall 20 in high that is meant", options={"accept_size": True}, top=[(0, 20), (240, 20)])
def _(space: Space) -> None:
    wall(space, top=20)


@refused("an opening 13 ft wide",
         r"layer A-DOOR, at \(20, 0\): must be an opening at most 12'-0\" across \(got 13'-0\"\)")
def _(space: Space) -> None:
    wall(space)
    box(space, "A-DOOR", 20, 0, 176, 84)


@refused("a wall shorter than a sheet is wide",
         r"must be a wall at least as long as a sheet is wide, 3'-0\" \(got 2'-6\"\)")
def _(space: Space) -> None:
    wall(space, right=30)


@refused("an elevation drawn 60 in lower on the page", r"at \(300, -60\): must not stand 5'-0\" lower, top and footing "
         r"alike, than the wall before it")
def _(space: Space) -> None:
    wall(space)
    wall(space, 300, -60, 400, 36)


@traced("an elevation drawn lower, with a datum line under each", footing=[(0, 12), (240, 12)],
        second=[(0, 12), (100, 12)])
def _(space: Space) -> None:
    wall(space)
    wall(space, 300, -60, 400, 36)
    space.add_line((0, -12), (240, -12), **on("DATUM"))
    space.add_line((300, -72), (400, -72), **on("DATUM"))


@traced("walls built 60 in lower, and the drafter says so", options={"datum": "drawn"}, footing=[(0, 60), (240, 60)],
        second=[(0, 0), (100, 0)])
def _(space: Space) -> None:
    wall(space)
    wall(space, 300, -60, 400, 36)


@traced("elevation 0 told for two rows", options={"datum": "-24,-500"}, footing=[(0, 24), (240, 24)])
def _(space: Space) -> None:
    wall(space)
    wall(space, 0, -480, 200, -390)


@refused("one datum of two", r"must have a datum of its own, as its neighbours have")
def _(space: Space) -> None:
    for left in (0, 300, 600):
        wall(space, left, 0, left + 240, 96)
    space.add_line((0, -12), (240, -12), **on("DATUM"))
    space.add_line((300, -13), (540, -13), **on("DATUM"))


@refused("an end 1/4 in out of plumb",
         r"layer A-WALL, at \(0.25, 96\): must be plumb; it leans 0.25 over a height of 96")
def _(space: Space) -> None:
    space.add_lwpolyline([(0, 0), (0.25, 96), (240, 96), (240, 0)], close=True, **on("A-WALL"))


@traced("an end 1/32 in out of plumb", length=240.0, top=[(0, 96), (240, 96)], told="sides made plumb: 1")
def _(space: Space) -> None:
    space.add_lwpolyline([(0, 0), (1 / 32, 96), (240, 96), (240, 0)], close=True, **on("A-WALL"))


@traced("an end 1/4 in out of plumb that the drafter allows", options={"gap": "1/4"}, length=240.0,
        top=[(0, 96), (240, 96)], told="sides made plumb: 1")
def _(space: Space) -> None:
    space.add_lwpolyline([(0, 0), (0.25, 96), (240, 96), (240, 0)], close=True, **on("A-WALL"))


@traced("a wall moved by a thousandth of a tick", told='anything was moved by less than 0.0001"', length=240.0)
def _(space: Space) -> None:
    wall(space, right=240.00005)


@refused("one lift standing on another", r"must not stand under another wall")
def _(space: Space) -> None:
    wall(space)
    wall(space, bottom=96, top=192)


@refused("a pour joint across a wall of lines", r"must not share a side that is not plumb|must not meet more than one")
def _(space: Space) -> None:
    lines(space, "A-WALL", (0, 0), (0, 48), (0, 96), (240, 96), (240, 48), (240, 0), close=True)
    lines(space, "A-WALL", (0, 48), (240, 48))


@traced("a dimension that says another length than is drawn", length=240.0,
        told="a dimension says 22'-0\" and measures 20'-0\": ")
def _(space: Space) -> None:
    wall(space)
    space.add_linear_dim((0, -20), (0, 0), (240, 0), text="22'-0\"", **on("A-ANNO-DIMS")).render()
    space.add_linear_dim((0, 110), (0, 96), (240, 96), text="20'-0\" TYP", **on("A-ANNO-DIMS")).render()
    space.add_linear_dim((250, 0), (240, 0), (240, 96), angle=90, text="8'-0\"", **on("A-ANNO-DIMS")).render()


# --- names -------------------------------------------------------------------------------------

@traced("titles below the elevations", name="North", second_name="East",
        told="name of run A, North: the text North below it, at (120, -40)")
def _(space: Space) -> None:
    for row, names in ((0, ("North", "East")), (-200, ("South", "West"))):
        for left, name in zip((0, 300), names):
            wall(space, left, row, left + 240, row + 96)
            text(space, name, left + 120, row - 40)


@traced("titles above, levels and notes about", name="North", told="name of run A, North: the text North above it")
def _(space: Space) -> None:
    wall(space)
    text(space, "North", 120, 104)
    text(space, "NOT FOR CONSTRUCTION", 120, 130, high=20)
    text(space, "T.O.W. EL. 102.50", 60, 100, high=9)
    text(space, "EL. 94.50", 60, -20, high=9)
    text(space, "SEE DETAIL 4/S-3", 120, 50, high=9)
    text(space, 'SCALE: 1/4" = 1\'-0"', 120, -30, high=8)


@traced("two rows whose titles might be for either", name="Face 1",
        told="texts that might name the wall above them or the one below, and so name none: One, Two")
def _(space: Space) -> None:
    wall(space, 0, 300, 240, 396)
    wall(space, 0, 0, 240, 96)
    text(space, "One", 120, 150)
    text(space, "Two", 120, 240)


@traced("one title over two walls", name="Street side", second_name="Face 1")
def _(space: Space) -> None:
    wall(space)
    wall(space, 240, 0, 480, 96)
    text(space, "Street side", 180, 110)


# --- common drafting ---------------------------------------------------------------------------

@traced("a sleeve of two half arcs", sleeves=[(30, 40, 6)])
def _(space: Space) -> None:
    wall(space)
    space.add_arc((30, 40), 3, 0, 180, **on("P-SLEEVE"))
    space.add_arc((30, 40), 3, 180, 360, **on("P-SLEEVE"))


@traced("a sleeve of four arcs, mirrored", sleeves=[(30, 40, 6)])
def _(space: Space) -> None:
    wall(space)
    for start in (0, 90, 180, 270):
        space.add_arc((-30, 40), 3, start, start + 90, **on("P-SLEEVE", extrusion=(0, 0, -1)))


@refused("three quarters of a sleeve", r"layer P-SLEEVE, at \(30, 40\): must be a whole circle, .*arcs of 270 degrees")
def _(space: Space) -> None:
    wall(space)
    space.add_arc((30, 40), 3, 0, 270, **on("P-SLEEVE"))


@traced("a sleeve as a polyline with two bulges", sleeves=[(30, 40, 6)])
def _(space: Space) -> None:
    wall(space)
    space.add_lwpolyline([(27, 40, 1), (33, 40, 1)], format="xyb", close=True, **on("P-SLEEVE"))


@traced("a sleeve as an ellipse that is round", sleeves=[(30, 40, 6)])
def _(space: Space) -> None:
    wall(space)
    space.add_ellipse((30, 40), (3, 0), 0.99, **on("P-SLEEVE"))


@refused("a sleeve as an ellipse twice as wide as high", r"must be a circle, on a layer for sleeves")
def _(space: Space) -> None:
    wall(space)
    space.add_ellipse((30, 40), (6, 0), 0.5, **on("P-SLEEVE"))


@traced("a sleeve as a polygon of 24 sides", sleeves=[(30, 40, 6)])
def _(space: Space) -> None:
    wall(space)
    turns = [math.tau * step / 24 for step in range(24)]
    space.add_lwpolyline([(30 + 3 * math.cos(turn), 40 + 3 * math.sin(turn)) for turn in turns], close=True,
                         **on("P-SLEEVE"))


@traced("a grade as a spline", grade_near=lambda x: 60 + x * (240 - x) / 1000)
def _(space: Space) -> None:
    wall(space)
    # one quadratic Bezier curve is this parabola exactly
    space.add_open_spline([(0, 60), (120, 60 + 240 * 120 / 1000), (240, 60)], degree=2, **on("C-GRADE"))


@traced("a grade as an arc", grade_near=lambda x: math.sqrt(500 ** 2 - (x - 120) ** 2) - 420)
def _(space: Space) -> None:
    wall(space)
    half = math.degrees(math.asin(140 / 500))
    space.add_arc((120, -420), 500, 90 - half, 90 + half, **on("C-GRADE"))


@traced("a footing as two lines", footing=[(0, 0), (240, 0)], depth=10.0)
def _(space: Space) -> None:
    space.add_lwpolyline([(0, 0), (0, 96), (240, 96), (240, 0)], **on("A-WALL"))
    lines(space, "S-FTG", (-6, 0), (246, 0))
    lines(space, "S-FTG", (-6, -10), (246, -10))


@traced("a footing as single lines all round", footing=[(0, 0), (240, 0)], depth=10.0)
def _(space: Space) -> None:
    wall(space)
    lines(space, "S-FTG", (-6, 0), (246, 0), (246, -10), (-6, -10), close=True)


@refused("a footing 3 in under its wall",
         r"layer S-FTG, at \(0, -3\): the footing must meet the wall; it lies 3 under it")
def _(space: Space) -> None:
    wall(space)
    lines(space, "S-FTG", (-6, -3), (246, -3), (246, -13), (-6, -13), close=True)


@traced("a wall drawn down through its footing", footing=[(0, 10), (240, 10)], top=[(0, 96), (240, 96)],
        options={"datum": "0"}, depth=10.0)
def _(space: Space) -> None:
    wall(space)
    lines(space, "S-FTG", (-6, 10), (246, 10), (246, 0), (-6, 0), close=True)


@refused("a footing as three lines", r"the footing must be one line, or two: its top and its underside")
def _(space: Space) -> None:
    wall(space)
    for y in (0, -5, -10):
        lines(space, "S-FTG", (-6, y), (246, y))


@traced("walls of lines that share an upright", length=240.0, top=[(0, 96), (240, 96)], second=[(0, 0), (160, 0)])
def _(space: Space) -> None:
    lines(space, "A-WALL", (0, 0), (0, 96), (240, 96))
    lines(space, "A-WALL", (240, 84), (400, 84), (400, 0), (0, 0))
    lines(space, "A-WALL", (240, 0), (240, 96))


@traced("an outline drawn twice", length=240.0, told="drawn twice, taken once: 1")
def _(space: Space) -> None:
    wall(space)
    wall(space)


@traced("a wall of collinear splits drawn over one another", length=240.0, top=[(0, 96), (240, 96)])
def _(space: Space) -> None:
    lines(space, "A-WALL", (0, 0), (0, 96), (150, 96))
    lines(space, "A-WALL", (100, 96), (240, 96), (240, 0), (0, 0))


@traced("a grade of lines over one another", grade=[(0, 60), (240, 60)], told="lines over one another, taken as one: 1")
def _(space: Space) -> None:
    wall(space)
    lines(space, "C-GRADE", (0, 60), (150, 60))
    lines(space, "C-GRADE", (100, 60), (240, 60))


@traced("a window of lines with an X and a mullion", openings=[(30, 40, 36, 24)],
        told="3 x line inside an opening (window)")
def _(space: Space) -> None:
    wall(space)
    lines(space, "A-WINDOW", (30, 40), (66, 40), (66, 64), (30, 64), close=True)
    lines(space, "A-WINDOW", (30, 40), (66, 64))
    lines(space, "A-WINDOW", (66, 40), (30, 64))
    lines(space, "A-WINDOW", (48, 40), (48, 64))


@traced("a door with its swing", openings=[(30, 0, 36, 84)], told="2 x line inside an opening (door)")
def _(space: Space) -> None:
    wall(space)
    box(space, "A-DOOR", 30, 0, 66, 84)
    space.add_arc((30, 42), 36, -45, 45, **on("A-DOOR"))
    lines(space, "A-DOOR", (30, 84), (66, 42), (30, 0))


@traced("a gap of 1/8 in that the drafter allows", options={"gap": "1/8"}, length=240.0, top=[(0, 96), (240, 96)],
        told="gaps closed: 1")
def _(space: Space) -> None:
    space.add_lwpolyline([(0, 0.125), (0, 96), (240, 96), (240, 0), (0, 0)], **on("A-WALL"))


@refused("a gap of 1/8 in", r"at \(0, 0\): must be a closed outline; its ends are 0.125 apart; .*allow more with --gap")
def _(space: Space) -> None:
    space.add_lwpolyline([(0, 0.125), (0, 96), (240, 96), (240, 0), (0, 0)], **on("A-WALL"))


@refused("trim around an opening",
         r"must be one opening; there are two rectangles, 36\" × 24\" within 40\" × 28\"; which")
def _(space: Space) -> None:
    wall(space)
    box(space, "A-WINDOW", 28, 38, 68, 66)
    box(space, "A-WINDOW", 30, 40, 66, 64)


@traced("trim around an opening, the inner one meant", options={"trim": "inner"}, openings=[(30, 40, 36, 24)])
def _(space: Space) -> None:
    wall(space)
    box(space, "A-WINDOW", 28, 38, 68, 66)
    box(space, "A-WINDOW", 30, 40, 66, 64)


@traced("a window of two panes", openings=[(30, 40, 36, 24)], told="2 x line inside an opening (window)")
def _(space: Space) -> None:
    wall(space)
    box(space, "A-WINDOW", 30, 40, 66, 64)
    box(space, "A-WINDOW", 32, 42, 47, 62)
    box(space, "A-WINDOW", 49, 42, 64, 62)


@refused("an arched window", r"layer A-WINDOW, at \(30, 40\): must be a closed rectangle")
def _(space: Space) -> None:
    wall(space)
    space.add_lwpolyline([(30, 40, 0), (66, 40, 0), (66, 64, 0.5), (30, 64, 0)], format="xyb", close=True,
                         **on("A-WINDOW"))


@traced("everything in one mirrored block", length=240.0, openings=[(174, 40, 36, 24)], sleeves=[(200, 20, 4)])
def _(space: Space) -> None:
    block = space.doc.blocks.new("ALL")
    wall(block)
    box(block, "A-WINDOW", 30, 40, 66, 64)
    block.add_circle((40, 20), 2, **on("P-SLEEVE"))
    space.add_blockref("ALL", (1000, 0), **on("0", xscale=-1))


@traced("drawn far from the origin", length=240.0, openings=[(30, 40, 36, 24)])
def _(space: Space) -> None:
    far = 4_000_000.0
    wall(space, far, far, far + 240, far + 96)
    box(space, "A-WINDOW", far + 30, far + 40, far + 66, far + 64)


def drawing(put: Callable[[Space], object], tmp_path: Path) -> Path:
    """Save a drawing in inches."""
    document: Any = ezdxf.new("R2010")  # type: ignore[attr-defined]
    document.header["$INSUNITS"] = 1
    put(document.modelspace())
    document.saveas(tmp_path / "drawing.dxf")
    return tmp_path / "drawing.dxf"
