"""The job file as models: its keys, their kinds, their defaults and what they mean.

Inch defaults are common practice or the published figure. Metric defaults: 65 mm and 127 mm laps and
the 150 mm / 300 mm of reinforcement are published beside their inch figures; the others are the inch
figure taken to a round number of millimetres on the safe side (more lap, more clearance, shorter pieces).
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from layout.job.extras import ExtrasPart
from layout.job.lengths import (
    Across, Diameter, Down, DrainProfile, FaceLength, FootingProfile, GradeProfile, Level, LongDown, LongUp,
    OpeningSize, Stations, TopProfile, TurnDown, Up, UpMore,
)
from layout.job.part import Part, default, part_default
from layout.job.quantities import Heading, TurnAngle
from layout.job.stock import SheetPart
from layout.job.words import Choice, Date, Flag, OneLine, Name

UNIT_WORDS = tuple((said, "in") for said in ("inches", "inch", "feet", "ft", "imperial")) + tuple(
    (said, "mm") for said in ("metric", "millimetres", "millimeters", "cm", "m", "metres", "meters"))
"""What people write for the unit of a job; lengths in feet or metres are read in either."""
CORNER_WORDS = tuple((said, "outside") for said in ("out", "outer", "external", "exterior")) + tuple(
    (said, "inside") for said in ("in", "inner", "internal", "interior")) + (("straight", "none"), ("no", "none"))
Units = Annotated[Literal["in", "mm"], Choice(("in", "mm"), UNIT_WORDS)]
TopLine = Annotated[Literal["wall", "grade"], Choice(("wall", "grade"))]
Flow = Annotated[Literal["right", "left"], Choice(("right", "left"))]
CornerKind = Annotated[Literal["outside", "inside", "none"], Choice(("outside", "inside", "none"), CORNER_WORDS)]


class InfoPart(Part):
    """The title block: whose job this is."""

    name: Name = Field(description="Name of the job.")
    number: OneLine = Field(default="", description="Job number.")
    site: OneLine = Field(default="", description="Where it is.")
    prepared_by: OneLine = Field(default="", description="Who prepared the job.")
    date: Date = Field(default="", description="Date of the job, such as 2026-05-04. The program never reads a clock.")
    revision: OneLine = Field(default="", description="Revision mark of the drawings.")
    north: Heading | None = Field(default=None, description="Where north lies on the key plans, clockwise from the top "
                                  "of the sheet where the run's first face goes to the right [degrees].")


class RulesPart(Part):
    """How the sheet must go on; every key may be left out."""

    side_lap: UpMore = default('2 1/2"', "65 mm", "Overlap of neighbouring drops.")
    end_lap: UpMore = default('5"', "127 mm", "Overlap of an upper and a lower piece of one drop, upper over "
                              "lower.")
    end_lap_stagger: Up = default('12"', "305 mm", "Least distance between the end laps of neighbouring drops.")
    top: TopLine = Field(default="wall", description="The membrane line: the wall top, or finished grade, but "
                         "never above the wall.")
    above_grade: Up = default(0, 0, "Height of the membrane line above finished grade, with top: grade.")
    turn_down: TurnDown = default(['4"', '6"'], ["102 mm", "150 mm"],
                                  "How far the sheet goes down the footing's face: a length, or [least, most]. "
                                  "The plan takes the least, which is never the dearer.")
    fillet: Down = default('3/4"', "19 mm", "Leg of the chamfer at the wall/footing joint; 0 for none.")
    opening_return: Up = default(0, 0, "How far the sheet turns into an opening.")
    min_width: UpMore = default('12"', "305 mm", "Narrowest drop.")
    max_piece: LongDown = default("12'-0\"", "3650 mm", "Longest piece that one crew can handle; taller drops are "
                                  "end-lapped, in the fewest pieces.")
    clear_of_corner: Up = default('6"', "150 mm", "A seam keeps this far from a corner.")
    clear_of_sleeve: Up = default('6"', "150 mm", "A seam keeps this far from a sleeve.")
    clear_of_opening: Up = default('6"', "150 mm", "A seam keeps this far from an opening's jamb.")
    clear_of_step: Up = default('6"', "150 mm", "A seam keeps this far from a step in the footing.")
    corner_strip: Up = default('12"', "300 mm", "Width of the strip centred on each corner; 0 for none.")
    base_strip: Up = default('12"', "300 mm", "Width of the strip at the wall/footing joint; 0 for none.")
    base_strip_up: Up = default('4"', "105 mm", "Least height of the base strip up the wall, and least down the face.")
    collar_reach: Up = default('6"', "150 mm", "How far a collar goes past its sleeve, all round.")
    cover_lap: UpMore = default('6"', "150 mm", "How far a cover goes past the corner it closes, on to the sheets "
                                "beside it.")
    cut_allowance: Up = default(0, 0, "Added to every cut length.")
    cut_to: UpMore = default('1/4"', "5 mm", "Cut lengths are rounded up to a multiple of this.")
    roll_end: Up = default('1"', "25 mm", "Taken off every roll bought: for squaring its end, and for short rolls. "
                           "Remnants are used whole.")
    keep_remnant: LongUp = default("4'-0\"", "1220 mm", "A leftover this long is stock, not scrap.")
    courses: Flag = Field(default=False, description="Horizontal courses are allowed: compare sets them beside the "
                          "drops. The plan hangs drops either way.")


class OpeningPart(Part):
    """A window, door, vent or hatch."""

    tag: Name = Field(description="Its tag, unlike any other in the job.")
    kind: Name = Field(default="opening", description="window, door, vent, hatch, …")
    left: Across = Field(description="From the face's left end to the opening's left jamb.")
    sill: Level = Field(description="Elevation of its foot.")
    width: OpeningSize = Field(description="Its width.")
    height: OpeningSize = Field(description="Its height.")


class SleevePart(Part):
    """A pipe, or a pipe sleeve, through the wall."""

    tag: Name = Field(description="Its tag, unlike any other in the job.")
    at: Across = Field(description="From the face's left end to the sleeve's centre.")
    elevation: Level = Field(description="Elevation of its centre.")
    diameter: Diameter = Field(description="Its outside diameter.")
    projects: Up = default(0, 0, "How far a pipe in place stands out of the wall: the sheet is slit to go around it. "
                           "Left out: nothing stands out yet, the sleeve is cast flush and its pipe comes later.")


class FacePart(Part):
    """One flat wall surface seen from the soil side."""

    name: Name = Field(description="Name of the face, unlike any other in its run.")
    length: FaceLength = Field(description="Its length at the wall surface.")
    top: TopProfile = Field(description="Profile of the wall top, stations from the face's left end.")
    footing: FootingProfile = Field(default=((0, 0),), description="Profile of the footing top; a step is a station "
                                    "given twice. Left out: level at 0.", json_schema_extra={"default": 0})
    ledge: Up = default(0, 0, "How far the footing projects past the wall; 0 for none.")
    footing_depth: Down = default('12"', "300 mm", "Height of the footing's outer face.")
    grade: GradeProfile | None = Field(default=None, description="Profile of finished grade; required with top: grade.")
    corner: CornerKind | None = Field(default=None, description="What is at the face's right end. Left out: outside, "
                                      "but none at the end of an open run.")
    angle: TurnAngle | None = Field(default=None, description="How far the wall turns at the corner [degrees]. "
                                    "Left out: 90.")
    openings: list[OpeningPart] = Field(default=[], description="Windows, doors, vents, hatches.")
    sleeves: list[SleevePart] = Field(default=[], description="Pipes and pipe sleeves.")


class RunPart(Part):
    """A chain of faces, left to right as seen from the soil side, and where the water goes along it."""

    name: Name = Field(description="Name of the run; drops are tagged with it.")
    closed: Flag = Field(default=False, description="The last face meets the first.")
    allow_gap: Flag = Field(default=False, description="The faces of a closed run need not close on plan.")
    flow: Flow | None = Field(default=None, description="Where water runs along the footing, seen from the soil side. "
                              "Left out, with no lows and no drain: right.")
    lows: Stations | None = Field(default=None, description="Stations of the drain's low points.")
    highs: Stations | None = Field(default=None, description="Stations of its high points, beside lows.")
    drain: DrainProfile | None = Field(default=None, description="The drain's elevation along the run.")
    north: Heading | None = Field(default=None, description="Where north lies on this run's key plan; left out: as "
                                  "the job says [degrees].")
    faces: list[FacePart] = Field(description="The faces in order.", min_length=1)


class WallsPart(Part):
    """The keys that the plan itself needs."""

    job: InfoPart = Field(description="The title block.")
    units: Units = Field(default="in", description="Unit of bare numbers, and of the plan: in (ticks of 1/16 in) "
                         "or mm.")
    sheet: SheetPart = Field(description="The membrane.")
    rules: RulesPart = part_default("How the sheet must go on.")
    runs: list[RunPart] = Field(description="The walls.", min_length=1)
    film_side_up: Flag = Field(default=True, description="Sheet is marked lying film side up. false: liner side up, "
                               "and every mark is mirrored.")


class JobPart(ExtrasPart, WallsPart):
    """A job file of lapwright."""


def widest_strip(job: JobPart) -> int:
    """Return the width of the widest strip that the job asks for [ticks]; 0 when it asks for none."""
    return max(job.rules.corner_strip, job.rules.base_strip, job.top_strip)
