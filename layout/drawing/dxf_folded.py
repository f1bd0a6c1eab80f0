"""Faces in space -> one DXF file: a block for each run, every ply as 3D faces on its own layer."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from ezdxf import units
from ezdxf.math import Vec3
from ezdxf.math.triangulation import mapbox_earcut_3d

from layout.drawing.dxf import EZDXF, no_clock
from layout.drawing.dxf_tables import set_up
from layout.drawing.model.entities import CadSet
from layout.drawing.model.layers import LAYERS, Layer
from layout.drawing.model.solid import Body, Face3
from layout.units import Unit

__all__ = ["write_folded"]
APART = 10.0
"""Between the runs, as a share of the job's unit times twelve: they stand side by side."""


def write_folded(
    bodies: Sequence[Body], path: Path, *, unit: Unit, layers: Mapping[str, Layer] | None = None,
) -> None:
    """Write folded sheet as a DXF file.

    Parameters
    ----------
    bodies
        What lies on the concrete.
    path
        Where to write.
    unit
        The job's unit: one drawing unit.
    layers
        Layers by their use; None for the standard ones.

    Notes
    -----
    Model space holds one insert a run, side by side; in a run's block X runs along its first face, the soil lies at
    -Y, and Z is the elevation, so that a block can be laid over a building model by one move and one turn.
    """
    with no_clock():
        doc = EZDXF.new("R2010")
        doc.units = units.IN if unit.name == "in" else units.MM
        used = layers or LAYERS
        set_up(doc, CadSet(unit, 1, (), ()), used)
        doc.appids.add("LAPWRIGHT")
        space = doc.modelspace()
        y = 0.0
        for number, run in enumerate(dict.fromkeys(body.run for body in bodies), 1):
            mine = [body for body in bodies if body.run == run]
            block: Any = doc.blocks.new(f"FOLDED-{number}")
            block.block.dxf.description = f"run {_plain(run)}, folded"
            low, high = _extent(mine, unit)
            for body in mine:
                for face in body.faces:
                    for corners, hidden in _parts(face, unit):
                        entity = block.add_3dface(corners, dxfattribs={
                            "layer": used[body.layer].name, "invisible_edges": hidden})
                        entity.set_xdata("LAPWRIGHT", [(1000, _plain(body.tag)[:250])])
            space.add_blockref(block.name, (-low[0], y - high[1], 0.0), dxfattribs={"layer": used["piece"].name})
            y -= high[1] - low[1] + APART * 12
        doc.update_all()
        doc.classes.classes = dict(sorted(doc.classes.classes.items()))  # ezdxf adds them in any order
        doc.saveas(path)


def _parts(face: Face3, unit: Unit) -> Iterator[tuple[Sequence[Vec3], int]]:
    """Yield the parts of a face [job's unit], each with the bits of the edges that are none of the face's own."""
    def put(ring: Sequence[tuple[float, float, float]]) -> list[Vec3]:
        return [Vec3(*(round(value / unit.ticks, 6) + 0.0 for value in spot)) for spot in ring]

    rings = [put(face.outline), *(put(hole) for hole in face.holes)]
    if len(rings[0]) == 4 and len(rings) == 1 and _convex(rings[0]):
        yield rings[0], 0
        return
    edges = {edge for ring in rings for edge in (*zip(ring, ring[1:] + ring[:1]), *zip(ring[1:] + ring[:1], ring))}
    for corners in mapbox_earcut_3d(rings[0], rings[1:]):
        a, b, c = corners
        bits = zip((1, 2, 8), ((a, b), (b, c), (c, a)))  # a triangle's third corner is its fourth too
        yield corners, sum(bit for bit, edge in bits if edge not in edges)


def _convex(ring: Sequence[Vec3]) -> bool:
    """Tell whether the corners of a flat ring all turn the same way."""
    turns = [(b - a).cross(c - b) for a, b, c in zip(ring, (*ring[1:], ring[0]), (*ring[2:], *ring[:2]))]
    return all(turn.dot(turns[0]) > 0 for turn in turns)


def _extent(bodies: Sequence[Body], unit: Unit) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return the least and the greatest X and Y of bodies [job's unit]."""
    xs = [x / unit.ticks for body in bodies for face in body.faces for x, _, _ in face.outline]
    ys = [y / unit.ticks for body in bodies for face in body.faces for _, y, _ in face.outline]
    return (min(xs), min(ys)), (max(xs), max(ys))


def _plain(text: str) -> str:
    """Return text without what DXF would read as a line's end or a control code."""
    return "".join(char if char.isprintable() else " " for char in text)
