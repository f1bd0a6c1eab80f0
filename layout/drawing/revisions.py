"""Revisions on an elevation: a triangle at each piece that is new or changed, and the table that explains it."""

from __future__ import annotations

from layout.drawing.chains import Note
from layout.drawing.facenotes import FaceNotes, Spans, face_origin
from layout.drawing.model.blocks import SMALL
from layout.drawing.model.entities import Polyline, Text
from layout.drawing.model.fonts import wrapped
from layout.drawing.spots import spot
from layout.records import Piece

TABLE_WIDE = 150.0
"""Longest line of the table [plotted mm]."""
SIDE = 5.6
"""Side of a triangle [plotted mm]."""


def mark_revisions(notes: FaceNotes, spans: Spans) -> None:
    """Put a triangle with the revision's number at each piece that is new or changed on the faces shown.

    Below the drawing stand the revision, the plan it was made from, and the pieces that it marks here. Where there is
    no room near a piece the number stands in the row below, at the end of a leader from there.

    Parameters
    ----------
    notes
        The notes of the elevation.
    spans
        The faces shown, left to right.
    """
    revision, wall, one = notes.plan.revision, notes.view.wall, notes.one
    if revision is None:
        return
    changed, number = set(revision.changed), str(revision.number)
    here: list[str] = []
    for piece in notes.plan.pieces:
        if piece.tag not in changed or not piece.flat or (piece.run, piece.layer) != (wall.run, wall.layer):
            continue
        if not any(span.name == piece.face for span, _ in spans):
            continue
        here.append(piece.tag)
        point = _middle(piece)
        found = spot(notes, point, [(SIDE * one, SIDE * one)], reach=0.0)
        if found:
            _, (x, y), leader = found
            half, low = SIDE / 2 * one, SIDE * 0.42 * one
            notes.entities += [
                *leader, Polyline("flag", ((x - half, y - low), (x, y + SIDE * 0.45 * one), (x + half, y - low))),
                Text("flag", (x, y - 0.5 * one), number, SMALL, "centre", "middle"),
            ]
        else:
            notes.below.append(Note(point, face_origin(notes, point[0]), f"R{number}", suffix=f"R{number}"))
    title = f"Revision {number}, made in the field from plan {revision.before}"
    notes.flags += wrapped(f"{title}: new or changed here {', '.join(here) if here else 'nothing'}", SMALL, TABLE_WIDE)


def _middle(piece: Piece) -> tuple[float, float]:
    xs, ys = [x for x, _ in piece.outline], [y for _, y in piece.outline]
    return (min(xs) + max(xs)) / 2, min(ys) + 0.65 * (max(ys) - min(ys))
