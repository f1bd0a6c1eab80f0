"""6xx: pieces hold their outlines, and every corner, joint, sleeve and step has its reinforcing piece."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from shapely.geometry import Polygon, box
from shapely.ops import unary_union

from layout.audit.asked import Asked, Face, Run
from layout.audit.coverage import FIELD, window
from layout.audit.findings import Book
from layout.audit.walls import must, parts, shifted, toe
from layout.audit.written import Written, WrittenPiece, WrittenRun

LYING = ("base strip", "top strip")


def check_rectangles(plan: Written, asked: Asked, book: Book) -> None:
    """Note pieces whose length or width is not that of their outline with the allowance, and sheets too wide."""
    step, allowance = asked.rules["cut_to"], asked.rules["cut_allowance"]
    widest = {name: max((stock.width for stock in (*asked.stock[name], *asked.remnants[name])), default=None)
              for name in asked.stock}
    for piece in plan.pieces:
        xs, ys = [x for x, _ in piece.ring], [y for _, y in piece.ring]
        across, down = max(xs) - min(xs), max(ys) - min(ys)
        if piece.kind in LYING:
            across, down = down, across
        length = math.ceil((down + allowance) / step) * step
        if (length, across) != (piece.length, piece.width):
            book.note(601, f"piece {piece.tag}", f"{book.say_length(length)} by {book.say_length(across)}",
                      f"{book.say_length(piece.length)} by {book.say_length(piece.width)}")
        most = widest.get(piece.product)
        if most is not None and piece.kind == "drop" and piece.width > most:
            book.note(608, f"piece {piece.tag}", most, piece.width)


def check_reinforcing(plan: Written, asked: Asked, book: Book) -> None:
    """Note every place of every run that lacks its reinforcing piece."""
    of_kind: dict[tuple[str, str], list[WrittenPiece]] = {}
    for piece in plan.pieces:
        if piece.layer == FIELD:
            of_kind.setdefault((piece.run, piece.kind), []).append(piece)
    for run, written in zip(asked.runs, plan.runs, strict=True):
        def pieces(kind: str) -> list[WrittenPiece]:
            return of_kind.get((run.name, kind), [])

        _check_corner_strips(plan, run, written, pieces("corner strip"), asked, book)
        _check_base_strips(plan, run, pieces("base strip"), asked, book)
        _check_collars(run, written, pieces("collar"), asked, book)
        _check_footing_covers(run, written, pieces("footing cover"), asked, book)
        _check_riser_covers(run, written, pieces("riser cover"), asked, book)


def corners_of(run: Run) -> list[tuple[Face, Face]]:
    """Return the faces on both sides of each corner of a run, left to right."""
    pairs = list(zip(run.faces, [*run.faces[1:], run.faces[0]]))
    return [(face, after) for face, after in (pairs if run.closed else pairs[:-1]) if face.corner != "none"]


def _check_corner_strips(
    plan: Written, run: Run, written: WrittenRun, pieces: Sequence[WrittenPiece], asked: Asked, book: Book,
) -> None:
    width = asked.rules["corner_strip"]
    if not width:
        return
    excused = [item.found for item in plan.exceptions if item.rule == "corner_strip" and item.run == run.name]
    width = min([width, *excused])
    walls = shifted([shape for _, shape in must(run, asked, written.turn_down)], run)
    sheets = shifted([Polygon(piece.ring, piece.holes) for piece in pieces if piece.flat], run)
    for face, _ in corners_of(run):
        stripe = window(face.right - width // 2, face.right - width // 2 + width)
        needed = unary_union([wall.intersection(stripe) for wall in walls])
        near = [sheet for sheet in sheets if sheet.intersects(stripe)]
        bare = parts(needed.difference(unary_union(near)))
        if bare:
            book.note(602, book.at(run.name, face.right, bare[0].centroid.y), f"a strip {book.say_length(width)} wide",
                      "none there" if not near else f"{book.say_length(bare[0].bounds[3] - bare[0].bounds[1])} bare")


def _check_base_strips(
    plan: Written, run: Run, pieces: Sequence[WrittenPiece], asked: Asked, book: Book,
) -> None:
    """Strips on level stretches cover the joint end to end with laps; sloping ones are long enough in sum."""
    width = asked.rules["base_strip"]
    if not width:
        return
    up = asked.rules["base_strip_up"]
    excused = [item for item in plan.exceptions if item.rule == "base_strip" and item.run == run.name]
    for face in run.faces:
        flat = toe(face, turn_down=0, fillet=asked.rules["fillet"])
        needed = 2 * up + flat
        told = any(item.needed >= needed - 1e-6 for item in excused)
        if needed > width + 1e-6 and not told:
            book.note(607, f"run {run.name}, face {face.name}", math.ceil(needed), width)
    for face in run.faces:
        _check_joint(face, run, pieces, asked, book)


def _check_joint(face: Face, run: Run, pieces: Sequence[WrittenPiece], asked: Asked, book: Book) -> None:
    flat = toe(face, turn_down=0, fillet=asked.rules["fillet"])
    up = asked.rules["base_strip_up"]
    for (x0, y0), (x1, y1) in pairwise(face.footing):
        if x0 == x1 or y0 != y1:
            continue
        strips = sorted((piece for piece in pieces if piece.flat and _lies_on(piece, y0)), key=lambda p: min(p.ring))
        spans = [(min(x for x, _ in s.ring), max(x for x, _ in s.ring), s) for s in strips]
        spans = [span for span in spans if span[1] > x0 and span[0] < x1]
        reach = x0
        for left, right, strip in sorted(spans, key=lambda span: span[:2]):
            lap = reach - left
            if lap < (0 if reach == x0 else asked.rules["end_lap"]):
                break
            reach = max(reach, right)
        if reach < x1:
            book.note(603, book.at(run.name, reach, y0), "a strip along the joint, its ends lapped", "none there")
        for left, right, strip in spans:
            high = max(y for _, y in strip.ring) - y0
            low = y0 - min(y for _, y in strip.ring)
            wanted = min(asked.rules["base_strip"], math.ceil(2 * up + flat))
            if high + low < wanted:
                book.note(603, f"piece {strip.tag}", wanted, high + low)


def _lies_on(piece: WrittenPiece, y: float) -> bool:
    return min(level for _, level in piece.ring) < y <= max(level for _, level in piece.ring)


def _check_collars(
    run: Run, written: WrittenRun, pieces: Sequence[WrittenPiece], asked: Asked, book: Book,
) -> None:
    reach = asked.rules["collar_reach"]
    if not reach:
        return
    walls = {face: shape for face, shape in must(run, asked, written.turn_down)}
    everything = shifted(walls.values(), run)
    sheets = shifted([Polygon(piece.ring, piece.holes) for piece in pieces if piece.flat], run)
    for face in run.faces:
        for sleeve in face.sleeves:
            half = sleeve.diameter / 2 + reach
            square = box(sleeve.x - half, sleeve.y - half, sleeve.x + half, sleeve.y + half)
            needed = unary_union([wall.intersection(square) for wall in everything])
            near = [sheet for sheet in sheets if sheet.intersects(square)]
            bare = parts(needed.difference(unary_union(near)))
            if bare:
                book.note(604, f"sleeve {sleeve.tag}, " + book.at(run.name, sleeve.x, sleeve.y),
                          f"a collar {book.say_length(2 * half)} square", "none" if not near else "one too small")


def _check_footing_covers(
    run: Run, written: WrittenRun, pieces: Sequence[WrittenPiece], asked: Asked, book: Book,
) -> None:
    """Each outside corner has covers of at least the open area: the ledge's corner and both faces below it."""
    for face, after in corners_of(run):
        if face.corner != "outside" or not (face.ledge or after.ledge):
            continue
        open_area = open_corner(face, after, turn_down=written.turn_down)
        found = sum(Polygon(piece.ring).area for piece in pieces if piece.face == face.name)
        if found < open_area:
            book.note(605, book.at(run.name, face.right), f"a cover of {open_area:.0f} square ticks or more",
                      f"{found:.0f}")


def open_corner(face: Face, after: Face, *, turn_down: float) -> float:
    """Return the area that flat drops leave open at an outside footing corner [square ticks].

    The ledge's corner is a kite whose sides past each wall are (p2 - p1 cos t) / sin t and the other way round; the
    faces below it are those sides by the turn-down. At 90 degrees with one ledge: p squared and 2 p d.
    """
    turn = math.radians(face.angle)
    p, q = face.ledge, after.ledge
    past = (q - p * math.cos(turn)) / math.sin(turn)
    beyond = (p - q * math.cos(turn)) / math.sin(turn)
    return (p * max(past, 0) + q * max(beyond, 0)) / 2 + turn_down * (max(past, 0) + max(beyond, 0))


def _check_riser_covers(
    run: Run, written: WrittenRun, pieces: Sequence[WrittenPiece], asked: Asked, book: Book,
) -> None:
    """Each footing step has covers large enough for the riser, around the footing's edge, and laps."""
    lap = asked.rules["side_lap"]
    risers = _risers(run)
    for face in run.faces:
        steps = len(risers[face.name])
        needed = sum((lap + face.ledge + written.turn_down) * (height + 2 * lap) for height in risers[face.name])
        found = sum(Polygon(piece.ring).area for piece in pieces if piece.face == face.name)
        if found < needed:
            book.note(606, f"run {run.name}, face {face.name}", f"covers for {steps} risers",
                      f"{found:.0f} square ticks")


def _risers(run: Run) -> dict[str, list[float]]:
    """Return the heights of the footing's steps that stand out from the wall, by the name of the upper face."""
    found: dict[str, list[float]] = {face.name: [] for face in run.faces}
    for face in run.faces:
        if face.ledge:
            found[face.name] += [abs(y1 - y0) for (x0, y0), (x1, y1) in pairwise(face.footing) if x0 == x1]
    joints = list(zip(run.faces, [*run.faces[1:], run.faces[0]]))
    for face, after in joints if run.closed else joints[:-1]:
        here, there = face.footing[-1][1], after.footing[0][1]
        upper = face if here > there else after
        if here != there and upper.ledge:
            found[upper.name].append(abs(here - there))
    return found
