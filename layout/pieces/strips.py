"""Strips: at each corner, along the wall/footing joint, and along the top edge where asked."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from shapely.affinity import affine_transform, translate
from shapely.geometry import Point as Place
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from layout.concrete import concrete_of, turned_parts
from layout.folding import slits_between
from layout.pieces.blanks import PieceKind, letters, longest, piece, lapping_shares, strip_product
from layout.pieces.field import face_at
from layout.pieces.slits import on_ticks
from layout.records import FaceSpan, Job, Laid, Piece, Point, Profile, RuleException, Rules, Wall
from layout.shapes import along, corners, must_cover, hole_polygon, polygons, repeated, round_polygon
from layout.surfaces import carried
from layout.units import FILLET_FACTOR, Unit, inches

STOCK_LENGTH = {"in": 1920, "mm": 3000}
"""Longest base strip that one person bends into the joint by himself: 10'-0" or 3 m; common practice [ticks]."""


# --- corner strips -----------------------------------------------------------------------------

def corner_strips(job: Job, wall: Wall) -> list[Piece]:
    """Return the strips centred on each corner of a run, from the membrane line to the sheet's end.

    Each is slit where it folds on to the concrete, as the drops over it are. One too long for one piece is end-lapped,
    upper over lower.
    """
    width = job.rules.corner_strip
    if not width:
        return []
    name, product = strip_product(job)
    kind = PieceKind("corner strip", wall.run, name, job.rules)
    stretch = repeated(wall)
    made: list[Piece] = []
    for number, span in enumerate(corners(wall), 1):
        at = span.right if span.right >= width // 2 or not wall.closed else span.right + wall.length
        left = max(at - width // 2, 0)
        right = min(at - width // 2 + width, stretch.length)
        share = must_cover(stretch, left, right)
        boxes = [box(left, low, right, high) for low, high in _lengths(share, longest(product, job.rules), job.rules)]
        shapes = [shape for part in boxes for shape in polygons(share.intersection(part))]
        made += [
            piece(kind, shape, tag=f"{wall.run}-CS{number}{letter}", face=span.name, wall=wall, rounds=stretch.rounds)
            for letter, shape in zip(letters(len(shapes)), shapes, strict=True)
        ]
    return made


def _lengths(shape: BaseGeometry, most: int, rules: Rules) -> list[tuple[int, int]]:
    """Return the (bottom, top) of each piece of an upright strip, top to bottom [ticks]."""
    _, bottom, _, top = shape.bounds
    return [(-low, -high) for high, low in lapping_shares(-round(top), -round(bottom), most=most, lap=rules.end_lap)]


# --- base strips -------------------------------------------------------------------------------

@dataclass(frozen=True)
class Bed:
    """How a base strip lies across the wall/footing joint of one face.

    Parameters
    ----------
    up
        Height of its upper edge above the joint [ticks].
    needed
        Width that reaches ``base_strip_up`` up the wall, across the ledge and as far down the face [ticks].
    width
        Width of the strip as laid [ticks].
    down
        How far it goes down the footing's face; negative when it does not reach the ledge's edge [ticks].
    """

    up: int
    needed: int
    width: int
    down: int


def bed(rules: Rules, span: FaceSpan, *, width: int, turn_down: int) -> Bed:
    """Lay a base strip across the joint.

    What the strip has to spare goes half down the face, no further than the sheet's own turn-down, and the rest up the
    wall. A strip too narrow keeps its least height up the wall and falls short on the face.

    Parameters
    ----------
    rules
        For the least height and the fillet.
    span
        The face, for its ledge.
    width, turn_down
        Width of the strip, and how far the sheet goes down the face [ticks].

    Examples
    --------
    A 12 in strip, 4 in up and down, fits a 4 in ledge to the tick; a 6 in ledge with a 3/4 in fillet needs 13 9/16 in.
    """
    saved = FILLET_FACTOR * rules.fillet if span.ledge else 0.0
    flat = math.ceil(round(span.ledge - saved, 9))
    least = rules.base_strip_up
    needed = 2 * least + flat
    spare = width - needed
    down = least + spare if spare < 0 else min(max(least, turn_down), least + spare // 2)
    return Bed(up=width - flat - down, needed=needed, width=width, down=down)


def base_strips(job: Job, wall: Wall) -> tuple[list[Piece], list[RuleException]]:
    """Return the strips along the wall/footing joint of a run, in stock lengths with end laps.

    A strip ends at each corner, where the corner strip and the footing cover take over, at each step of the footing,
    where the riser cover does, and where the ledge changes. Along a sloping footing it lies in its own frame; its
    ends are cut plumb, and below the joint square to the slope where they would run past the ledge into the air, the
    end of a wider one, around an outside corner or past a change of slope.
    """
    width = job.rules.base_strip
    if not width:
        return [], []
    kind = PieceKind("base strip", wall.run, strip_product(job)[0], job.rules, lying=True)
    most = stock_length(job)
    made: list[Piece] = []
    short: dict[tuple[int, int], list[FaceSpan]] = {}
    for (x0, y0), (x1, y1), span in _stretches(wall):
        lie = bed(job.rules, span, width=width, turn_down=wall.turn_down)
        if lie.down < job.rules.base_strip_up:
            short.setdefault((lie.needed, lie.down), []).append(span)
        if y0 == y1:
            lengths = stock_lengths(x0, x1, most=most, lap=job.rules.end_lap)
            shapes = _without_shards([
                shape for left, right in lengths
                for shape in _above(wall, box(left, y0 + lie.up - width, right, y0 + lie.up))
            ])
        else:
            made += _along_slope(job, wall, kind, span, ((x0, y0), (x1, y1)), width, above=lie.up,
                                 tag=f"{wall.run}-BS", number=len(made))
            continue
        for shape in shapes:
            tag = f"{wall.run}-BS{len(made) + 1:02d}"
            face = face_at(wall, round(shape.bounds[0])).name
            made.append(piece(kind, shape, tag=tag, face=face, wall=wall, rounds=wall.rounds))
    return made, [_too_narrow(job, wall.run, needed, down, spans) for (needed, down), spans in short.items()]


def _along_slope(
    job: Job, wall: Wall, kind: PieceKind, span: FaceSpan, line: tuple[Point, Point], width: int, *, above: int,
    tag: str, number: int,
) -> list[Piece]:
    """Return the strips along a sloping line, in stock lengths with end laps, each in its own frame.

    Parameters
    ----------
    line
        The two ends of the line, in the run's frame [ticks].
    width, above
        Width of the strip, and how far above the line its upper edge lies, square to it [ticks].
    tag, number
        What the tags begin with, and how many strips there are before.
    """
    (x0, y0), (x1, y1) = line
    length = math.hypot(x1 - x0, y1 - y0)
    cosine, sine = (x1 - x0) / length, (y1 - y0) / length
    plumb = math.ceil(width * abs(sine) / cosine)  # how far an end cut plumb reaches past one cut square
    concrete = concrete_of(wall)
    past_ends = concrete.past(x0, x1)
    # around an outside corner the footing goes on level, past a kink at another slope: what came past would lie bent
    bent: set[float] = {corner.station % wall.length for corner in concrete.corners() if corner.kind == "outside"}
    bent |= {after.left % wall.length for _, after in concrete.kinks()}
    made: list[Piece] = []
    for left, right in stock_lengths(0, math.ceil(length), most=stock_length(job), lap=job.rules.end_lap):
        # lower left corner of the strip's own frame, in the run's
        foot = (x0 + left * cosine - (above - width) * sine, y0 + left * sine + (above - width) * cosine)
        there = [cosine, -sine, sine, cosine, *foot]
        back = [cosine, sine, -sine, cosine, -foot[0] * cosine - foot[1] * sine, foot[0] * sine - foot[1] * cosine]
        past = (plumb if not left else 0, plumb if right >= length else 0)
        whole = affine_transform(box(-past[0], 0, right - left + past[1], width), there)
        _, low, _, high = whole.bounds
        for share in _above(wall, whole.intersection(box(x0, low, x1, high)), sleeves=False):
            for end, past in zip((x0, x1), past_ends, strict=True):
                over = [part for each in polygons(share.intersection(past)) for part in concrete.parts(each)]
                if over and end % wall.length in bent or not all(carried(concrete, part) for part in over):
                    share = max(polygons(share.difference(past)), key=lambda each: float(each.area))
            flat = affine_transform(share, back)
            shift = math.ceil(round(flat.bounds[0], 6))
            start = (foot[0] + shift * cosine, foot[1] + shift * sine)
            shape = translate(flat, -shift)
            rounds = [replace(sleeve, x=round(x), y=round(y)) for sleeve in wall.rounds for x, y in (
                affine_transform(Place(sleeve.x, sleeve.y), back).coords[0],) for x in (x - shift,)]
            shape = polygons(shape.difference(unary_union([round_polygon(each) for each in rounds])))[0]
            parts = turned_parts(concrete, shape, foot=start, cosine=cosine, sine=sine)
            cut = _within_ticks(shape)
            slits = [on_ticks(each, cut, "change of slope") for each in slits_between(parts, taken_up=wall.taken_up)]
            laid = [Laid(part.on, tuple(part.shape.exterior.coords[:-1]), part.motion.origin, part.motion.along,
                         part.motion.up) for part in parts]
            made.append(piece(kind, cut, tag=f"{tag}{number + len(made) + 1:02d}", face=span.name,
                              slits=[slit for slit in slits if slit], laid=laid, rounds=rounds,
                              spot=x0 + (left + right) / 2 * cosine, where="its middle"))
    return made


def _within_ticks(shape: Polygon) -> Polygon:
    """Return a strip with its ends on whole ticks, not past where they are: beyond a plumb end is another surface."""
    middle = (shape.bounds[0] + shape.bounds[2]) / 2

    def inward(x: float) -> int:
        return math.ceil(round(x, 6)) if x < middle else math.floor(round(x, 6))

    return Polygon([(inward(x), round(y)) for x, y in shape.exterior.coords],
                   [[(round(x), round(y)) for x, y in ring.coords] for ring in shape.interiors]).buffer(0)


def stock_length(job: Job) -> int:
    """Return the length base strips are cut to: the longest up to 10'-0" (3 m) that divides the longest roll [ticks].

    Five lengths of 10'-0" come from a 50 ft roll, seven of 9'-6 1/4" from one of 66'-8".
    """
    product = strip_product(job)[1]
    most = min(STOCK_LENGTH[job.unit.name], job.rules.max_piece)
    roll = product.longest
    whole = roll // -(-roll // most)
    return max(whole - whole % job.rules.cut_to - job.rules.cut_allowance, 1)


def stock_lengths(start: int, end: int, *, most: int, lap: int) -> list[tuple[int, int]]:
    """Divide a stretch into full lengths and one rest; a rest shorter than two laps is shared with the one before.

    Parameters
    ----------
    start, end
        The stretch [ticks].
    most, lap
        The stock length, and how far neighbours lap [ticks].

    Examples
    --------
    >>> stock_lengths(0, 250, most=100, lap=10)
    [(0, 100), (90, 190), (180, 250)]
    """
    parts: list[tuple[int, int]] = []
    left = start
    while end - left > most and most > 2 * lap:
        parts.append((left, left + most))
        left += most - lap
    if parts and end - left < 2 * lap:
        left = parts.pop()[0]
        return parts + lapping_shares(left, end, most=most, lap=lap)
    if end - left > most:
        return lapping_shares(left, end, most=max(most, lap + 1), lap=lap)
    return [*parts, (left, end)]


def _stretches(wall: Wall) -> list[tuple[Point, Point, FaceSpan]]:
    """Return the straight stretches of the joint: ends, and the face whose ledge they have.

    Faces that go on straight, level and with one ledge are one stretch.
    """
    found: list[tuple[Point, Point, FaceSpan]] = []
    for index, span in enumerate(wall.faces):
        straight = index > 0 and wall.faces[index - 1].corner == "none"
        for start, end in _level_parts(wall.footing, span.left, span.right):
            last = found[-1] if found else None
            goes_on = last and last[1] == start and last[0][1] == last[1][1] == start[1] == end[1]
            if last and goes_on and last[2].ledge == span.ledge and (straight or start[0] > span.left):
                found[-1] = (last[0], end, last[2])
            else:
                found.append((start, end, span))
    return found


def _level_parts(profile: Profile, left: int, right: int) -> list[tuple[Point, Point]]:
    """Return the straight parts of a profile between two stations, on whole ticks; steps part them."""
    points = [(x, math.floor(y)) for x, y in along(profile, left, right)]
    return [(a, b) for a, b in zip(points, points[1:], strict=False) if a[0] < b[0]]


def _above(wall: Wall, strip: Polygon, *, sleeves: bool = True) -> list[Polygon]:
    """Return a strip trimmed at the membrane line, with the openings, and the sleeves, that it meets cut out."""
    left, bottom, right, _ = (round(edge) for edge in strip.bounds)
    line = [(x, float(y)) for x, y in along(wall.top, left, right)]
    low = min(bottom, *(y for _, y in line)) - 1
    under = Polygon([*line, (right, low), (left, low)])
    cutouts = [hole_polygon(h) for h in wall.holes if h.left < right and h.right > left]
    cutouts += [round_polygon(r) for r in wall.rounds
                if sleeves and r.x - r.diameter < right and r.x + r.diameter > left]
    return polygons(strip.intersection(under).difference(unary_union(cutouts)))


def _without_shards(shapes: Sequence[Polygon]) -> list[Polygon]:
    """Return a strip's pieces without what a hole parts from a length's end and its neighbour covers."""
    kept = list(shapes)
    for shape in sorted(shapes, key=lambda shape: (shape.area, shape.bounds)):
        if any(other is not shape and other.covers(shape) for other in kept):
            kept.remove(shape)
    return kept


def _too_narrow(job: Job, run: str, needed: int, down: int, spans: Sequence[FaceSpan]) -> RuleException:
    """Return the exception for a strip that does not reach up, across the ledge and down."""
    unit = job.unit
    names = list(dict.fromkeys(span.name for span in spans))
    wide = inches(needed, unit)
    return RuleException(
        "base_strip", run, spans[0].left, needed=needed, found=job.rules.base_strip,
        why=f"run {run}, {_and(names)}: {inches(job.rules.base_strip_up, unit)} up, across the "
            f"{inches(spans[0].ledge, unit)} ledge and {inches(job.rules.base_strip_up, unit)} down needs {wide}; "
            f"the strip is {inches(job.rules.base_strip, unit)} and {_reach(down, unit)}",
        cure=_cure(job, needed),
    )


def _reach(down: int, unit: Unit) -> str:
    if down >= 0:
        return f"goes {inches(down, unit)} down the face"
    return f"stops {inches(-down, unit)} short of the ledge's edge"


def _cure(job: Job, needed: int) -> str:
    """Return what would make a base strip wide enough: a wider strip, two strips, or sheet."""
    wide = inches(needed, job.unit)
    product = strip_product(job)[1]
    cures = [f"set base_strip to {wide} or more"] if needed <= product.width else [f"order a strip {wide} wide or more"]
    both = 2 * job.rules.base_strip - job.rules.side_lap
    if both >= needed:
        cures.append(f"lay two strips lapped {inches(job.rules.side_lap, job.unit)} ({inches(both, job.unit)} in all)")
    if job.strips_from == "strip" and needed <= job.sheet.width:
        count = job.sheet.width // needed
        cures.append(f"rip it from sheet ({count} of {wide} from its width)")
    return ", ".join(cures[:-1]) + (", or " if len(cures) > 1 else "") + cures[-1]


def _and(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]


# --- top-edge strips ---------------------------------------------------------------------------

def top_strips(job: Job, wall: Wall, width: int) -> list[Piece]:
    """Return strips of a width along the membrane line, hanging from it, in stock lengths with end laps.

    Along a sloping line a strip lies in its own frame.
    """
    kind = PieceKind("top strip", wall.run, strip_product(job)[0], job.rules, lying=True)
    made: list[Piece] = []
    for span in wall.faces:
        for (x0, y0), (x1, y1) in _level_parts(wall.top, span.left, span.right):
            if y0 != y1:
                made += _along_slope(job, wall, kind, span, ((x0, y0), (x1, y1)), width, above=0,
                                     tag=f"{wall.run}-TS", number=len(made))
                continue
            parts = stock_lengths(x0, x1, most=stock_length(job), lap=job.rules.end_lap)
            for shape in (shape for a, b in parts for shape in _above(wall, box(a, y0 - width, b, y0))):
                tag = f"{wall.run}-TS{len(made) + 1:02d}"
                made.append(piece(kind, shape, tag=tag, face=span.name, wall=wall, rounds=wall.rounds))
    return made
