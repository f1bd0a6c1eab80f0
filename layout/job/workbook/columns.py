"""The sheets of a job's workbook and their columns: what the form is written from and what it is read by.

Everything comes from the models of the job file, so a key added there is a column here. A sheet is either a list of
settings, one a row, or a table with one entry a row.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cache

from pydantic.fields import FieldInfo

from layout.job.extras import ExtrasPart
from layout.job.kind import Items, Kind
from layout.job.lengths import Elevations, Length, Range
from layout.job.limits import MAX_ELEVATION
from layout.job.model import FacePart, InfoPart, JobPart, OpeningPart, RulesPart, RunPart, SleevePart
from layout.job.part import Default, Part, without_default
from layout.job.quantities import Amount, Number
from layout.job.stock import RemnantPart, RollPart
from layout.job.walk import Key, keys_of
from layout.job.words import Choice, Words, YesNo
from layout.units import Unit

PRODUCTS = ("sheet", "strip", "drainage_board")
"""Products in rolls: their keys in the job file."""
PROFILES = ("top", "footing", "grade", "drain")
"""What points may belong to; the drain to a run, the others to a face."""
YES, NO = "yes", "no"


@dataclass(frozen=True)
class SheetColumn:
    """A column of a table, or one setting.

    Parameters
    ----------
    name
        As it is headed, with underscores for spaces.
    about
        What it is, for the comment.
    kind
        What is read from it; None for what is only looked up: the run, the face, the product.
    required
        It must be filled where its row is.
    choices
        What the drop-down list offers.
    path
        Where a setting stands in the job file.
    default
        What a setting left out counts as.
    """

    name: str
    about: str
    kind: Kind | None = None
    required: bool = False
    choices: tuple[str, ...] = ()
    path: tuple[str, ...] = ()
    default: Default | None = None

    def head(self, unit: Unit) -> str:
        """Return the heading, with the unit of bare numbers."""
        sign, words = self.sign(unit), self.name.replace("_", " ")
        return words if not sign or sign == "money" or words.endswith(" " + sign) else f"{words} [{sign}]"

    def meaning(self, unit: Unit) -> str:
        """Return what it is, and what counts in a job of a unit when it is left out."""
        if self.default is None:
            return self.about
        left_out = self.default.written(unit)
        words = " to ".join(map(str, left_out)) if isinstance(left_out, list) else str(left_out)
        return f"{without_default(self.about)} Left out: {words}."

    def sign(self, unit: Unit) -> str:
        """Return the unit of bare numbers; nothing where there is none."""
        kind = self.kind.kind if isinstance(self.kind, Items) else self.kind
        if isinstance(kind, (Length, Range, Elevations)):
            return unit.name
        if isinstance(kind, Amount):
            return kind.inch_unit if unit.name == "in" else kind.metric_unit
        return kind.sign if isinstance(kind, Number) else ""

    @property
    def is_text(self) -> bool:
        """Whether its cells are formatted as text, so that a spreadsheet program leaves 3/4 and 0001 alone."""
        return not isinstance(self.kind, Number)


@dataclass(frozen=True)
class FormSheet:
    """A sheet of the workbook.

    Parameters
    ----------
    name
        Its name.
    columns
        Its columns, or its settings.
    about
        What stands on it, in a line.
    settings
        It lists settings, one a row, instead of entries.
    required
        The workbook must have it.
    """

    name: str
    columns: tuple[SheetColumn, ...]
    about: str
    settings: bool = False
    required: bool = False
    by_name: Mapping[str, SheetColumn] = field(init=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "by_name", {column.name: column for column in self.columns})


_NAME = Words()
_RUN = SheetColumn("run", "Name of the run that it belongs to; may be left out where there is one run.", _NAME)
_FACE = SheetColumn("face", "Name of the face that it is on.", _NAME, required=True)


@cache
def sheets() -> tuple[FormSheet, ...]:
    """Return the sheets of a job's workbook in their order."""
    return (
        FormSheet("Job", (*_settings(InfoPart, ("job",)), *_top("units", "film_side_up"),
                          *_settings(JobPart, (), only=("sheet",), depth=1)), "What the job is, and the sheet.",
                  settings=True, required=True),
        FormSheet("Rolls", _rolls(), "Rolls that can be bought, and remnants: leftovers in stock.", required=True),
        FormSheet("Rules", tuple(_settings(RulesPart, ("rules",))),
                  "How the sheet must go on; what is left out keeps its default.", settings=True),
        FormSheet("Runs", tuple(_columns(RunPart)), "Chains of faces, and where water goes along them. Lists: a; b; c"),
        FormSheet("Faces", tuple(_faces()), "Walls from left to right, seen from the soil side.", required=True),
        FormSheet("Points", _points(), "Profiles that need more than one elevation, or two for grade; the run's "
                  "drain."),
        FormSheet("Openings", (_RUN, _FACE, *_columns(OpeningPart)), "Windows, doors, vents, hatches."),
        FormSheet("Sleeves", (_RUN, _FACE, *_columns(SleevePart)), "Pipes and pipe sleeves."),
        FormSheet("Takeoff", tuple(_settings(ExtrasPart, (), depth=1)),
                  "What else is counted and priced; what is left out whole is not counted.", settings=True),
        *(FormSheet(name.capitalize(), tuple(_columns(key.part)), key.info.description or "")
          for name, key in keys_of(ExtrasPart).items() if key.listed and key.part),
    )


def lists() -> dict[str, str]:
    """Return the job's keys that are lists with a sheet of their own, by the name of the sheet."""
    return {name.capitalize(): name for name, key in keys_of(ExtrasPart).items() if key.listed}


def _top(*names: str) -> Iterator[SheetColumn]:
    """Yield settings of the whole job."""
    for name in names:
        yield _column(name, keys_of(JobPart)[name], (name,))


def _settings(
    model: type[Part], path: tuple[str, ...], *, only: tuple[str, ...] = (), depth: int = 0,
) -> Iterator[SheetColumn]:
    """Yield the plain values of a part as settings, and those of the parts in it down to a depth."""
    for name, key in keys_of(model).items():
        if only and name not in only:
            continue
        if key.kind is not None:
            plain = path in (("job",), ("rules",))
            yield _column(name if plain else "_".join((*path, name)), key, (*path, name))
        elif key.part is not None and not key.listed and depth:
            yield from _settings(key.part, (*path, name), depth=depth - 1)


def _columns(model: type[Part] | None) -> Iterator[SheetColumn]:
    """Yield the plain values of a part as columns; a profile has none where one elevation alone will not do."""
    assert model is not None
    for name, key in keys_of(model).items():
        if key.kind is not None and not (isinstance(key.kind, Elevations) and not key.kind.single):
            yield _column(name, key, ())


def _faces() -> Iterator[SheetColumn]:
    """Yield the columns of a face: grade has two, at its left and right end."""
    yield SheetColumn("run", "Name of the run; may be left out where there is one run.", _NAME)
    for column in _columns(FacePart):
        if column.name != "grade":
            yield column
            continue
        yield replace(column, name="grade_left")
        yield replace(column, name="grade_right", about="Finished grade at the right end, where it is not level.")


def _level() -> Kind:
    """Return the kind of an elevation."""
    return Length("nearest", signed=True, most=MAX_ELEVATION)


def _points() -> tuple[SheetColumn, ...]:
    return (
        _RUN, SheetColumn("face", "Name of the face; empty for the run's drain.", _NAME),
        SheetColumn("profile", "What the point is of.", Choice(PROFILES), required=True, choices=PROFILES),
        SheetColumn("station", "From the left end of the face, or of the run for its drain. One given twice is a step.",
                    _level(), required=True),
        SheetColumn("elevation", "Elevation there.", _level(), required=True),
    )


def _rolls() -> tuple[SheetColumn, ...]:
    """Return the columns of rolls and remnants: a remnant is a row with a tag."""
    found = {column.name: column for model in (RollPart, RemnantPart) for column in _columns(model)}
    tag = found.pop("tag")
    return (
        SheetColumn("product", "What it is a roll of; left out: the sheet.", Choice(PRODUCTS), choices=PRODUCTS),
        SheetColumn("tag", "Of a remnant: its tag. Empty for rolls that can be bought.", tag.kind), *found.values(),
    )


def _column(name: str, key: Key, path: tuple[str, ...]) -> SheetColumn:
    choices: tuple[str, ...] = ()
    if isinstance(key.kind, Choice):
        choices = key.kind.words
    elif isinstance(key.kind, YesNo):
        choices = (YES, NO)
    return SheetColumn(name, _about(key.info), key.kind, required=key.info.is_required(), choices=choices, path=path,
                       default=key.info.default if isinstance(key.info.default, Default) else None)


def _about(info: FieldInfo) -> str:
    return info.description or ""
