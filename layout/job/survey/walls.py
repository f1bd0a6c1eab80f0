"""The lines of a survey to runs of faces; corners and lengths from eastings and northings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from layout.errors import Fault
from layout.job.survey.table import SurveyLine, SurveyTable
from layout.job.trace.write import FaceDrawn, RunDrawn, plain_profile
from layout.job.turns import corner_of, turn_between
from layout.records import Corner, Profile
from layout.units import Rounding, Unit, round_ticks, tape

OFF_LINE = {"in": 16, "mm": 25}
"""How far a point of a face may lie off the line between its ends, and the end of one face from the start of the next
[ticks]."""
Names = tuple[str, str]


def runs_of(table: SurveyTable, faults: list[Fault]) -> tuple[list[RunDrawn], list[str], dict[Names, int]]:
    """Return the runs of a survey, what there is to say of them, and the line each face starts on.

    Parameters
    ----------
    table
        The survey.
    faults
        What is wrong is put here.
    """
    groups: dict[str, dict[str, list[SurveyLine]]] = {}
    last: Names = ("", "")
    for line in table.lines:
        faces = groups.setdefault(line.run, {})
        if line.face in faces and last != (line.run, line.face):
            faults.append(Fault(line.number, "face", "must have all its lines together", line.face))
        faces.setdefault(line.face, []).append(line)
        last = (line.run, line.face)
    starts = {(run, face): lines[0].number for run, faces in groups.items() for face, lines in faces.items()}
    told: list[str] = []
    runs: list[RunDrawn] = []
    for name, faces in groups.items():
        known = len(faults)
        if "easting" in table.columns:
            made = _by_coordinates(name, faces, table, faults, told)
        else:
            made = _by_stations(name, faces, table, faults)
        if len(faults) == known:
            runs.append(made)
    rest = "rolls, ledges, footing depths, flow" if "easting" in table.columns else \
        "rolls, ledges, footing depths, corners, flow"
    told.append(f"not in a survey, and filled in with usual values: {rest}; look for FILL IN")
    return runs, told, starts


# --- stations ----------------------------------------------------------------------------------

def _by_stations(name: str, faces: dict[str, list[SurveyLine]], table: SurveyTable, faults: list[Fault]) -> RunDrawn:
    """Return a run whose faces are measured along it, each from 0 or on from the face before."""
    made: list[FaceDrawn] = []
    at: Fraction | None = None
    for face, lines in faces.items():
        stations = [line.at["station"] for line in lines]
        if at is not None and stations[0] != 0 and abs(stations[0] - at) > OFF_LINE[table.unit.name]:
            faults.append(Fault(lines[0].number, "station", "must be 0, or go on where the face before it ends, at "
                                f"{tape(round_ticks(at, 'nearest'), table.unit)}",
                                tape(round_ticks(stations[0], "nearest"), table.unit)))
        at = stations[-1]
        made.append(_face(face, lines, [station - stations[0] for station in stations], table, faults))
    return RunDrawn(name, tuple(made))


def _face(
    name: str, lines: Sequence[SurveyLine], stations: Sequence[Fraction], table: SurveyTable, faults: list[Fault], *,
    corner: Corner | None = None, angle: float | None = None,
) -> FaceDrawn:
    """Return a face; faults of its stations and levels are told with their lines."""
    length = round_ticks(stations[-1], "nearest")
    if length <= 0:
        faults.append(Fault(lines[-1].number, name, "must have two stations, the second after the first"))
    for line, before, station in zip(lines[1:], stations, stations[1:]):
        if station < before:
            faults.append(Fault(line.number, name, "must have stations that do not fall, from left to right as seen "
                                "from the soil side"))
    ways: dict[str, Rounding] = {"top": "up", "footing": "down", "grade": "up"}
    profiles: dict[str, Profile] = {}
    for level, toward in ways.items():
        points = [(round_ticks(station, "nearest"), round_ticks(line.at[level], toward))
                  for line, station in zip(lines, stations) if level in line.at]
        if level == "grade" and not points:
            continue
        ends = {stations[0]: False, stations[-1]: False}
        for line, station in zip(lines, stations):
            if level in line.at and station in ends:
                ends[station] = True
        for line, station in ((lines[0], stations[0]), (lines[-1], stations[-1])):
            if not ends[station]:
                faults.append(Fault(line.number, level, "must be given at the first and the last station of a face"))
        profiles[level] = plain_profile(points) if points else ((0, 0), (1, 0))
        if len(points) > 1 and (points[0][0] == points[1][0] or points[-1][0] == points[-2][0]):
            faults.append(Fault(lines[0].number, level, "must not have a step at an end of the face"))
        for (x0, _), (x1, _), (x2, _) in zip(points, points[1:], points[2:]):
            if x0 == x1 == x2:
                faults.append(Fault(lines[0].number, level, "must not have a station more than twice: a step has two "
                                    "levels", tape(x0, table.unit)))
    return FaceDrawn(name, length, profiles["top"], profiles["footing"], profiles.get("grade"), None, corner=corner,
                     angle=angle)


# --- eastings and northings --------------------------------------------------------------------

def _by_coordinates(
    name: str, faces: dict[str, list[SurveyLine]], table: SurveyTable, faults: list[Fault], told: list[str],
) -> RunDrawn:
    """Return a run whose faces are given by points on plan; corners, angles and lengths come from them."""
    near = OFF_LINE[table.unit.name]
    spots = {face: [(float(line.at["easting"]), float(line.at["northing"])) for line in lines]
             for face, lines in faces.items()}
    names = list(faces)
    for face, points in spots.items():
        if math.dist(points[0], points[-1]) <= near:
            faults.append(Fault(faces[face][-1].number, face, "must have two points apart from each other"))
    if any(math.dist(points[0], points[-1]) <= near for points in spots.values()):
        return RunDrawn(name)
    for before, face in zip(names, names[1:]):
        gap = math.dist(spots[before][-1], spots[face][0])
        if gap > near:
            faults.append(Fault(faces[face][0].number, face, "must start where the face before it ends",
                                f"a gap of {tape(round(gap), table.unit)}"))
    closed = len(names) > 2 and math.dist(spots[names[-1]][-1], spots[names[0]][0]) <= near
    legs = {face: (points[-1][0] - points[0][0], points[-1][1] - points[0][1]) for face, points in spots.items()}
    turns = [turn_between(legs[one], legs[other]) for one, other in zip(names, [*names[1:], *names[:closed]])]
    if closed and sum(turns) < 0:
        faults.append(Fault(faces[names[0]][0].number, "", f"must go round {name} counter-clockwise on plan: left to "
                            "right as seen from the soil side", hint="give its points the other way round"))
    made = []
    for index, face in enumerate(names):
        corner, angle = corner_of(turns[index]) if index < len(turns) else ("none", None)
        made.append(_face(face, faces[face], _along(face, faces[face], spots[face], table.unit, faults), table, faults,
                          corner=corner, angle=angle))
    told.append(f"run {name}: " + ("closed, since its last point is its first" if closed else "open")
                + "; corners and lengths from eastings and northings")
    return RunDrawn(name, tuple(made), closed=closed)


def _along(
    face: str, lines: Sequence[SurveyLine], spots: Sequence[tuple[float, float]], unit: Unit, faults: list[Fault],
) -> list[Fraction]:
    """Return the stations of points along the line between the first and the last; tell those that lie off it."""
    (x0, y0), (x1, y1) = spots[0], spots[-1]
    length = math.dist(spots[0], spots[-1])
    stations: list[Fraction] = []
    for line, (x, y) in zip(lines, spots):
        off = abs((x - x0) * (y1 - y0) - (y - y0) * (x1 - x0)) / length
        if off > OFF_LINE[unit.name]:
            faults.append(Fault(line.number, face, "must lie on the line between the first and the last point of its "
                                "face", f"{tape(round(off), unit)} off", "a face is flat: a bend starts a new face"))
        along = ((x - x0) * (x1 - x0) + (y - y0) * (y1 - y0)) / length
        stations.append(Fraction(along).limit_denominator(10 ** 6))
    return stations
