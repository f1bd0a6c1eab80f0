"""Walls, rounded to whole ticks, to the text of a job file with comments where the drafter must fill in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from layout.job.dump import scalar
from layout.job.trace.joining import OpenLine, Moved
from layout.job.trace.walls import DrawnWall
from layout.records import Corner, Opening, Point, Profile, Side, Sleeve
from layout.units import Unit, round_ticks, tape


@dataclass(frozen=True)
class Usual:
    """What a drawing does not tell: usual values in the unit; the least and most turn-down [ticks]."""

    width: str
    roll: str
    ledge: str
    depth: str
    least: int
    most: int


USUAL = {"in": Usual("36", "66'-8\"", "4", "12", 64, 96), "mm": Usual("1000", "20 m", "100", "300", 102, 150)}
_COLUMN = 39
"""Where comments stand."""
_WIDE = 100


@dataclass(frozen=True)
class FaceDrawn:
    """One face in whole ticks, as far as a drawing, a model or a survey tells it; what is None is not told.

    ``depth`` is the footing's; ``notes`` are comments that stand above the face.
    """

    name: str
    length: int
    top: Profile
    footing: Profile
    grade: Profile | None
    depth: int | None
    openings: tuple[Opening, ...] = ()
    sleeves: tuple[Sleeve, ...] = ()
    ledge: int | None = None
    corner: Corner | None = None
    angle: float | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class RunDrawn:
    """One run as far as it is told; what is None is not."""

    name: str
    faces: tuple[FaceDrawn, ...] = field(default=())
    closed: bool | None = None
    flow: Side | None = None


# --- rounding ----------------------------------------------------------------------------------

class TickGrid:
    """Whole ticks from a corner of a drawing; takes note of how far things are moved."""

    def __init__(self, left: float, datum: float, moved: Moved) -> None:
        self.left, self.datum, self.moved = left, datum, moved

    def whole(self, exact: float) -> int:
        """Return a length in whole ticks."""
        ticks = round_ticks(exact, "nearest")
        self.moved.note(abs(exact - ticks))
        return ticks

    def station(self, x: float) -> int:
        """Return a station from the face's left end."""
        return self.whole(x - self.left)

    def elevation(self, y: float) -> int:
        """Return an elevation."""
        return self.whole(y - self.datum)

    def profile(self, line: OpenLine) -> Profile:
        """Return a profile without points that say nothing."""
        return plain_profile([(self.station(x), self.elevation(y)) for x, y in line])


def plain_profile(points: Sequence[Point]) -> Profile:
    """Return a profile without points on the straight line between their neighbours, and without steps at its ends.

    Examples
    --------
    >>> plain_profile([(0, 5), (3, 5), (6, 5), (6, 8), (6, 9), (9, 9)])
    ((0, 5), (6, 5), (6, 9), (9, 9))
    """
    kept: list[Point] = []
    for point in points:
        while kept and (kept[-1] == point or (len(kept) > 1 and _straight(kept[-2], kept[-1], point))):
            kept.pop()
        kept.append(point)
    if len(kept) > 2 and kept[0][0] == kept[1][0]:
        kept = kept[1:]
    if len(kept) > 2 and kept[-1][0] == kept[-2][0]:
        kept = kept[:-1]
    return tuple(kept)


def _straight(one: Point, two: Point, three: Point) -> bool:
    return (two[0] - one[0]) * (three[1] - two[1]) == (three[0] - two[0]) * (two[1] - one[1])


def face_drawn(wall: DrawnWall, name: str, tags: Sequence[str], *, moved: Moved) -> FaceDrawn:
    """Return a wall in whole ticks.

    Parameters
    ----------
    wall
        The wall, with its footing.
    name
        Its name.
    tags
        Tags of its openings, then of its sleeves.
    moved
        Told how far anything was moved.
    """
    grid = TickGrid(wall.left, wall.datum or 0.0, moved)
    openings: list[Opening] = []
    for outline, tag in zip(wall.openings, tags):
        left, low, right, high = outline.box
        x, y = grid.station(left), grid.elevation(low)
        moved.note(max(min(abs(px - left), abs(px - right), abs(py - low), abs(py - high))
                       for px, py in outline.points), "sides made plumb")
        openings.append(Opening(tag, outline.role, x, y, grid.station(right) - x, grid.elevation(high) - y))
    sleeves = tuple(
        Sleeve(tag, grid.station(disc.centre[0]), grid.elevation(disc.centre[1]), grid.whole(2 * disc.radius))
        for disc, tag in zip(wall.sleeves, tags[len(openings):]))
    return FaceDrawn(
        name=name, length=grid.station(wall.right), top=grid.profile(wall.top),
        footing=grid.profile(wall.bottom or wall.top), grade=grid.profile(wall.grade) if wall.grade else None,
        depth=grid.whole(wall.depth) if wall.depth is not None else None, openings=tuple(openings), sleeves=sleeves)


# --- text --------------------------------------------------------------------------------------

def job_text(runs: Sequence[RunDrawn], *, name: str, source: str, unit: Unit, what: str = "A drawing") -> str:
    """Return the text of a job file.

    Parameters
    ----------
    runs
        The walls.
    name
        Name of the job.
    source
        Name of the file the walls come from, for the heading.
    unit
        The job's unit.
    what
        What kind of file that is, such as ``A drawing``.
    """
    usual = USUAL[unit.name]
    depths = [face.depth for run in runs for face in run.faces if face.depth is not None]
    most = min([*depths, usual.most])
    least = min(usual.least, most)
    lines = [
        f"# Traced from {source}.",
        f"# {what} of the walls does not tell everything. FILL IN marks what stands here with a usual value and must",
        "# be made right before planning: the rolls, the water, the ledge and the corners where they are marked. What",
        "# every key means: lapwright new FILE.yaml writes a job with all of them explained.",
        "",
        f"job: {{name: {scalar(name)}}}",
        "",
        f"units: {unit.name}",
        "",
        "sheet:",
        _noted("  name: self-adhering sheet", "FILL IN"),
        f"  width: {usual.width}",
        "  rolls:",
        _noted(f"    - {{length: {usual.roll}}}", "FILL IN: every length you can buy; price: and weight_lb: too"),
        "",
        "rules:",
        _noted(f"  turn_down: [{tape(least, unit)}, {tape(most, unit)}]", "down the footing's face: [least, most]"),
        "",
        "runs:",
    ]
    for run in runs:
        lines += _run(run, unit)
    return "\n".join(lines) + "\n"


def _noted(words: str, note: str) -> str:
    """Return a line with a comment after it."""
    return f"{words:<{_COLUMN}}# {note}"


def _run(run: RunDrawn, unit: Unit) -> list[str]:
    closed = "true" if run.closed else "false"
    lines = [
        f"  - name: {scalar(run.name)}",
        _noted(f"    closed: {closed}", "FILL IN: true when the last face meets the first") if run.closed is None
        else f"    closed: {closed}",
        _noted("    flow: right", "FILL IN: where water runs along the footing, seen from the soil side")
        if run.flow is None else f"    flow: {run.flow}",
        "    faces:",
    ]
    for face in run.faces:
        lines += _face(face, unit, last=face is run.faces[-1] and not run.closed)
    return lines


def _face(face: FaceDrawn, unit: Unit, *, last: bool) -> list[str]:
    usual = USUAL[unit.name]
    lines = [
        *(f"      # {note}" for note in face.notes),
        f"      - name: {scalar(face.name)}",
        f"        length: {tape(face.length, unit)}",
        *_profile("top", face.top, unit),
        *_profile("footing", face.footing, unit),
        _noted(f"        ledge: {usual.ledge}", "FILL IN: how far the footing projects past the wall")
        if face.ledge is None else f"        ledge: {tape(face.ledge, unit)}",
    ]
    if face.depth is not None:
        lines.append(f"        footing_depth: {tape(face.depth, unit)}")
    else:
        lines.append(_noted(f"        footing_depth: {usual.depth}", "FILL IN: height of the footing's outer face"))
    if face.grade is not None:
        lines += _profile("grade", face.grade, unit)
    if face.corner is None:
        lines.append(_noted(f"        corner: {'none' if last else 'outside'}", "FILL IN: outside, inside or none"))
    else:
        lines.append(f"        corner: {face.corner}")
        if face.corner != "none" and face.angle not in (None, 90.0):
            lines.append(f"        angle: {face.angle:g}")
    if face.openings:
        lines.append("        openings:")
        for opening in face.openings:
            sizes = ", ".join(f"{key}: {tape(getattr(opening, key), unit)}"
                              for key in ("left", "sill", "width", "height"))
            lines.append(f"          - {{tag: {scalar(opening.tag)}, kind: {opening.kind}, {sizes}}}")
    if face.sleeves:
        lines.append("        sleeves:")
        for sleeve in face.sleeves:
            sizes = ", ".join(f"{key}: {tape(getattr(sleeve, key), unit)}" for key in ("at", "elevation", "diameter"))
            lines.append(f"          - {{tag: {scalar(sleeve.tag)}, {sizes}}}")
    return lines


def _profile(key: str, profile: Profile, unit: Unit) -> list[str]:
    """Return a profile: one elevation, or points on as many lines as they need."""
    if len({level for _, level in profile}) == 1:
        return [f"        {key}: {tape(profile[0][1], unit)}"]
    rows = [""]
    for x, y in profile:
        point = f"[{tape(x, unit)}, {tape(y, unit)}]"
        if rows[-1] and len(rows[-1]) + len(point) > _WIDE:
            rows.append("")
        rows[-1] += (", " if rows[-1] else "") + point
    if len(rows) == 1:
        return [f"        {key}: [{rows[0]}]"]
    return [f"        {key}: [", *(f"          {row}," for row in rows), "        ]"]
