"""The key of the phone packet: each run as one strip of drops, to scale along the wall, to tap."""

from __future__ import annotations

from dataclasses import dataclass

from layout.packet.view import anchor
from layout.records import Plan
from layout.units import tape

_DROP_WIDE = 48.0
"""A usual drop is this wide on the page [px]."""
HIGH = 64.0


@dataclass(frozen=True)
class KeyDrop:
    """One drop on the strip: where it is up to the next one's edge, and the piece its tap opens."""

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
    unit = plan.job.unit
    found = []
    for wall in plan.walls:
        drops = sorted((drop for drop in plan.drops if drop.run == wall.run and drop.layer == wall.layer),
                       key=lambda drop: drop.left)
        if not drops:
            continue
        usual = max(drop.right - drop.left for drop in drops)
        scale = _DROP_WIDE / usual

        def at(ticks: int, scale: float = scale) -> float:
            return round(ticks * scale, 2)

        # where water from the right meets water from the left, or leaves the run, is a low point
        lows = [right for (_, right, side), (_, _, after) in zip(wall.slopes, wall.slopes[1:])
                if (side, after) == ("right", "left")]
        found.append(KeyStrip(
            wall.run, wall.layer, tape(wall.length, unit), at(max(wall.length, max(drop.right for drop in drops))),
            tuple(KeyDrop(drop.tag, drop.pieces[0], drop.pieces, anchor(drop.pieces[0]), at(drop.left),
                          at(end - drop.left), drop.install)
                  for drop, end in zip(drops, [*(after.left for after in drops[1:]), drops[-1].right], strict=True)
                  if drop.pieces),
            tuple(KeyFace(face.name, at(face.left), at(face.right - face.left), face.corner) for face in wall.faces),
            tuple(at(low) for low in lows),
        ))
    return tuple(found)
