"""What cannot well be meant: sizes that no foundation has, walls drawn lower on the page. Where elevation 0 is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from layout.errors import Fault
from layout.job.trace.document import DRAWING_UNITS
from layout.job.trace.drawn import DrawnPolyline
from layout.job.trace.joining import SLACK
from layout.job.trace.outlines import level_at
from layout.job.trace.walls import WallRow, Stand, DrawnWall
from layout.job.trace.write import FaceDrawn, RunDrawn
from layout.units import Unit, round_ticks, tape

LOWEST = {"in": 3 * 192, "mm": 900}
HIGHEST = {"in": 40 * 192, "mm": 12_200}
SHORTEST = {"in": 36 * 16, "mm": 1000}
WIDEST_OPENING = {"in": 12 * 192, "mm": 3660}
WIDEST_SLEEVE = {"in": 4 * 192, "mm": 1220}
"""Sizes beyond which the unit is doubted [ticks]: common practice. SHORTEST is the usual width of a sheet."""
_MM = {"in": 25.4 / 16, "mm": 1.0}
LONGEST = 150_000.0
"""Longest wall that another unit would be proposed for [mm]."""
_SHOWN = 8
"""Most sizes told one by one."""


def check_sizes(stand: Stand, unit: Unit, scale: float) -> None:
    """Tell the sizes that no foundation has, with the unit in which they would be plausible.

    Parameters
    ----------
    stand
        The walls with their footings, openings and sleeves; faults are put there.
    unit
        The job's unit.
    scale
        Ticks in one drawing unit.
    """
    odd = list(_odd(stand, unit))
    hint = f"{_likely(stand, unit, scale)}--accept-size goes on with the sizes as they are"
    for place_of, what, size in odd[:_SHOWN]:
        stand.faults.append(place_of.place.fault(what, got=tape(round_ticks(size, "nearest"), unit), hint=hint))
    if len(odd) > _SHOWN:
        stand.faults.append(Fault(0, "", f"has {len(odd) - _SHOWN} more sizes that no foundation has", hint=hint))


def _odd(stand: Stand, unit: Unit) -> Iterator[tuple[DrawnWall | DrawnPolyline, str, float]]:
    name = unit.name
    for wall in stand.walls:
        if wall.own is not None:
            continue
        height = height_of(wall)
        if height < LOWEST[name] - SLACK:
            yield wall, f"must be a wall at least {tape(LOWEST[name], unit)} high", height
        elif height > HIGHEST[name] + SLACK:
            yield wall, f"must be a wall at most {tape(HIGHEST[name], unit)} high", height
        elif wall.right - wall.left < SHORTEST[name] - SLACK:
            yield wall, f"must be a wall at least as long as a sheet is wide, {tape(SHORTEST[name], unit)}", \
                wall.right - wall.left
        for opening in wall.openings:
            left, bottom, right, top = opening.box
            if max(right - left, top - bottom) > WIDEST_OPENING[name] + SLACK:
                yield opening, f"must be an opening at most {tape(WIDEST_OPENING[name], unit)} across", \
                    max(right - left, top - bottom)
        for sleeve in wall.sleeves:
            if 2 * sleeve.radius > WIDEST_SLEEVE[name] + SLACK:
                yield DrawnPolyline("sleeve", sleeve.place, (sleeve.centre,)), \
                    f"must be a sleeve at most {tape(WIDEST_SLEEVE[name], unit)} across", 2 * sleeve.radius


def odd_faces(runs: Sequence[RunDrawn], unit: Unit) -> Iterator[tuple[RunDrawn, FaceDrawn, str, str]]:
    """Yield faces in whole ticks whose sizes no foundation has: run, face, the rule, and what was got."""
    name = unit.name
    for run in runs:
        for face in run.faces:
            highest = max(y for _, y in face.top) - min(y for _, y in face.footing)
            if not LOWEST[name] <= highest <= HIGHEST[name]:
                yield (run, face, f"must be a wall from {tape(LOWEST[name], unit)} to {tape(HIGHEST[name], unit)} high",
                       tape(highest, unit))
            if face.length < SHORTEST[name]:
                yield run, face, f"must be a wall at least as long as a sheet is wide, {tape(SHORTEST[name], unit)}", \
                    tape(face.length, unit)
            for opening in face.openings:
                if max(opening.width, opening.height) > WIDEST_OPENING[name]:
                    yield run, face, f"must have openings at most {tape(WIDEST_OPENING[name], unit)} across", \
                        f"{opening.tag}, {tape(max(opening.width, opening.height), unit)}"
            for sleeve in face.sleeves:
                if sleeve.diameter > WIDEST_SLEEVE[name]:
                    yield run, face, f"must have sleeves at most {tape(WIDEST_SLEEVE[name], unit)} across", \
                        f"{sleeve.tag}, {tape(sleeve.diameter, unit)}"


def height_of(wall: DrawnWall) -> float:
    """Return the greatest height of a wall over its footing, about [ticks]."""
    bottom = wall.bottom or wall.top
    return max(max(y for _, y in wall.top) - level_at(bottom, (wall.left + wall.right) / 2, from_right=True),
               max(level_at(wall.top, x, from_right=side) - level_at(bottom, x, from_right=side)
                   for x, _ in (*wall.top, *bottom) for side in (True, False)))


def _likely(stand: Stand, unit: Unit, scale: float) -> str:
    """Return the units in which every wall would be plausible, as a hint."""
    walls = [wall for wall in stand.walls if wall.own is None]
    now = scale * _MM[unit.name]
    found: list[str] = []
    for name, (system, ticks) in DRAWING_UNITS.items():
        factor = ticks * _MM[system] / now * _MM[unit.name]
        if abs(factor - _MM[unit.name]) < 1e-9 or not walls:
            continue
        heights = [height_of(wall) * factor for wall in walls]
        lengths = [(wall.right - wall.left) * factor for wall in walls]
        if min(heights) >= 900 and max(heights) <= 12_200 and min(lengths) >= 900 and max(lengths) <= LONGEST:
            found.append(f"--unit {name}")
    return f"is it drawn in another unit? say {' or '.join(found)}; " if found else ""


# --- heights -----------------------------------------------------------------------------------

def put_datums(stand: Stand, chains: Sequence[DrawnPolyline], told: Sequence[float], *, drawn: bool) -> None:
    """Set elevation 0 of each wall: the datum that is told or drawn for it or its row, else the row's lowest footing.

    Parameters
    ----------
    stand
        The walls with their footings; faults are put there.
    chains
        Level lines on layers for datums.
    told
        Heights of elevation 0 on the page, one for all rows or one a row from the top [ticks].
    drawn
        The drafter says that all heights of a row are drawn as they are built.
    """
    lines: dict[int, list[DrawnPolyline]] = {}
    for chain in chains:
        _, low, _, high = chain.box
        if chain.closed or high - low > SLACK:
            stand.faults.append(chain.place.fault("must be a level line"))
            continue
        row = min(stand.rows, key=lambda row: max(row.low - low, low - row.high, 0.0), default=None)
        if row is not None:
            lines.setdefault(id(row), []).append(chain)
    if told and len(told) not in (1, len(stand.rows)):
        stand.faults.append(Fault(0, "--datum", f"must be one height, or one for each of the {len(stand.rows)} rows of "
                                  "walls from the top", str(len(told))))
        told = ()
    for number, row in enumerate(stand.rows):
        row.given = drawn
        if told:
            row.given = True
            for wall in row.walls:
                wall.datum = told[number if len(told) > 1 else 0]
        elif id(row) in lines:
            row.given = True
            _by_lines(stand, row, lines[id(row)])
        lowest = min((y for wall in row.walls for _, y in wall.bottom or wall.top), default=0.0)
        for wall in row.walls:
            wall.datum = lowest if wall.datum is None else wall.datum


def _by_lines(stand: Stand, row: WallRow, lines: Sequence[DrawnPolyline]) -> None:
    """Give each wall of a row the datum drawn across most of it, or the one that is drawn for the whole row."""
    levels = [((line.box[1] + line.box[3]) / 2, line) for line in lines]
    one_level = max(y for y, _ in levels) - min(y for y, _ in levels) <= SLACK
    for wall in row.walls:
        mine = [(y, line) for y, line in levels
                if 2 * (min(wall.right, line.box[2]) - max(wall.left, line.box[0])) > wall.right - wall.left]
        if not mine and one_level:
            mine = levels[:1]
        if not mine:
            stand.faults.append(wall.place.fault("must have a datum of its own, as its neighbours have"))
        elif max(y for y, _ in mine) - min(y for y, _ in mine) > SLACK:
            stand.faults.append(mine[1][1].place.fault("must be the only datum of its wall or row of walls"))
        else:
            wall.datum = mine[0][0]


def check_jumps(stand: Stand, unit: Unit) -> None:
    """Tell neighbours whose tops and footings all jump by one step: drawn lower on the page, or built so?"""
    for row in stand.rows:
        if row.given:
            continue
        for before, wall in zip(row.walls, row.walls[1:]):
            if before.own is not None and wall.own is not None:
                continue
            top = wall.top[0][1] - before.top[-1][1]
            foot = (wall.bottom or wall.top)[0][1] - (before.bottom or before.top)[-1][1]
            if abs(top) > SLACK and abs(top - foot) <= SLACK:
                step = tape(round_ticks(abs(top), "nearest"), unit)
                way = "lower" if top < 0 else "higher"
                stand.faults.append(wall.place.fault(
                    f"must not stand {step} {way}, top and footing alike, than the wall before it", got="",
                    hint="was it only drawn there on the page? draw both at one height or a DATUM line under each; if "
                    "it is built so, say --datum drawn"))
