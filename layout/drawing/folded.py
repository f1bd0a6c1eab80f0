"""The whole membrane folded on to the concrete: every ply where it lies, to be laid over a building model."""

from __future__ import annotations

from layout.concrete import parts_of
from layout.drawing.folds import walls_by_run
from layout.drawing.model.solid import Body, Face3
from layout.drawing.wallwork import LAYER_OF_KIND
from layout.folding import FoldedPart
from layout.records import MEMBRANE, Plan


def folded_bodies(plan: Plan) -> list[Body]:
    """Return every piece of the membrane as faces in the space of its run, in the order they go on.

    Parameters
    ----------
    plan
        The plan.
    """
    walls = walls_by_run(plan)
    bodies: list[Body] = []
    for piece in sorted(plan.pieces, key=lambda piece: (piece.run, piece.order, piece.tag)):
        if piece.layer != MEMBRANE or piece.run not in walls:
            continue
        faces = tuple(_face(part) for part in parts_of(piece, walls[piece.run]))
        if faces:
            layer = "piece" if piece.kind == "drop" else LAYER_OF_KIND.get(piece.kind, "strip")
            bodies.append(Body(piece.run, layer, piece.tag, faces))
    return bodies


def _face(part: FoldedPart) -> Face3:
    rings = [
        tuple(part.motion.place((x, y)) for x, y, *_ in ring.coords[:-1])
        for ring in (part.shape.exterior, *part.shape.interiors)
    ]
    return Face3(rings[0], tuple(rings[1:]))
