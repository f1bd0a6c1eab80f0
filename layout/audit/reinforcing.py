"""6xx: pieces hold their outlines, and every corner, joint, sleeve and step has its reinforcing piece."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from shapely.geometry import Polygon, box

from layout.audit.asked import Asked, AskedFace, AskedRun
from layout.audit.coverage import FIELD, HungLayer, ShapeIndex, window
from layout.audit.findings import Findings
from layout.audit.walls import parts, shifted, toe
from layout.audit.written import Written, WrittenPiece

LYING = ("base strip", "top strip")


def check_rectangles(plan: Written, asked: Asked, book: Findings) -> None:
    """Note pieces whose length or width is not that of their outline with the allowance."""
    step, allowance = asked.rules["cut_to"], asked.rules["cut_allowance"]
    for piece in plan.pieces:
        xs, ys = [x for x, _ in piece.ring], [y for _, y in piece.ring]
        across, down = max(xs) - min(xs), max(ys) - min(ys)
        if piece.kind in LYING:
            across, down = down, across
        if piece.kind == "sleeve patch" and sorted((across, down)) <= sorted((piece.width, piece.length)):
            if max(across, down) <= max(piece.width, piece.length):
                continue  # cut before it is known where its slit lies, and trimmed to it
        length = math.ceil((down + allowance) / step) * step
        if (length, across) != (piece.length, piece.width):
            book.note(601, f"piece {piece.tag}", f"{book.say_length(length)} by {book.say_length(across)}",
                      f"{book.say_length(piece.length)} by {book.say_length(piece.width)}")


def check_faces(plan: Written, asked: Asked, book: Findings) -> None:
    """Note pieces that say they hang on a face where they do not."""
    runs = {run.name: run for run in asked.runs}
    drops = {drop.tag: (drop.left, drop.right) for drop in plan.drops}
    widest = max(stock.width for stock in asked.stock[FIELD])
    for piece in plan.pieces:
        run = runs[piece.run]
        face = next((face for face in run.faces if face.name == piece.face), None)
        xs = drops.get(piece.drop) or [x for x, _ in piece.ring]
        turns = (0, run.length, -run.length) if run.closed else (0,)
        # a part of a collar or a corner strip goes with its face though it may lie around the corner
        near = widest if piece.kind in ("collar", "opening corner", "corner strip") else 0
        if face is None or (piece.flat and not any(
            min(xs) <= face.right + near + by and max(xs) >= face.left - near + by for by in turns
        )):
            book.note(609, f"piece {piece.tag}", "a face it lies on", piece.face)


def check_reinforcing(plan: Written, asked: Asked, hung: Sequence[HungLayer], book: Findings) -> None:
    """Note every place of every run that lacks its reinforcing piece."""
    of_kind: dict[tuple[str, str], list[WrittenPiece]] = {}
    for piece in plan.pieces:
        if piece.layer == FIELD:
            of_kind.setdefault((piece.run, piece.kind), []).append(piece)
    for one in hung:
        _check_narrow_strips(plan, one.run, asked, book)
        _check_corner_strips(one, of_kind.get((one.run.name, "corner strip"), ()), asked, book)
        _check_base_strips(one, of_kind.get((one.run.name, "base strip"), ()), asked, book)
        _check_collars(one, of_kind.get((one.run.name, "collar"), ()), asked, book)


def corners_of(run: AskedRun) -> list[tuple[AskedFace, AskedFace]]:
    """Return the faces on both sides of each corner of a run, left to right."""
    pairs = list(zip(run.faces, [*run.faces[1:], run.faces[0]]))
    return [(face, after) for face, after in (pairs if run.closed else pairs[:-1]) if face.corner != "none"]


def _check_narrow_strips(plan: Written, run: AskedRun, asked: Asked, book: Findings) -> None:
    """Hold the base strips that are too narrow for their ledge against the exceptions, both ways."""
    width = asked.rules["base_strip"]
    short: dict[tuple[int, int], float] = {}
    for face in run.faces if width else ():
        needed = math.ceil(round(2 * asked.rules["base_strip_up"] + _across(face, asked), 6))
        if needed > width:
            short.setdefault((needed, width), face.left)
    listed = [(item.rule, item.needed, item.found) for item in plan.exceptions
              if item.run == run.name and item.rule in ("base_strip", "corner_strip")]
    for (needed, found), station in short.items():
        if ("base_strip", needed, found) not in listed:
            book.note(607, "base_strip, " + book.at(run.name, station), needed, found)
    for rule, needed, found in listed:
        if rule != "base_strip" or (needed, found) not in short:
            book.note(402, f"{rule}, run {run.name}", "a strip too narrow for its place", "none")


def _across(face: AskedFace, asked: Asked) -> float:
    """Return the developed width of the ledge, the fillet's saving taken off [ticks]."""
    return toe(face, turn_down=0, fillet=asked.rules["fillet"])


def _check_corner_strips(hung: HungLayer, pieces: Sequence[WrittenPiece], asked: Asked, book: Findings) -> None:
    width = asked.rules["corner_strip"]
    if not width:
        return
    walls, sheets = hung.walls, ShapeIndex(shifted(_flat_shapes(pieces), hung.run))
    for face, _ in corners_of(hung.run):
        stripe = window(face.right - width // 2, face.right - width // 2 + width)
        for bare in parts(walls.within(stripe).difference(sheets.all_near(stripe)))[:1]:
            book.note(602, book.at(hung.run.name, face.right, bare.centroid.y),
                      f"a strip {book.say_length(width)} wide",
                      f"{book.say_length(bare.bounds[3] - bare.bounds[1])} bare")


def _flat_shapes(pieces: Sequence[WrittenPiece]) -> list[Polygon]:
    return [piece.shape for piece in pieces if piece.flat]


def _check_base_strips(hung: HungLayer, pieces: Sequence[WrittenPiece], asked: Asked, book: Findings) -> None:
    """Strips on level stretches cover the joint up and down; sloping ones are long enough in sum."""
    width = asked.rules["base_strip"]
    if not width:
        return
    sheets = ShapeIndex(_flat_shapes(pieces))
    run, up = hung.run, asked.rules["base_strip_up"]
    for face, wall in hung.needed:
        down = min(_across(face, asked) + up, width - up)
        for (x0, y0), (x1, y1) in pairwise(face.footing):
            if x0 == x1 or y0 != y1:
                continue
            needed = wall.intersection(box(x0, y0 - down, x1, y0 + up))
            for bare in parts(needed.difference(sheets.all_near(needed)))[:1]:
                book.note(603, book.at(run.name, bare.centroid.x, bare.centroid.y), "a strip along the joint", "none")
        slope = sum(math.hypot(x1 - x0, y1 - y0) for (x0, y0), (x1, y1) in pairwise(face.footing)
                    if x0 != x1 and y0 != y1)
        found = sum(piece.length for piece in pieces if not piece.flat and piece.face == face.name)
        if found < slope:
            book.note(603, f"run {run.name}, face {face.name}", slope, found)
    _check_strip_laps(run, pieces, asked, book)


def _check_strip_laps(run: AskedRun, pieces: Sequence[WrittenPiece], asked: Asked, book: Findings) -> None:
    """Note level strips at one height that lap too little, or butt where the joint goes on straight."""
    ends = {x for face in run.faces for x, _ in face.footing}
    ends |= {x for face in run.faces for opening in face.openings for x in (opening.left, opening.right)}
    spans = sorted((max(y for _, y in piece.ring), min(x for x, _ in piece.ring), max(x for x, _ in piece.ring))
                   for piece in pieces if piece.flat)
    for (top, _, end), (other, start, _) in pairwise(spans):
        if top == other and 0 <= end - start < asked.rules["end_lap"] and not (end == start and end in ends):
            book.note(603, book.at(run.name, start), asked.rules["end_lap"], end - start)


def _check_collars(hung: HungLayer, pieces: Sequence[WrittenPiece], asked: Asked, book: Findings) -> None:
    reach = asked.rules["collar_reach"]
    if not reach:
        return
    walls, sheets = hung.walls, ShapeIndex(shifted(_flat_shapes(pieces), hung.run))
    for face in hung.run.faces:
        for sleeve in face.sleeves:
            half = sleeve.diameter / 2 + reach
            square = box(sleeve.x - half, sleeve.y - half, sleeve.x + half, sleeve.y + half)
            if parts(walls.within(square).difference(sheets.all_near(square))):
                book.note(604, f"sleeve {sleeve.tag}, " + book.at(hung.run.name, sleeve.x, sleeve.y),
                          f"a collar {book.say_length(2 * half)} square",
                          "one too small" if sheets.to(square) else "none")
