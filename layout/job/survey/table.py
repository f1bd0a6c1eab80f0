"""The lines of a survey: columns known by their headings, units stated, every number exact."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from layout.errors import Fault, JobError
from layout.job.trace.document import DRAWING_UNITS
from layout.job.tree import show
from layout.units import UNITS, Unit, read_length

MAX_ROWS = 20_000
"""Most lines of a survey."""
MAX_COLUMNS = 60
"""Most columns of a survey."""

HEADINGS: dict[str, frozenset[str]] = {
    "run": frozenset(("run", "line", "building", "block")),
    "face": frozenset(("face", "wall", "side", "wall face")),
    "station": frozenset(("station", "sta", "stn", "chainage", "ch", "distance", "dist", "offset along")),
    "easting": frozenset(("easting", "east", "e", "x")),
    "northing": frozenset(("northing", "north", "n", "y")),
    "top": frozenset(("top", "tow", "t o w", "top of wall", "wall top", "top wall", "top el", "top elevation",
                      "top level")),
    "footing": frozenset(("footing", "ftg", "tof", "t o f", "top of footing", "footing top", "top footing",
                          "footing el", "footing elevation", "footing level")),
    "grade": frozenset(("grade", "fg", "f g", "finished grade", "finish grade", "ground", "grade el", "ground level",
                        "grade elevation", "fin grade")),
}
"""What a column is, by its heading in small letters without points and units."""
LENGTHS = ("station", "easting", "northing", "top", "footing", "grade")

_UNIT_WORDS = {"in": "in", "inch": "in", "inches": "in", "ft": "ft", "feet": "ft", "foot": "ft", "mm": "mm", "cm": "cm",
               "m": "m", "metres": "m", "meters": "m", "metre": "m", "meter": "m"}
_WITH_UNIT = re.compile(
    r"(.*?)[\s,_]*[(\[]\s*([a-z]+)\.?\s*[)\]]\s*|(.*\S)[\s,_]+(in|ft|feet|mm|cm|m|metres|meters)\.?\s*")
_NUMBER = re.compile(r"[-+]?(?:\d{1,12}(?:\.\d{0,12})?|\.\d{1,12})")
_STATIONED = re.compile(r"(\d{1,6})\+(\d{2,3}(?:\.\d{0,12})?)")


@dataclass(frozen=True)
class SurveyLine:
    """One line of a survey: its number, names, and lengths by column [ticks, exact]."""

    number: int
    run: str
    face: str
    at: Mapping[str, Fraction]


@dataclass
class SurveyTable:
    """A survey as read."""

    unit: Unit
    columns: frozenset[str]
    lines: list[SurveyLine] = field(default_factory=list)
    told: list[str] = field(default_factory=list)


def read_table(text: str, *, unit: str, file: str) -> SurveyTable:
    """Read a survey.

    Parameters
    ----------
    text
        What the file holds.
    unit
        What lengths are in where their headings do not say; empty when the drafter does not.
    file
        Name of the file, for messages.

    Raises
    ------
    JobError
        With every fault and its line.
    """
    faults: list[Fault] = []
    if unit and unit not in DRAWING_UNITS:
        raise JobError([Fault(0, "--unit", f"must be one of {', '.join(DRAWING_UNITS)}", show(unit))], file)
    mark = _delimiter(text)
    rows = _rows(text, mark, file)
    if not rows:
        raise JobError([Fault(0, "", "must have a first line that names its columns", "an empty file")], file)
    number, heading = rows[0]
    columns, units, ignored = _columns(heading, number, faults)
    scales, system = _scales(columns, units, unit, number, faults)
    if faults:
        raise JobError(faults, file)
    table = SurveyTable(UNITS[system], frozenset(columns))
    if ignored:
        table.told.append(f"not read: the columns {', '.join(show(name) for name in ignored[:12])}")
    for number, row in rows[1:]:
        if len(row) > len(heading) and any(row[len(heading):]):
            faults.append(Fault(number, "", f"must have at most the {len(heading)} columns of the first line",
                                f"{len(row)}", "no commas may stand in numbers"))
            continue
        _line(table, row, number, columns, scales, faults, comma=mark != ",")
    if len(rows) < 2:
        faults.append(Fault(number, "", "must have a line for each station"))
    if faults:
        raise JobError(faults, file)
    return table


def _delimiter(text: str) -> str:
    """Return what stands between columns: the one the first line has most of."""
    first = next((line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")), "")
    return max(",;\t", key=lambda mark: (first.count(mark), mark == ","))


def _rows(text: str, mark: str, file: str) -> list[tuple[int, list[str]]]:
    """Return the lines that hold something, with their numbers."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
    rows: list[tuple[int, list[str]]] = []
    try:
        for row in reader:
            if len(row) > MAX_COLUMNS:
                raise JobError([Fault(reader.line_num, "", f"must have at most {MAX_COLUMNS} columns", f"{len(row)}")],
                               file)
            if any(cell.strip() for cell in row) and not row[0].lstrip().startswith("#"):
                rows.append((reader.line_num, [cell.strip() for cell in row]))
            if len(rows) > MAX_ROWS + 1:
                raise JobError([Fault(reader.line_num, "", f"must have at most {MAX_ROWS:,} lines")], file)
    except csv.Error as error:
        raise JobError([Fault(reader.line_num, "", f"cannot be read as CSV: {error}")], file) from None
    return rows


def _columns(
    heading: Sequence[str], number: int, faults: list[Fault],
) -> tuple[dict[str, int], dict[str, str], list[str]]:
    """Return where each known column is, the units that headings state, and the headings that are not known."""
    columns: dict[str, int] = {}
    units: dict[str, str] = {}
    ignored: list[str] = []
    for index, cell in enumerate(heading):
        words = " ".join(cell.lower().replace(".", " ").replace("_", " ").split())
        match = _WITH_UNIT.fullmatch(words)
        name, stated = ((match[1] or match[3] or "").strip(), match[2] or match[4]) if match else (words, "")
        known = next((key for key, names in HEADINGS.items() if name in names), "")
        if not known and (known := next((key for key, names in HEADINGS.items() if words in names), "")):
            stated = ""
        if not known:
            if cell:
                ignored.append(cell)
            continue
        if known in columns:
            faults.append(Fault(number, show(cell), f"must be the only column for {known}"))
        columns[known] = index
        if stated:
            units[known] = _UNIT_WORDS.get(stated, stated)
            if stated not in _UNIT_WORDS:
                faults.append(Fault(number, show(cell), f"must state one of the units {', '.join(DRAWING_UNITS)}",
                                    show(stated)))
    for needed in ("face", "top", "footing"):
        if needed not in columns:
            faults.append(Fault(number, "", f"must have a column for {needed}", ", ".join(map(show, heading[:12]))))
    if "station" not in columns and not {"easting", "northing"} <= columns.keys():
        faults.append(Fault(number, "", "must have a column for station, or two for easting and northing"))
    elif "station" in columns and {"easting", "northing"} & columns.keys():
        faults.append(Fault(number, "", "must have stations, or eastings and northings, not both"))
    return columns, units, ignored


def _scales(
    columns: Mapping[str, int], units: Mapping[str, str], unit: str, number: int, faults: list[Fault],
) -> tuple[dict[str, Fraction], str]:
    """Return ticks in one of each column's unit, and the job's unit."""
    scales: dict[str, Fraction] = {}
    systems: set[str] = set()
    for name in LENGTHS:
        if name not in columns:
            continue
        stated = units.get(name, "") or unit
        if unit and units.get(name, unit) != unit:
            faults.append(Fault(number, name, f"must be in {unit}, as --unit says, or the heading is wrong",
                                units[name]))
        if stated in DRAWING_UNITS:
            systems.add(DRAWING_UNITS[stated][0])
            scales[name] = Fraction(int(DRAWING_UNITS[stated][1]))
        elif not stated:
            faults.append(Fault(number, name, "must state its unit, such as top (ft)",
                                hint="or say one for all with --unit in, ft, mm, cm or m"))
    if len(systems) > 1:
        faults.append(Fault(number, "", "must have all lengths in feet and inches, or all in metres and millimetres"))
    return scales, min(systems, default="in")


def _line(
    table: SurveyTable, row: Sequence[str], number: int, columns: Mapping[str, int], scales: Mapping[str, Fraction],
    faults: list[Fault], *, comma: bool,
) -> None:
    """Read one line into the table."""
    def cell(name: str) -> str:
        index = columns.get(name, -1)
        return row[index] if 0 <= index < len(row) else ""

    at: dict[str, Fraction] = {}
    for name in LENGTHS:
        text = cell(name)
        if text:
            try:
                at[name] = _length(text, scales[name], table.unit, station=name == "station", comma=comma)
            except ValueError as error:
                faults.append(Fault(number, name, str(error), show(text)))
                at[name] = Fraction(0)
        elif name in ("station", "easting", "northing") and name in columns:
            faults.append(Fault(number, name, "must be given on every line"))
    if not cell("face"):
        faults.append(Fault(number, "face", "must be named on every line"))
    table.lines.append(SurveyLine(number, cell("run") or "A", cell("face"), at))


def _length(text: str, scale: Fraction, unit: Unit, *, station: bool, comma: bool) -> Fraction:
    """Return a length [ticks]: a number in the column's unit, a station such as 1+25.50, or one with its own unit."""
    plain = text.replace(",", ".") if comma and text.count(",") == 1 and "." not in text else text
    if _NUMBER.fullmatch(plain):
        return Fraction(plain) * scale
    match = _STATIONED.fullmatch(plain) if station else None
    if match:
        digits = len(match[2].split(".")[0])
        if digits != (2 if unit.name == "in" else 3):
            raise ValueError("must be a station such as 1+25.50 in feet, or 0+125.500 in metres")
        return (Fraction(match[1]) * (100 if digits == 2 else 1000) + Fraction(match[2])) * scale
    if not re.search(r"['\"′″a-z]", text.lower()):
        raise ValueError("must be a number, with a point for decimals and no thousands marks")
    return read_length(text, unit)
