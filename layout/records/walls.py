"""What a developed wall is: one run laid flat for one layer."""

from __future__ import annotations

from dataclasses import dataclass

from layout.records.asked import Corner, Profile, Side


@dataclass(frozen=True)
class FaceSpan:
    """Where a face lies on its run, and what its sheet does below the joint."""

    name: str
    left: int
    right: int
    corner: Corner
    angle: float
    ledge: int
    toe: int
    footing_depth: int


@dataclass(frozen=True)
class Hole:
    """An opening as the sheet sees it: a rectangle already shrunk by the opening return."""

    tag: str
    kind: str
    left: int
    right: int
    bottom: int
    top: int


@dataclass(frozen=True)
class SleeveHole:
    """A sleeve as the sheet sees it: a circle around (x, y); ``projects`` is how far its pipe stands out."""

    tag: str
    x: int
    y: int
    diameter: int
    projects: int = 0


@dataclass(frozen=True)
class SeamClearance:
    """Something a seam keeps clear of: no part of a lap within ``clear`` of [left, right]."""

    rule: str
    tag: str
    left: int
    right: int
    clear: int


@dataclass(frozen=True)
class Wall:
    """One run developed flat for one turn-down: what one layer must cover, and where seams may not be.

    Parameters
    ----------
    run, layer
        Name of the run; ``membrane`` or ``drainage``.
    closed
        The right end meets the left end; everything repeats every ``length``.
    length
        Length of the run [ticks]; profiles and features lie within [0, length].
    turn_down
        The turn-down this wall was developed for [ticks].
    faces
        The faces in order.
    top
        The membrane line. Where an opening is cut by that line, the line follows the opening's foot.
    bottom
        Where the sheet ends: the footing less the toe of each face.
    footing
        The footing top (the wall/footing joint).
    wall_top
        The wall top as built, for drawing.
    grade
        Finished grade, or None.
    holes
        Openings that do not reach the membrane line; rectangles apart from each other.
    rounds
        Sleeves.
    keeps
        What seams keep clear of. In a closed run one that spans the start reaches past ``length``.
    slopes
        Pieces of the run with the way water goes along the footing there: (left, right, side), where
        side is ``right`` or ``left``; they tile [0, length].
    notes
        Things the plan must say about the water (ties, level stretches).
    openings
        Every opening as it is built, not shrunk, whether or not the membrane line cuts it.
    fillet, opening_return
        Leg of the chamfer at the wall/footing joint, and how far the sheet turns into an opening [ticks].
    taken_up
        How far apart two edges of sheet may come without a slit: the sheet takes that up [ticks].
    """

    run: str
    layer: str
    closed: bool
    length: int
    turn_down: int
    faces: tuple[FaceSpan, ...]
    top: Profile
    bottom: Profile
    footing: Profile
    wall_top: Profile
    grade: Profile | None
    holes: tuple[Hole, ...]
    rounds: tuple[SleeveHole, ...]
    keeps: tuple[SeamClearance, ...]
    slopes: tuple[tuple[int, int, Side], ...]
    notes: tuple[str, ...] = ()
    openings: tuple[Hole, ...] = ()
    fillet: int = 0
    opening_return: int = 0
    taken_up: int = 2
