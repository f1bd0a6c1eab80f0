"""The walls as measured: lines of areas, lengths and counts that the other lines build on."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from layout.records import Plan, Quantity, Wall
from layout.takeoff.figures import area, long, long_name, measured, say_area, say_long, several
from layout.takeoff.measures import (
    CornerMeasure, FaceMeasure, corner_measure, end_laps, face_measures, membrane_walls, seam_lengths,
)


@dataclass(frozen=True)
class Measures:
    """Everything measured on one plan, once."""

    plan: Plan

    @cached_property
    def faces(self) -> list[FaceMeasure]:
        """The faces of the membrane."""
        return [face for wall in self.walls for face in face_measures(self.plan, wall)]

    @cached_property
    def walls(self) -> list[Wall]:
        """The walls of the membrane."""
        return list(membrane_walls(self.plan))

    @cached_property
    def board_faces(self) -> list[FaceMeasure]:
        """The faces of the drainage board."""
        boards = [wall for wall in self.plan.walls if wall.layer == "drainage"]
        return [face for wall in boards for face in face_measures(self.plan, wall)]

    @cached_property
    def corners(self) -> list[CornerMeasure]:
        """What corners and steps add to each run of the membrane."""
        return [corner_measure(wall) for wall in self.walls]

    @cached_property
    def flat(self) -> float:
        """Area that the membrane's drops must cover [square ticks]."""
        return sum(face.area for face in self.faces)

    @cached_property
    def surface(self) -> float:
        """Surface that is really there: flat area, corners and steps [square ticks]."""
        return self.flat + sum(corner.net for corner in self.corners)

    @cached_property
    def seams(self) -> int:
        """Length of the membrane's side laps [ticks]."""
        return sum(length for _, length in seam_lengths(self.plan, "membrane"))

    @cached_property
    def end_laps(self) -> int:
        """Length of the membrane's end laps [ticks]."""
        return sum(length for _, length in end_laps(self.plan, "membrane"))

    @cached_property
    def top_edge(self) -> int:
        """Length of the membrane line [ticks]."""
        return sum(sum(face.top_edge) for face in self.faces)

    @cached_property
    def joint(self) -> int:
        """Length of the wall/footing joint [ticks]."""
        return sum(face.joint for face in self.faces)


def measured_lines(measures: Measures) -> list[Quantity]:
    """Return the lines of what is measured on the walls and not bought."""
    plan, unit = measures.plan, measures.plan.job.unit
    feet, square = long_name(unit), unit.area_name
    by_run = [
        f"run {wall.run} {say_area(sum(face.area for face in measures.faces if face.run == wall.run), unit)}"
        for wall in measures.walls
    ]
    lines = [measured(
        "wall, ledge and footing face to cover", area(measures.flat, unit), unit=square,
        basis="membrane line to the sheet's end, less openings and sleeves: " + ", ".join(by_run),
    )]
    lines += _corner_lines(measures)
    lines += [
        measured("wall/footing joint", long(measures.joint, unit), unit=feet, basis=_faces(measures, "joint")),
        measured("top edge", long(measures.top_edge, unit), unit=feet, basis=_faces(measures, "top_edge")),
    ]
    count = len(seam_lengths(plan, "membrane"))
    lines.append(measured(
        "side laps", long(measures.seams, unit), unit=feet,
        basis=f"{several(count, 'seam')}, each as long as the sheet is high at its middle",
    ))
    if measures.end_laps:
        lines.append(measured(
            "end laps", long(measures.end_laps, unit), unit=feet,
            basis=f"{several(len(end_laps(plan, 'membrane')), 'end lap')}, each as wide as the pieces side by side",
        ))
    if measures.board_faces:
        lines.append(measured(
            "drainage board area", area(sum(face.area for face in measures.board_faces), unit), unit=square,
            basis="board's top to the ledge, less openings and sleeves",
        ))
    return lines


def _corner_lines(measures: Measures) -> list[Quantity]:
    """Return the lines of what corners and footing steps add to the flat area, or double."""
    unit = measures.plan.job.unit
    named = (
        ("footing corners open under flat drops, closed by covers", "outside",
         "ledge corner and both faces below it, at"),
        ("sheet doubled at inside footing corners", "inside", "slit and lapped, at"),
        ("footing risers, closed by covers", "steps", "height by ledge, at"),
    )
    lines: list[Quantity] = []
    for item, name, basis in named:
        found: list[float] = [each for corner in measures.corners for each in getattr(corner, name)]
        if found:
            noun = "step" if name == "steps" else f"{name} corner"
            lines.append(measured(
                item, area(sum(found), unit), unit=unit.area_name, basis=f"{basis} {several(len(found), noun)}",
            ))
    return lines


def _faces(measures: Measures, name: str) -> str:
    """Return the length of something on each face, in words."""
    said: list[str] = []
    for face in measures.faces:
        length = face.joint if name == "joint" else sum(face.top_edge)
        said.append(f"{face.run} {face.face} {say_long(length, measures.plan.job.unit)}")
    return " + ".join(said)
