"""The lines of an elevation: wall and footing, sheets with their edges and laps, openings, sleeves, folds."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from layout.drawing.facenotes import FaceNotes, Spans
from layout.drawing.model.entities import Circle, Entity, Group, Hatch, Insert, Line, Polyline, Vec
from layout.drawing.wallview import VisiblePiece, Shape, WallView
from layout.records import MEMBRANE, Dab, Piece, Profile, Seam
from layout.shapes import along, polygons, united
from layout.units import inches, tape

LAYER_OF_KIND = {
    "collar": "collar", "footing cover": "cover", "riser cover": "cover", "inside cover": "cover",
    "ledge cover": "cover", "slope cover": "cover",
    "opening gusset": "cover", "opening corner": "collar", "sleeve patch": "collar",
}
"""Layer by kind of piece; every other reinforcing piece is a strip."""
DAB_DRAWN = 0.25
"""Radius of the ring that stands for a dab, as a share of its size: within it, so that words beside it stay clear."""


@dataclass(frozen=True)
class PieceGroup(Group):
    """The group of a piece before it has its labels, and how far along the run it is moved."""

    shift: int = 0


def profile_points(profile: Profile, left: int, right: int) -> list[Vec]:
    """Return a profile's points between two stations [ticks]."""
    return [(float(x), float(y)) for x, y in along(profile, left, right)]


def background(view: WallView, spans: Spans) -> list[Entity]:
    """Return what lies behind the sheet: the wall, the footing's hidden edges."""
    entities: list[Entity] = []
    wall = view.wall
    for span, _ in spans:
        top = profile_points(wall.wall_top, span.left, span.right)
        foot = profile_points(wall.footing, span.left, span.right)
        mine = (wall.run, span.name, (float(span.left), 0.0)) if wall.layer == MEMBRANE else None
        entities.append(Polyline("wall", (foot[0], *top, foot[-1]), closed=False, wall=mine))
        if span.footing_depth:
            lower = [(x, y - span.footing_depth) for x, y in foot]
            entities.append(Polyline("footing", (*foot, *reversed(lower))))
    return entities


def field_groups(view: WallView, notes: FaceNotes, *, alone: bool) -> list[Entity]:
    """Return each piece of the field as one group, and the hatch of each lap.

    On a run developed whole each piece has its group once, where the plan has it; what comes round from the other end
    of a closed run is only outlined there.
    """
    entities: list[Entity] = []
    one = notes.one
    for lap in view.laps:
        entities += [Hatch("lap", ring, spacing=0.9, angle=45) for ring in lap.rings]
    for seen in view.field:
        if seen.shift and not alone:
            entities += [Polyline("beyond", ring) for part in seen.rings for ring in part]
            continue
        inside: list[Entity] = []
        for number, ring in enumerate(seen.rings):
            uncut = number == 0 and not seen.goes_on and not seen.shift
            inside.append(Polyline("piece" if view.wall.layer == MEMBRANE else "drainage", ring[0],
                                   tone="sheet", piece=seen.piece.tag if uncut else "",
                                   values=notes.values(seen.piece)[1:] if uncut else ()))
            inside += [Polyline("piece", hole) for hole in ring[1:]]
        inside += [Polyline("edge", chain, closed=False) for chain in view.edges[seen.piece.tag, seen.shift]]
        inside += _slits(view, seen)
        entities.append(PieceGroup(seen.piece.tag, piece_title(notes, seen.piece), tuple(inside), seen.shift))
    too_low: dict[Seam, list[Shape]] = defaultdict(list)
    marked = set[Seam]()
    for lap in view.laps:
        if lap.seam is None:
            continue
        rightward = lap.seam.over == lap.seam.left
        marks = _over_marks(lap.shape, rightward=rightward, one=one)
        entities += marks
        if marks:
            marked.add(lap.seam)
        else:
            too_low[lap.seam].append(lap.shape)
        if lap.seam.tuck:
            left, bottom, right, top = lap.bounds
            x = right if rightward else left
            entities.append(Line("closing", (x, bottom), (x, top)))
    for seam, laps in too_low.items():
        if seam not in marked:  # each of its pieces is too low, but the seam as a whole may have room
            entities += _over_marks(united(laps), rightward=seam.over == seam.left, one=one)
    return entities


def _slits(view: WallView, seen: VisiblePiece) -> list[Entity]:
    """Return the slits of a piece where it is seen, cut off at the ends of the window."""
    lines: list[Entity] = []
    for slit in seen.piece.slits:
        (x0, y0), (x1, y1) = ((x + seen.shift, y) for x, y in (slit.start, slit.end))
        start, end = 0.0, 1.0
        if x0 != x1:
            shares = sorted(((view.left - x0) / (x1 - x0), (view.right - x0) / (x1 - x0)))
            start, end = max(start, shares[0]), min(end, shares[1])
        elif not view.left <= x0 <= view.right:
            continue
        if start < end:
            ends = [(x0 + share * (x1 - x0), y0 + share * (y1 - y0)) for share in (start, end)]
            lines.append(Line("slit", ends[0], ends[1]))
    return lines


def _over_marks(shape: Shape, *, rightward: bool, one: float) -> list[Entity]:
    """Return a small triangle near the top of a side lap, pointing from the sheet on top to the one beneath."""
    marks: list[Entity] = []
    for part in polygons(shape):
        left, bottom, right, top = part.bounds
        if top - bottom < 12 * one or right - left > top - bottom:
            continue
        name = "OVER-RIGHT" if rightward else "OVER-LEFT"
        marks += [Insert("over", name, ((left + right) / 2, y)) for y in (top - 4 * one, bottom + 4 * one)]
    return marks


def other_groups(view: WallView, notes: FaceNotes, *, alone: bool) -> list[Entity]:
    """Return each strip, collar and cover that lies flat as one group."""
    entities: list[Entity] = []
    for seen in view.others:
        if seen.shift and not alone:
            continue
        layer = LAYER_OF_KIND.get(seen.piece.kind, "strip")
        inside: list[Entity] = []
        for number, ring in enumerate(seen.rings):
            uncut = number == 0 and not seen.goes_on and not seen.shift
            inside.append(Polyline(layer, ring[0], piece=seen.piece.tag if uncut else "",
                                   values=notes.values(seen.piece)[1:] if uncut else ()))
            inside += [Polyline(layer, hole) for hole in ring[1:]]
        inside += _slits(view, seen)
        entities.append(PieceGroup(seen.piece.tag, piece_title(notes, seen.piece), tuple(inside), seen.shift))
    return entities


def labelled(entities: Sequence[Entity], notes: FaceNotes) -> list[Entity]:
    """Return what is drawn with the labels of each piece in its group."""
    return [Group(entity.tag, entity.title, (*entity.entities, *notes.placed.get((entity.tag, entity.shift), ())))
            if isinstance(entity, PieceGroup) else entity for entity in entities]


def folds(view: WallView, spans: Spans) -> list[Entity]:
    """Return the folds at the joint and the ledge, and the grade, which a label on a blank hides."""
    entities: list[Entity] = []
    wall = view.wall
    for span, _ in spans:
        entities.append(Polyline("fold", tuple(profile_points(wall.footing, span.left, span.right)), closed=False))
        if span.ledge and wall.layer == MEMBRANE:
            edge = tuple((x, y + wall.turn_down) for x, y in profile_points(wall.bottom, span.left, span.right))
            entities.append(Polyline("fold", edge, closed=False))
        if wall.grade:
            entities.append(Polyline("grade", tuple(profile_points(wall.grade, span.left, span.right)), closed=False))
    return entities


def foreground(view: WallView, spans: Spans, dabs: Sequence[Dab]) -> list[Entity]:
    """Return what lies over the sheet: openings, sleeves, and the dabs on points that no sheet holds."""
    wall = view.wall
    entities: list[Entity] = []
    for dab in dabs if wall.layer == MEMBRANE else ():
        for x in (dab.station, dab.station + wall.length) if wall.closed else (dab.station,):
            if dab.run == wall.run and spans[0][0].left <= x <= spans[-1][0].right:
                entities.append(Circle("dab", (float(x), float(dab.drawn_at)), DAB_DRAWN * dab.size))
    for span, face in spans:
        for opening in face.openings:
            left, right = span.left + opening.left, span.left + opening.left + opening.width
            low, high = opening.sill, opening.sill + opening.height
            entities.append(Polyline("opening", ((left, high), (right, high), (right, low), (left, low)), tone="paper"))
        for sleeve in face.sleeves:
            centre = (float(span.left + sleeve.at), float(sleeve.elevation))
            entities.append(Circle("sleeve", centre, sleeve.diameter / 2, tone="paper"))
            entities.append(Insert("sleeve", "CENTRE", centre))
    return entities


def piece_title(notes: FaceNotes, piece: Piece) -> str:
    """Return what a screen reader says of a piece."""
    unit = notes.plan.job.unit
    text = f"{piece.tag}: {piece.kind}, {tape(piece.length, unit)} by {inches(piece.width, unit)}"
    if piece.tag in notes.rolls:
        text += f", from roll {notes.rolls[piece.tag]}"
    return text + (f", goes on as number {piece.install}" if piece.install else ", goes on before the drops")
