"""A workbook to the tree that any job file is read as, each value with the cell it stands in.

Nothing of the job is decided here: the models and the checks go over the tree as over that of a YAML file, so that
faults are the same and only their places differ. What is told here is what only a workbook can have wrong: sheets and
columns that are not known, cells that a spreadsheet program turned into dates, points of faces that are not there.
"""

from __future__ import annotations

import datetime
import difflib
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from layout.errors import Fault
from layout.job.kind import Items, Kind
from layout.job.lengths import Length, Range
from layout.job.limits import MAX_NAME
from layout.job.quantities import Amount, Number, WholeNumber
from layout.job.text import resolve
from layout.job.tree import Place, Scalar, Unreadable, Value, show
from layout.job.words import Choice, Day, Words, YesNo
from layout.job.workbook.columns import NO, YES, SheetColumn, FormSheet, lists, sheets
from layout.job.workbook.package import Cell, CellContent, Grid, is_note, open_book
from layout.units import INCH, UNITS

DIGITS = 12
"""Significant digits kept of a number: what a spreadsheet program computes is off in the sixteenth."""
MOST_HINTS = 50
"""Faults up to which names that may have been meant are looked for."""
LABEL, SETTING = "setting", "value"
"""Heads of the two columns that are read of a sheet of settings."""

ToldFaults = list[tuple[Place, Fault]]


def read_job_workbook(data: bytes) -> tuple[Value, ToldFaults]:
    """Read a workbook.

    Parameters
    ----------
    data
        The file.

    Returns
    -------
    tuple
        The tree of the job, and what is wrong with the workbook itself, as faults with their places.

    Raises
    ------
    Unreadable
        When it is no workbook, is protected, holds macros, is too large, or lacks sheets or headings.
    """
    grids, faults = open_book(data)
    return _Book(grids, faults).tree()


@dataclass
class _Row:
    """A row of a table: its number, its cells by the names of their columns, and where blank ones stand."""

    number: int
    cells: dict[str, Cell]
    places: dict[str, Place]

    def text(self, name: str) -> str:
        """Return what a cell says, as text; nothing where it is blank."""
        cell = self.cells.get(name)
        return _text(cell.content) if cell else ""


@dataclass
class _Book:
    """The sheets of a workbook on their way to a tree."""

    grids: Sequence[Grid]
    faults: ToldFaults
    found: dict[str, Grid] = field(default_factory=dict)
    beside: set[int] = field(default_factory=set)
    unheaded: bool = False
    units: str = ""
    start: Place = Place(0, 0)

    def tell(self, place: Place, what: str, *, got: str = "", hint: str = "") -> None:
        """Tell a fault at a cell."""
        self.faults.append((place, Fault(0, "", what, show(got), hint, place.cell)))

    def tree(self) -> tuple[Value, ToldFaults]:
        """Return the tree and the faults."""
        self._sheets()
        self.units = self._said_units()
        root = Value({}, self.start)
        for sheet in sheets():
            if sheet.settings and sheet.name in self.found:
                self._settings(sheet, root)
        self._rolls(root)
        for name, key in lists().items():
            rows = [self._entry(sheet, row) for sheet, row in self._table(name)]
            if rows:
                _put(root, key, Value(list(rows), rows[0].place), rows[0].place)
        self._runs(root)
        if self.unheaded:
            raise Unreadable(*(fault for _, fault in sorted(self.faults)))
        return root, self.faults

    def _near(self, name: str, known: Iterable[str]) -> str:
        """Return the known name that is likely meant; none once many faults are told, as looking takes time."""
        if len(self.faults) > MOST_HINTS:
            return ""
        return next(iter(difflib.get_close_matches(name[:MAX_NAME], known, n=1, cutoff=0.5)), "")

    def _sheets(self) -> None:
        """Find each sheet; where one is not known, or is missing, no more is told than that."""
        told = len(self.faults)
        known = {sheet.name.lower(): sheet for sheet in sheets()}
        for grid in self.grids:
            name = grid.name.strip().lower()
            if is_note(grid.name):
                continue
            if name not in known:
                near = self._near(name, known)
                hint = f"did you mean {known[near].name}?" if near else "name a sheet of your own Notes"
                self.tell(grid.place(1, 1), "is on a sheet that is not known", got=grid.name, hint=hint)
            elif known[name].name in self.found:
                self.tell(grid.place(1, 1), "is on a sheet that is there twice", got=grid.name)
            else:
                self.found[known[name].name] = grid
        for sheet in sheets():
            if sheet.required and sheet.name not in self.found:
                self.tell(Place(0, 0), f"must have a sheet {sheet.name}")
        if len(self.faults) > told:
            raise Unreadable(*(fault for _, fault in self.faults[told:]))

    def _said_units(self) -> str:
        """Return the unit that the job names, wherever it stands among the settings; inches where it names none."""
        for _, cells in self.found["Job"].rows[1:]:
            said = [_text(cell.content) for cell in cells]
            if len(said) > 1 and _head(said[0])[0] == "units":
                return said[1].strip().lower()
        return INCH.name

    # --- sheets of settings --------------------------------------------------------------------------

    def _settings(self, sheet: FormSheet, root: Value) -> None:
        """Put the settings of a sheet where they belong in the tree."""
        grid = self.found[sheet.name]
        heads = self._heads(grid, (LABEL, SETTING), strict=False)
        if not heads:
            return
        seen: dict[str, str] = {}
        blank: list[tuple[tuple[str, ...], Place]] = []
        for row, cells in grid.rows[1:]:
            by_column = {cell.place.column: cell for cell in cells}
            label, value = by_column.get(heads[LABEL]), by_column.get(heads[SETTING])
            place = grid.place(row, heads[SETTING])
            if label is None:
                if value is not None:
                    self.tell(place, "must have the name of its setting beside it", got=_text(value.content))
                continue
            name, sign = _head(_text(label.content))
            column = sheet.by_name.get(name)
            if column is None:
                self._unknown(label.place, _text(label.content), sheet)
                continue
            if name in seen:
                self.tell(label.place, f"must be given once: it is also in {seen[name]}", got=_text(label.content))
                continue
            seen[name] = label.place.cell
            self._sign(label.place, sign, column)
            if value is None and sheet.name != "Job":
                blank.append((column.path, place))
                continue
            into = root
            for step in column.path[:-1]:
                into = _inside(into, step, place)
            into.keys.setdefault(column.path[-1], place)
            if value is not None:
                self._fill(into, column.path[-1], column.kind, value)
        for path, place in blank:
            held = root.follow(path[:-1])[0]
            if held is not None and isinstance(held.content, dict):
                held.keys.setdefault(path[-1], place)

    # --- tables --------------------------------------------------------------------------------------

    def _table(self, name: str) -> Iterator[tuple[FormSheet, _Row]]:
        """Yield the rows of a table that hold anything."""
        sheet = next(sheet for sheet in sheets() if sheet.name == name)
        grid = self.found.get(name)
        if grid is None:
            return
        heads = self._heads(grid, tuple(sheet.by_name), strict=True, sheet=sheet)
        if not heads:
            return
        names = {at: head for head, at in heads.items()}
        for number, cells in grid.rows[1:]:
            row = _Row(number, {}, {head: grid.place(number, at) for head, at in heads.items()})
            for cell in cells:
                head = names.get(cell.place.column)
                if head is not None:
                    row.cells[head] = cell
                elif cell.place.column not in self.beside:
                    self.tell(cell.place, "stands under no heading", got=_text(cell.content))
            if row.cells:
                yield sheet, row

    def _heads(
        self, grid: Grid, wanted: Sequence[str], *, strict: bool, sheet: FormSheet | None = None,
    ) -> dict[str, int]:
        """Return the columns of a sheet's headings, which stand in its first row; nothing when they are not there.

        With ``strict`` every heading must be one of those wanted; the user's own start with Note.
        """
        self.beside: set[int] = set()
        if not grid.rows or grid.rows[0][0] != 1:
            if grid.rows:
                self.unheaded = True
                self.tell(grid.place(1, 1), f"must have the headings in row 1: {', '.join(wanted[:4])}, …")
            return {}
        heads: dict[str, int] = {}
        for cell in grid.rows[0][1]:
            name, sign = _head(_text(cell.content))
            if name not in wanted:
                if strict and not is_note(name) and sheet is not None:
                    self._unknown(cell.place, _text(cell.content), sheet)
                self.beside.add(cell.place.column)
            elif name in heads:
                self.tell(cell.place, "must be a heading once", got=_text(cell.content))
                self.beside.add(cell.place.column)
            else:
                heads[name] = cell.place.column
                if sheet is not None:
                    self._sign(cell.place, sign, sheet.by_name[name])
        missing = [name for name in wanted if name not in heads and (
            sheet is None or (sheet.by_name[name].required and len(grid.rows) > 1))]
        self.unheaded = self.unheaded or bool(missing)
        for name in missing:
            self.tell(grid.place(1, 1), f"must have a column headed {name.replace('_', ' ')}")
        return {} if missing else heads

    def _unknown(self, place: Place, said: str, sheet: FormSheet) -> None:
        """Tell a heading or setting that is not known."""
        name = _head(said)[0]
        near = self._near(name, sheet.by_name)
        known = ", ".join(column.replace("_", " ") for column in sheet.by_name)
        hint = f"did you mean {near.replace('_', ' ')}?" if near else f"known here: {known}"
        kind = "setting" if sheet.settings else "column"
        self.tell(place, f"is not a known {kind}", got=said, hint=hint if len(hint) < 400 else "")

    def _sign(self, place: Place, sign: str, column: SheetColumn) -> None:
        """Hold the unit in a heading against the job's own, as bare numbers are read in the latter."""
        if sign in UNITS and self.units in UNITS and sign != self.units and column.sign(UNITS[sign]) == sign:
            self.tell(place, f"must be headed [{self.units}], as the job's units are {self.units}", got=f"[{sign}]",
                      hint="bare numbers are read in the job's units: correct the heading or the units")

    def _entry(self, sheet: FormSheet, row: _Row, *, leave: Sequence[str] = ()) -> Value:
        """Return a row as a mapping; columns that only say where it belongs are left out."""
        entry = Value({}, min(row.places.values(), key=lambda place: place.column))
        for column in sheet.columns:
            if column.name in leave or column.name not in row.places:
                continue
            entry.keys[column.name] = row.places[column.name]
            if column.name in row.cells:
                self._fill(entry, column.name, column.kind, row.cells[column.name])
        return entry

    # --- rolls ---------------------------------------------------------------------------------------

    def _rolls(self, root: Value) -> None:
        """Put rolls and remnants with the products that they are of."""
        for sheet, row in self._table("Rolls"):
            product = row.text("product").strip().lower().replace(" ", "_") or "sheet"
            column = sheet.by_name["product"]
            if product not in column.choices:
                near = self._near(product, column.choices)
                self.tell(row.places["product"], f"must be {', '.join(column.choices[:-1])} or {column.choices[-1]}",
                          got=row.text("product"), hint=f"did you mean {near}?" if near else "")
                continue
            entry = self._entry(sheet, row, leave=("product",))
            if "tag" not in row.cells:
                entry.keys.pop("tag", None)
            into = _inside(root, product, entry.place)
            _append(into, "remnants" if "tag" in row.cells else "rolls", entry)

    # --- runs, faces and what is on them -------------------------------------------------------------

    def _runs(self, root: Value) -> None:
        """Put runs together from their own sheet and from those of faces, points, openings and sleeves."""
        runs: dict[str, Value] = {}
        listed: list[Value] = []
        for sheet, row in self._table("Runs"):
            entry = self._entry(sheet, row)
            entry.keys.setdefault("faces", entry.place)
            listed.append(entry)
            runs.setdefault(row.text("name").strip(), entry)
        faces: dict[tuple[str, str], Value] = {}
        for sheet, row in self._table("Faces"):
            name = row.text("run").strip() or (next(iter(runs)) if len(runs) == 1 else "")
            if not name:
                self.tell(row.places.get("run") or row.places["name"], "must name the run",
                          hint="may be left out where there is one run")
                continue
            if name not in runs:
                cell = row.cells["run"]
                run = Value({}, cell.place)
                self._fill(run, "name", Words(), cell)
                listed.append(run)
                runs[name] = run
            face = self._face(sheet, row)
            _append(runs[name], "faces", face)
            faces.setdefault((name, row.text("name").strip()), face)
        self._points(runs, faces)
        for name, key in (("Openings", "openings"), ("Sleeves", "sleeves")):
            for sheet, row in self._table(name):
                found = self._face_of(row, runs, faces)
                if found is not None:
                    _append(found, key, self._entry(sheet, row, leave=("run", "face")))
        place = listed[0].place if listed else self.found["Faces"].place(2, 1) if "Faces" in self.found else self.start
        if listed or "Faces" in self.found:
            _put(root, "runs", Value(list(listed), place), place)

    def _face(self, sheet: FormSheet, row: _Row) -> Value:
        """Return a face; its grade is level, or a line from its left end to its right."""
        face = self._entry(sheet, row, leave=("run", "grade_left", "grade_right"))
        left, right = row.cells.get("grade_left"), row.cells.get("grade_right")
        if "grade_left" in row.places:
            face.keys["grade"] = row.places["grade_left"]
        grade = sheet.by_name["grade_left"].kind
        if left is not None:
            self._fill(face, "grade", grade, left)
        elif right is not None:
            self.tell(right.place, "must have grade left beside it", got=_text(right.content))
            return face
        level, content = _held(face, "grade"), face.content
        if right is not None and level is not None and isinstance(content, dict):
            length = _held(face, "length")
            end = self._scalar(grade, right)
            if length is not None and end is not None:
                zero = Value(0, level.place, "0")
                points = [Value([zero, level], level.place), Value([length, end], end.place)]
                content["grade"] = Value(list(points), level.place)
        return face

    def _points(self, runs: dict[str, Value], faces: dict[tuple[str, str], Value]) -> None:
        """Put profiles with their points on the faces, and drains on the runs."""
        begun: set[tuple[int, str]] = set()
        for sheet, row in self._table("Points"):
            profile = row.text("profile").strip().lower()
            column = sheet.by_name["profile"]
            if profile not in column.choices:
                self.tell(row.places["profile"], f"must be {', '.join(column.choices[:-1])} or {column.choices[-1]}",
                          got=row.text("profile"))
                continue
            if profile == "drain":
                if row.text("face"):
                    self.tell(row.places["face"], "must be empty: a drain is of the whole run", got=row.text("face"))
                    continue
                into = self._run_of(row, runs)
            else:
                into = self._face_of(row, runs, faces)
            if into is None:
                continue
            station, elevation = row.places["station"], row.places["elevation"]
            held = _held(into, profile)
            if held is not None and (id(into), profile) not in begun:
                self.tell(station, f"must not be given beside {held.place.cell}",
                          hint=f"empty that cell: the {profile} has points here")
                continue
            begun.add((id(into), profile))
            ends = [self._scalar(sheet.by_name[name].kind, row.cells[name]) if name in row.cells else None
                    for name in ("station", "elevation")]
            given = [end or Value(None, place) for end, place in zip(ends, (station, elevation))]
            _append(into, profile, Value(given, station))

    def _run_of(self, row: _Row, runs: dict[str, Value]) -> Value | None:
        """Return the run that a row names, or the only one where it names none."""
        name = row.text("run").strip()
        if not name and len(runs) == 1:
            return next(iter(runs.values()))
        if name in runs:
            return runs[name]
        if self.unheaded:
            return None  # a sheet without its headings has told that, and holds nothing to be named
        near = self._near(name, runs)
        self.tell(row.places.get("run") or next(iter(row.places.values())),
                  "must name a run that has faces" if name else "must name the run", got=name,
                  hint=f"did you mean {show(near)}?" if near else "")
        return None

    def _face_of(self, row: _Row, runs: dict[str, Value], faces: dict[tuple[str, str], Value]) -> Value | None:
        """Return the face that a row names."""
        run = self._run_of(row, runs)
        if run is None:
            return None
        of_run = next(name for name, value in runs.items() if value is run)
        name = row.text("face").strip()
        if (of_run, name) in faces:
            return faces[of_run, name]
        if self.unheaded:
            return None
        names = [face for other, face in faces if other == of_run]
        near = self._near(name, names)
        self.tell(row.places["face"], f"must name a face of run {show(of_run)} on the sheet Faces",
                  got=name or "nothing", hint=f"did you mean {show(near)}?" if near else "")
        return None

    # --- values --------------------------------------------------------------------------------------

    def _fill(self, into: Value, key: str, kind: Kind | None, cell: Cell) -> None:
        """Put what a cell holds into a mapping, as its kind of value is written in a job file."""
        into.keys[key] = cell.place
        if isinstance(kind, Items):
            parts = _parts(cell.content, r"[;,]" if not isinstance(kind.kind, Length) else ";")
        elif isinstance(kind, Range) and isinstance(cell.content, str):
            parts = _parts(cell.content, r";|\bto\b")
            kind = Length() if len(parts) > 1 else kind
        else:
            parts = []
        if parts and not cell.wrong and (isinstance(kind, Items) or len(parts) > 1):
            inner = kind.kind if isinstance(kind, Items) else kind
            items = [self._scalar(inner, replace(cell, content=part)) for part in parts]
            _put(into, key, Value([item for item in items if item is not None], cell.place), cell.place)
            return
        value = self._scalar(kind, cell)
        if value is not None:
            _put(into, key, value, cell.place)

    def _scalar(self, kind: Kind | None, cell: Cell) -> Value | None:
        """Return what a cell holds as a scalar of a job file; nothing, with a fault told, where it is none."""
        content = cell.content
        if cell.wrong:
            bare = content == "="
            self.tell(cell.place, cell.wrong, got="" if bare else _text(content),
                      hint="save the workbook in a spreadsheet program, or write the value" if bare else "")
            return None
        if isinstance(content, (datetime.datetime, datetime.date)) and isinstance(kind, Day):
            return Value(_text(content), cell.place, _text(content))
        if isinstance(content, (datetime.datetime, datetime.date, datetime.time, datetime.timedelta)):
            self._dated(cell, content)
            return None
        if cell.hundredths and isinstance(content, (int, float)):
            if not isinstance(kind, Number) or kind.sign != "%":
                self.tell(cell.place, "must not be a percentage", got=f"{content * 100:.{DIGITS}g} %",
                          hint="format the cell as text and write it again")
                return None
            content = float(format(content * 100, f".{DIGITS}g"))
        scalar = _resolved(kind, content)
        return Value(scalar, cell.place, _text(scalar))

    def _dated(self, cell: Cell, content: CellContent) -> None:
        """Tell a cell that a spreadsheet program turned into a date or a time."""
        if isinstance(content, (datetime.datetime, datetime.date)):
            hint = (f"was it {content.month}/{content.day} or {content.day}/{content.month}? "
                    "Format the cell as text and write it again")
            self.tell(cell.place, "must not be a date: the spreadsheet program has made one of what was typed",
                      got=_text(content), hint=hint)
        else:
            self.tell(cell.place, "must not be a time: the spreadsheet program has made one of what was typed",
                      got=_text(content), hint="format the cell as text and write it again")


# --- small things about cells --------------------------------------------------------------------

def _head(text: str) -> tuple[str, str]:
    """Return the name of a column or setting as it is known here, and the unit in its brackets."""
    match = re.fullmatch(r"([^\[\]]*)(?:\[([^\[\]]*)\])?\s*\*?\s*", " ".join(text.split()))
    name, sign = (match[1], match[2] or "") if match else (text, "")
    return "_".join(re.split(r"[\s._]+", name.strip().lower())), sign.strip()


def _resolved(kind: Kind | None, content: object) -> Scalar:
    """Return what a cell means where its kind of value is wanted."""
    if isinstance(content, float):
        content = float(format(content, f".{DIGITS}g"))
        if content.is_integer() and abs(content) < 10 ** DIGITS and isinstance(kind, (WholeNumber, Words)):
            content = int(content)
    if isinstance(content, bool) or content is None:
        return content
    if isinstance(content, str):
        content = content.strip()
        if isinstance(kind, YesNo):
            return {YES: True, "true": True, NO: False, "false": False}.get(content.lower(), content)
        if isinstance(kind, Choice) and content.lower() in kind.words:
            return content.lower()
        if isinstance(kind, (Number, WholeNumber, Amount)):
            return resolve(content)
        return content
    if isinstance(content, int):
        return str(content) if isinstance(kind, Choice) else content
    return content if isinstance(content, float) else str(content)


def _parts(content: CellContent, sign: str) -> list[CellContent]:
    """Return the items of a list that stands in one cell."""
    if isinstance(content, str):
        return [part.strip() for part in re.split(sign, content) if part.strip()]
    return [content]


def _text(content: object) -> str:
    """Return what a cell holds as a message shows it."""
    if isinstance(content, datetime.datetime):
        return content.date().isoformat() if content.time() == datetime.time() else content.isoformat(" ")
    if isinstance(content, bool):
        return "true" if content else "false"
    if isinstance(content, float):
        return format(content, f".{DIGITS}g")
    return "" if content is None else str(content)


def _put(into: Value, key: str, value: Value, place: Place) -> None:
    assert isinstance(into.content, dict)
    into.content[key] = value
    into.keys.setdefault(key, place)


def _inside(into: Value, key: str, place: Place) -> Value:
    """Return the mapping under a key, a new one where there is none yet."""
    held = _held(into, key)
    if held is None:
        held = Value({}, place)
        _put(into, key, held, place)
    return held


def _append(into: Value, key: str, value: Value) -> None:
    """Add an entry to the list under a key."""
    held = _held(into, key)
    if held is None:
        _put(into, key, Value([value], value.place), value.place)
    elif isinstance(held.content, list):
        held.content.append(value)


def _held(value: Value, key: str) -> Value | None:
    return value.content.get(key) if isinstance(value.content, dict) else None
