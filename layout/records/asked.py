"""What a job says: its walls and its rules."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from layout.records.products import Extras, Product
from layout.units import Unit

Point = tuple[int, int]
Profile = tuple[Point, ...]
"""Points (station, elevation) joined by straight lines, stations never falling; one given twice is a step."""
Ring = tuple[Point, ...]
"""A closed outline, first point not repeated, clockwise from the top left."""
Side = Literal["right", "left"]
Corner = Literal["outside", "inside", "none"]


@dataclass(frozen=True)
class Opening:
    """A window, door, vent or hatch, in the frame of its face."""

    tag: str
    kind: str
    left: int
    sill: int
    width: int
    height: int


@dataclass(frozen=True)
class Sleeve:
    """A pipe or pipe sleeve through the wall, in the frame of its face; ``projects`` is how far it stands out."""

    tag: str
    at: int
    elevation: int
    diameter: int
    projects: int = 0


@dataclass(frozen=True)
class Face:
    """One flat wall surface seen from the soil side; profiles run from its left end."""

    name: str
    length: int
    top: Profile
    footing: Profile
    ledge: int
    footing_depth: int
    grade: Profile | None
    corner: Corner
    angle: float
    openings: tuple[Opening, ...] = ()
    sleeves: tuple[Sleeve, ...] = ()


@dataclass(frozen=True)
class Run:
    """A chain of faces, left to right from the soil side, and where water goes along it.

    ``allow_gap``: it need not close on plan. ``north`` is told in degrees clockwise from straight up where the first
    face goes to the right.
    """

    name: str
    closed: bool
    faces: tuple[Face, ...]
    flow: Side | None = None
    lows: tuple[int, ...] = ()
    highs: tuple[int, ...] = ()
    drain: Profile | None = None
    allow_gap: bool = False
    north: Decimal | None = None

    @property
    def length(self) -> int:
        """Length at the wall surface [ticks]."""
        return sum(face.length for face in self.faces)


@dataclass(frozen=True)
class Rules:
    """How the sheet must go on, as ``lapwright rules`` tells it; lengths in ticks."""

    side_lap: int
    end_lap: int
    end_lap_stagger: int
    top: Literal["wall", "grade"]
    above_grade: int
    turn_down: tuple[int, int]
    fillet: int
    opening_return: int
    min_width: int
    max_piece: int
    clear_of_corner: int
    clear_of_sleeve: int
    clear_of_opening: int
    clear_of_step: int
    corner_strip: int
    base_strip: int
    base_strip_up: int
    collar_reach: int
    cover_lap: int
    cut_allowance: int
    cut_to: int
    keep_remnant: int
    courses: bool = False
    roll_end: int = 0


@dataclass(frozen=True)
class JobInfo:
    """The title block: whose job this is; ``north`` as for ``Run``."""

    name: str
    number: str = ""
    site: str = ""
    prepared_by: str = ""
    date: str = ""
    revision: str = ""
    north: Decimal | None = None


@dataclass(frozen=True)
class Job:
    """A whole job, read and checked.

    ``strips_from`` says what corner and base strips are cut from: a product of their own, or the membrane.
    """

    info: JobInfo
    unit: Unit
    sheet: Product
    strip: Product
    strips_from: Literal["strip", "sheet"]
    rules: Rules
    runs: tuple[Run, ...]
    film_side_up: bool = True
    extras: Extras = Extras()
