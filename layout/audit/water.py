"""5xx: at every seam the upstream drop lies over the downstream one and is hung after it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from layout.audit.asked import AskedRun
from layout.audit.findings import Findings
from layout.audit.laps import Lap
from layout.audit.written import WrittenDrop, WrittenPiece, WrittenSeam

WaterPart = tuple[float, float, str]
"""From, to, and where water goes there: right, left, or both where the job leaves it open."""


def ways(run: AskedRun) -> list[WaterPart]:
    """Return which way water goes along each part of a run; the parts reach once around a closed run and further."""
    if run.drain:
        return _down_slopes(run)
    if run.lows:
        return _to_lows(run)
    length = run.length * (3 if run.closed else 1)
    return [(-run.length if run.closed else 0, length, run.flow or "right")]


def _to_lows(run: AskedRun) -> list[WaterPart]:
    marks = sorted([(x, "low") for x in run.lows] + [(x, "high") for x in run.highs])
    if run.closed:
        marks = [(x + by, kind) for by in (-run.length, 0, run.length, 2 * run.length) for x, kind in marks]
    parts: list[WaterPart] = []
    for (x0, kind0), (x1, kind1) in zip(marks, marks[1:]):
        if kind0 == kind1:
            parts.append((x0, x1, "up and over"))
        else:
            parts.append((x0, x1, "left" if kind0 == "low" else "right"))
    if not run.closed:
        first, last = marks[0], marks[-1]
        parts.insert(0, (0, first[0], "right" if first[1] == "low" else "left"))
        parts.append((last[0], run.length, "left" if last[1] == "low" else "right"))
    return parts


def _down_slopes(run: AskedRun) -> list[WaterPart]:
    points = list(run.drain)
    if run.closed:
        points = [(x + by, y) for by in (-run.length, 0, run.length, 2 * run.length) for x, y in points]
    else:
        points = [(min(0, points[0][0]), points[0][1]), *points, (max(run.length, points[-1][0]), points[-1][1])]
    parts: list[tuple[float, float, str]] = []
    for (x0, y0), (x1, y1) in zip(points, points[1:]):
        if x0 < x1:
            parts.append((x0, x1, "level" if y0 == y1 else "right" if y1 < y0 else "left"))
    sloped = [part for part in parts if part[2] != "level"]
    return [part if part[2] != "level" else (part[0], part[1], _nearest(part, sloped)) for part in parts]


def _nearest(level: WaterPart, sloped: Sequence[WaterPart]) -> str:
    """Return the way of the slope nearest a level stretch; both where two are as near and differ."""
    if not sloped:
        return "both"
    gaps = [(max(left - level[1], level[0] - right, 0), way) for left, right, way in sloped]
    nearest = min(gap for gap, _ in gaps)
    found = {way for gap, way in gaps if gap == nearest}
    return found.pop() if len(found) == 1 else "both"


def allowed(parts: Sequence[WaterPart], left: float, right: float) -> set[str]:
    """Return which drops of a seam may lie over: the upstream one, or either where water parts or meets within it."""
    sides: set[str] = set()
    for x0, x1, way in parts:
        if x0 <= right and x1 >= left:
            sides |= {"right": {"left"}, "left": {"right"}}.get(way, {"left", "right"})
    return sides or {"left", "right"}


def check_water(run: AskedRun, seams: Mapping[Lap, WrittenSeam], book: Findings) -> None:
    """Note every seam whose drop over is downstream."""
    parts = ways(run)
    for lap, seam in seams.items():
        over = "left" if seam.over == seam.left else "right"
        sides = allowed(parts, lap.from_, lap.to)
        if over not in sides:
            book.note(501, f"{seam.left} and {seam.right}, " + book.at(run.name, lap.from_),
                      f"{seam.left if over == 'right' else seam.right} over", f"{seam.over} over")
    _check_summits(run, parts, seams, book)


def _check_summits(run: AskedRun, parts: Sequence[WaterPart], seams: Mapping[Lap, WrittenSeam], book: Findings) -> None:
    """Between two low points with no high point given, the drops rise to one place and fall from it."""
    for left, right, way in parts:
        if way != "up and over":
            continue
        inside = sorted((lap.from_, seam) for lap, seam in seams.items() if left < lap.from_ and lap.to < right)
        falling = False
        for station, seam in inside:
            if seam.over == seam.left:
                falling = True
            elif falling:
                book.note(501, f"{seam.left} and {seam.right}, " + book.at(run.name, station),
                          f"{seam.left} over", f"{seam.over} over")


def check_order(
    run: AskedRun, drops: Sequence[WrittenDrop], pieces: Sequence[WrittenPiece], seams: Mapping[Lap, WrittenSeam],
    book: Findings,
) -> None:
    """Note an order of hanging that does not count up, or that hangs a drop before what it lies over."""
    order = {drop.tag: drop.install for drop in drops}
    numbers = sorted(drop.install for drop in drops)
    if numbers != list(range(1, len(drops) + 1)):
        wrong = sorted(set(range(1, len(drops) + 1)) ^ set(numbers)) or numbers
        book.note(502, f"run {run.name}", f"1 to {len(drops)}, once each", ", ".join(map(str, wrong[:8])))
        return
    for piece in pieces:
        if piece.install != order[piece.drop]:
            book.note(502, f"piece {piece.tag}", str(order[piece.drop]), str(piece.install))
    rings = 0
    for lap, seam in seams.items():
        under = seam.left if seam.over == seam.right else seam.right
        after = order[seam.over] > order[under]
        place = f"{seam.left} and {seam.right}, " + book.at(run.name, lap.from_)
        if not after and not seam.tuck and seam.left != seam.right:
            book.note(503, place, f"{under} hung before {seam.over}", f"{seam.over} hung first")
        if seam.tuck and (after or not run.closed or rings):
            book.note(504, place, "a seam with its drops in order", "tuck")
        rings += seam.tuck
