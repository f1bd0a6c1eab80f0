"""Draws jobs as a drafter might, with ezdxf alone: the other side of the trace."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import ezdxf

from layout.records import Face, Job, Opening, Profile, Run, Sleeve

LAYERS = {"wall": "A-WALL", "footing": "S-FTG-TOP", "grade": "C-GRADE", "window": "A-WINDOW", "door": "A-DOOR",
          "vent": "M-VENT", "opening": "A-OPENINGS", "sleeve": "P-SLEEVE"}
LETTER = {"in": 6.0, "mm": 150.0}


@dataclass(frozen=True)
class Style:
    """How a drawing is drawn.

    Parameters
    ----------
    lines
        Outlines are single lines, not polylines.
    footing
        ``outline``: the wall's lower edge is the footing. ``line``: the outline has no lower edge, a line on the
        footing's layer has. ``ring``: the whole footing is drawn.
    shift
        Added to every coordinate [drawing units].
    per_unit
        Ticks in one drawing unit; 0 for the job's own unit.
    insunits
        $INSUNITS; None for the job's own.
    """

    lines: bool = False
    footing: str = "outline"
    shift: tuple[float, float] = (0.0, 0.0)
    per_unit: float = 0.0
    insunits: int | None = None


def draw(job: Job, path: Path, style: Style = Style()) -> None:
    """Draw each run of a job as a row, the first at the top, its faces apart from each other."""
    document: Any = ezdxf.new("R2010")  # type: ignore[attr-defined]
    own = 1 if job.unit.name == "in" else 4
    document.header["$INSUNITS"] = own if style.insunits is None else style.insunits
    space = document.modelspace()
    per = style.per_unit or float(job.unit.ticks)
    down = 0.0
    for run in job.runs:
        tallest = max(y for face in run.faces for _, y in face.top)
        lowest = min(y for face in run.faces for _, y in face.footing)
        down -= tallest + 4000
        x = 0
        for face in run.faces:
            _Pen(space, style, per, (x, down)).face(face, LETTER[job.unit.name] * job.unit.ticks)
            x += face.length + 1000
        down += lowest - 4000
    document.saveas(path)


@dataclass(frozen=True)
class _Pen:
    space: Any
    style: Style
    per: float
    origin: tuple[float, float]

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Return a point of the face in the drawing."""
        return ((x + self.origin[0]) / self.per + self.style.shift[0],
                (y + self.origin[1]) / self.per + self.style.shift[1])

    def line(self, points: Any, layer: str, *, closed: bool) -> None:
        """Draw points as a polyline or as lines."""
        places = [self.at(*point) for point in points]
        if self.style.lines:
            for one, other in zip(places, [*places[1:], *places[:1]] if closed else places[1:]):
                self.space.add_line(one, other, dxfattribs={"layer": layer})
        else:
            self.space.add_lwpolyline(places, close=closed, dxfattribs={"layer": layer})

    def text(self, words: str, x: float, y: float, height: float) -> None:
        """Write words in the middle of a place."""
        self.space.add_text(words, height=height / self.per, dxfattribs={"layer": "TEXT"}).set_placement(
            self.at(x, y), align=ezdxf.enums.TextEntityAlignment.CENTER)

    def face(self, face: Face, letter: float) -> None:
        """Draw one face."""
        lower = face.footing[::-1]
        if self.style.footing == "outline":
            self.line((*face.top, *lower), LAYERS["wall"], closed=True)
        else:
            self.line((face.footing[0], *face.top, face.footing[-1]), LAYERS["wall"], closed=False)
            foot = [(x, y - face.footing_depth) for x, y in lower]
            ring = self.style.footing == "ring"
            self.line((*face.footing, *foot) if ring else face.footing, LAYERS["footing"], closed=ring)
        if face.grade:
            self.line(face.grade, LAYERS["grade"], closed=False)
        for opening in face.openings:
            right, top = opening.left + opening.width, opening.sill + opening.height
            self.line(((opening.left, opening.sill), (opening.left, top), (right, top), (right, opening.sill)),
                      LAYERS[opening.kind], closed=True)
            self.text(opening.tag, opening.left + opening.width / 2, opening.sill + opening.height / 2, letter / 2)
        for sleeve in face.sleeves:
            self.space.add_circle(self.at(sleeve.at, sleeve.elevation), sleeve.diameter / 2 / self.per,
                                  dxfattribs={"layer": LAYERS["sleeve"]})
            self.text(sleeve.tag, sleeve.at, sleeve.elevation + sleeve.diameter, letter / 2)
        self.text(face.name, face.length / 2, max(y for _, y in face.top) + letter, letter)


# --- what a drawing can tell -------------------------------------------------------------------

def geometry(job: Job, *, depths: bool = False) -> list[list[tuple[Any, ...]]]:
    """Return what a drawing of a job tells: runs of faces, elevations from the lowest footing of each run."""
    return [[_face(face, _lowest(run), depths=depths) for face in run.faces] for run in job.runs]


def _lowest(run: Run) -> int:
    return min(y for face in run.faces for _, y in face.footing)


def _face(face: Face, zero: int, *, depths: bool) -> tuple[Any, ...]:
    openings = sorted((replace(opening, sill=opening.sill - zero) for opening in face.openings), key=_opening_order)
    sleeves = sorted((replace(sleeve, elevation=sleeve.elevation - zero) for sleeve in face.sleeves),
                     key=_sleeve_order)
    return (face.name, face.length, _plain(face.top, zero), _plain(face.footing, zero),
            _plain(face.grade, zero) if face.grade else None, tuple(openings), tuple(sleeves),
            face.footing_depth if depths else None)


def _opening_order(opening: Opening) -> tuple[int, int]:
    return opening.left, opening.sill


def _sleeve_order(sleeve: Sleeve) -> tuple[int, int]:
    return sleeve.at, sleeve.elevation


def _plain(profile: Profile, zero: int) -> tuple[tuple[int, int], ...]:
    """Return a profile from another zero, without points on the line between their neighbours."""
    kept: list[tuple[int, int]] = []
    for x, y in ((x, y - zero) for x, y in profile):
        while len(kept) > 1 and (kept[-1][0] - kept[-2][0]) * (y - kept[-1][1]) == (x - kept[-1][0]) * (
                kept[-1][1] - kept[-2][1]):
            kept.pop()
        if not kept or kept[-1] != (x, y):
            kept.append((x, y))
    return tuple(kept)
