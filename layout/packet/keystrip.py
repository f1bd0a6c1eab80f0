"""The key of the phone packet: each run as one strip of equal boxes, a drop a box, to tap with a gloved finger.

The boxes are in the order of the wall but not to scale, since a narrow drop must be as easy to hit as a wide one; the
elevations are to scale. Corners and low points fall between and within the boxes where they do on the wall.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from layout.packet.view import anchor
from layout.records import Drop, Plan, Wall
from layout.units import tape

BOX = 46.0
"""Width of a box [px]."""


@dataclass(frozen=True)
class KeyDrop:
    """One drop on the strip: where its box is, and the piece its tap opens."""

    tag: str
    piece: str
    pieces: tuple[str, ...]
    href: str
    x: float
    wide: float
    install: int

    @property
    def squeeze(self) -> bool:
        """The tag is wider than its box."""
        return len(self.tag) * 8.2 > self.wide - 4


@dataclass(frozen=True)
class KeyFace:
    """One face on the strip."""

    name: str
    x: float
    wide: float
    corner: str


@dataclass(frozen=True)
class KeyStrip:
    """One run, or one further layer of it."""

    run: str
    layer: str
    length: str
    wide: float
    drops: tuple[KeyDrop, ...]
    faces: tuple[KeyFace, ...]
    lows: tuple[float, ...]


def key_strips(plan: Plan) -> tuple[KeyStrip, ...]:
    """Return the key strip of each run and layer."""
    found = []
    for wall in plan.walls:
        drops = sorted((drop for drop in plan.drops if drop.run == wall.run and drop.layer == wall.layer),
                       key=lambda drop: drop.left)
        if drops:
            found.append(_strip(wall, drops, tape(wall.length, plan.job.unit)))
    return tuple(found)


def _strip(wall: Wall, drops: Sequence[Drop], length: str) -> KeyStrip:
    scale = _Places(drops)
    # where water from the left meets water from the right is a low point
    lows = [right for (_, right, side), (_, _, after) in zip(wall.slopes, wall.slopes[1:])
            if (side, after) == ("right", "left")]
    faces = [(face, scale.at(face.left), scale.at(face.right)) for face in wall.faces]
    return KeyStrip(
        wall.run, wall.layer, length, BOX * len(drops),
        tuple(KeyDrop(drop.tag, drop.pieces[0], drop.pieces, anchor(drop.pieces[0]), BOX * i, BOX, drop.install)
              for i, drop in enumerate(drops) if drop.pieces),
        tuple(KeyFace(face.name, left, round(right - left, 2), face.corner) for face, left, right in faces),
        tuple(scale.at(low) for low in lows),
    )


class _Places:
    """Stations on the wall to places on the strip: straight within each box."""

    def __init__(self, drops: Sequence[Drop]) -> None:
        self.edges = [*(drop.left for drop in drops), max(drop.right for drop in drops)]

    def at(self, station: int) -> float:
        """Return the place of a station [px]; what lies off the drops is at the strip's end."""
        for box, (left, right) in enumerate(zip(self.edges, self.edges[1:])):
            if station <= right:
                share = max(0.0, (station - left) / (right - left))
                return round(BOX * (box + share), 2)
        return BOX * (len(self.edges) - 1)
