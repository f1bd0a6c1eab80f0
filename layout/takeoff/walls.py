"""The walls as measured: lines of areas, lengths and counts that the other lines build on."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from layout.records import DRAINAGE, MEMBRANE, Plan, Quantity, Wall
from layout.takeoff.figures import long, long_name, measured, measured_area, say_area, say_long, several
from layout.takeoff.measures import (
    CornerMeasure, FaceMeasure, corner_measure, end_laps, face_measures, membrane_walls, seam_lengths,
)
from layout.takeoff.terminated import Edge, EdgeKind, lengths, terminated_edges, total_length

EDGES: dict[EdgeKind, str] = {
    "top": "top edge", "step": "steps in the top edge", "run end": "ends of open runs", "opening": "edges at openings",
}
"""Kind of edge -> what its line is called."""


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
        boards = [wall for wall in self.plan.walls if wall.layer == DRAINAGE]
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
        return sum(length for _, length in seam_lengths(self.plan, MEMBRANE))

    @cached_property
    def end_laps(self) -> int:
        """Length of the membrane's end laps [ticks]."""
        return sum(length for _, length in end_laps(self.plan, MEMBRANE))

    @cached_property
    def edges(self) -> list[Edge]:
        """The terminated edge of every run, part by part."""
        bar = self.plan.job.extras.termination_bar
        return [edge for wall in self.walls
                for edge in terminated_edges(self.plan, wall, ends=bar is None or bar.run_ends)]

    @cached_property
    def joint(self) -> int:
        """Length of the wall/footing joint [ticks]."""
        return sum(face.joint for face in self.faces)


def measured_lines(measures: Measures) -> list[Quantity]:
    """Return the lines of what is measured on the walls and not bought."""
    plan, unit = measures.plan, measures.plan.job.unit
    feet = long_name(unit)
    by_run = [
        f"run {wall.run} {say_area(sum(face.area for face in measures.faces if face.run == wall.run), unit)}"
        for wall in measures.walls
    ]
    lines = [measured_area(
        "wall, ledge and footing face to cover", measures.flat, unit,
        basis="membrane line to the sheet's end, less openings and sleeves: " + ", ".join(by_run),
    )]
    lines += _corner_lines(measures)
    lines += [
        measured("wall/footing joint", long(measures.joint, unit), unit=feet, basis=_faces(measures)),
        *(measured(item, long(total_length(measures.edges, kind), unit), unit=feet,
                   basis=" + ".join(f"{face} {say_long(length, unit)}" for face, length in faces))
          for kind, item in EDGES.items() if (faces := lengths(measures.edges, kind))),
    ]
    count = len(seam_lengths(plan, MEMBRANE))
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
        lines.append(measured_area(
            "drainage board area", sum(face.area for face in measures.board_faces), unit,
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
            lines.append(measured_area(
                item, sum(found), unit, basis=f"{basis} {several(len(found), noun)}",
            ))
    return lines


def _faces(measures: Measures) -> str:
    """Return the length of the wall/footing joint on each face, in words."""
    unit = measures.plan.job.unit
    return " + ".join(f"{face.run} {face.face} {say_long(face.joint, unit)}" for face in measures.faces)
