"""Layers: what each is for, its name by the National CAD Standard's pattern, and how it looks.

A name is discipline, major group, minor group and status: Z contractor and shop drawings, N new work. An
office with names of its own gives a mapping file (``read_layers``).

The palette is two hues and greys. Blue is the sheet and water, orange is what must not be overlooked; blue
against orange stays apart in every common kind of colour blindness, which red against green does not. Nothing
is told by colour alone: each layer differs from its neighbours by linetype or weight too, so a black and white
print loses nothing, and no tint is darker than 15 % grey under text.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from layout.errors import DrawingError, Fault, JobError
from layout.files import read_text

MOST_BYTES = 100_000
"""Largest mapping file [bytes]; fewer than the csv module reads as one field."""
MOST_SHOWN = 60
"""Characters of a wrong value that a message shows."""

LineKind = Literal["solid", "dashed", "dotted", "centre"]

INK = "#1a1a1a"
GREY = "#6b6b6b"
BLUE = "#1f5a8c"
ORANGE = "#b85c00"

TONES: dict[str, tuple[str, float]] = {
    "paper": ("#ffffff", 1.0), "concrete": ("#efefec", 1.0), "sheet": (BLUE, 0.09), "reinforcing": (ORANGE, 0.10),
    "leftover": ("#f4f4f2", 1.0), "ink": (INK, 1.0),
}
"""Fills as (colour, opacity). Sheet is a thin wash, so that two plies come out darker than one, as they are."""

DASHES: dict[str, tuple[float, ...]] = {
    # plotted mm: mark, gap, …; after ISO 128: dashed is a hidden edge
    "solid": (), "dashed": (2.0, 1.0), "dotted": (0.4, 0.8), "centre": (6.0, 1.0, 1.0, 1.0),
}


@dataclass(frozen=True)
class Layer:
    """One layer.

    Parameters
    ----------
    use
        What makers of drawings call it.
    name
        Its name in a CAD file.
    colour
        On screen and paper, ``#rrggbb``.
    index
        Colour number in a CAD file, 1 to 255, for offices that plot by number.
    weight
        Line weight [1/100 mm].
    line
        Kind of line.
    meaning
        What is on it.
    plots
        False for what shows on the screen only.
    """

    use: str
    name: str
    colour: str
    index: int
    weight: int
    line: LineKind
    meaning: str
    plots: bool = True


LAYERS: dict[str, Layer] = {layer.use: layer for layer in (
    Layer("wall", "Z-WALL-OTLN-N", INK, 7, 50, "solid", "outline of the wall"),
    Layer("footing", "Z-FNDN-HIDD-N", GREY, 8, 25, "dashed", "footing edges behind the sheet"),
    Layer("grade", "Z-ELEV-GRAD-N", GREY, 8, 35, "centre", "finished grade"),
    Layer("opening", "Z-WALL-OPNG-N", INK, 7, 35, "solid", "openings"),
    Layer("sleeve", "Z-WALL-PENE-N", INK, 7, 35, "solid", "sleeves"),
    Layer("fold", "Z-MEMB-FOLD-N", GREY, 9, 18, "centre", "folds at the joint, the ledge and the corners"),
    Layer("piece", "Z-MEMB-PATT-N", BLUE, 150, 18, "dashed", "whole outline of each drop, seen where it is covered"),
    Layer("edge", "Z-MEMB-EDGE-N", BLUE, 170, 35, "solid", "edges of drops that lie on top"),
    Layer("lap", "Z-MEMB-LAPS-N", BLUE, 150, 13, "solid", "laps"),
    Layer("over", "Z-MEMB-OVER-N", BLUE, 170, 18, "solid", "marks from the drop on top to the one beneath"),
    Layer("closing", "Z-MEMB-CLSG-N", ORANGE, 30, 70, "dashed", "the closing seam"),
    Layer("strip", "Z-MEMB-STRP-N", ORANGE, 32, 25, "dotted", "strips at corners and at the joint"),
    Layer("collar", "Z-MEMB-COLR-N", ORANGE, 32, 25, "dotted", "collars around sleeves"),
    Layer("cover", "Z-MEMB-COVR-N", ORANGE, 32, 25, "dotted", "covers at footing corners and risers"),
    Layer("dab", "Z-MEMB-DABS-N", ORANGE, 30, 35, "solid", "dabs of mastic on points that no sheet holds"),
    Layer("drainage", "Z-DRNG-PATT-N", GREY, 8, 18, "dashed", "drainage board"),
    Layer("slit", "Z-MEMB-SLIT-N", ORANGE, 30, 35, "solid", "slits"),
    Layer("water", "Z-DRNG-FLOW-N", BLUE, 150, 35, "solid", "the way water runs, low and high points"),
    Layer("cut", "Z-SECT-MCUT-N", INK, 7, 50, "solid", "concrete cut through"),
    Layer("beyond", "Z-SECT-MBND-N", GREY, 8, 18, "solid", "what is seen past the cut"),
    Layer("membrane", "Z-SECT-MEMB-N", BLUE, 170, 70, "solid", "membrane and reinforcing in section"),
    Layer("board", "Z-SECT-DRNG-N", GREY, 8, 25, "solid", "drainage board and drain in section"),
    Layer("pattern", "Z-SECT-PATT-N", GREY, 9, 13, "solid", "hatching of cut material"),
    Layer("roll", "Z-DETL-ROLL-N", INK, 7, 35, "solid", "rolls"),
    Layer("cutting", "Z-DETL-CUTS-N", BLUE, 170, 35, "solid", "pieces on a roll"),
    Layer("leftover", "Z-DETL-LEFT-N", GREY, 8, 18, "dashed", "leftovers"),
    Layer("tag", "Z-ANNO-SYMB-N", INK, 7, 25, "solid", "tags and symbols"),
    Layer("flag", "Z-ANNO-EXCP-N", ORANGE, 30, 35, "solid", "flags where a rule could not be kept"),
    Layer("text", "Z-ANNO-TEXT-N", INK, 7, 25, "solid", "text"),
    Layer("note", "Z-ANNO-NOTE-N", INK, 7, 25, "solid", "notes and legend"),
    Layer("leader", "Z-ANNO-LEDR-N", GREY, 8, 13, "solid", "leaders"),
    Layer("dims", "Z-ANNO-DIMS-N", INK, 7, 18, "solid", "dimensions"),
    Layer("match", "Z-ANNO-MATC-N", ORANGE, 30, 50, "centre", "match lines"),
    Layer("schedule", "Z-ANNO-SCHD-N", INK, 7, 18, "solid", "tables"),
    Layer("title", "Z-ANNO-TTLB-N", INK, 7, 35, "solid", "title block and border"),
    Layer("viewport", "Z-ANNO-NPLT-N", GREY, 9, 13, "solid", "viewports", False),
)}

_COLUMNS = ("use", "name", "colour", "index", "weight", "line")
_NAME = re.compile(r"[^<>/\\\":;?*|=`,\x00-\x1f]{1,255}")


def layer_table() -> str:
    """Return the table of layers as a mapping file to start from: comma-separated, one layer a line."""
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow((*_COLUMNS, "meaning"))
    rows.writerows([*(getattr(layer, column) for column in _COLUMNS), layer.meaning] for layer in LAYERS.values())
    return text.getvalue()


def read_layers(path: Path) -> dict[str, Layer]:
    """Read an office's own layers; a layer or a column that is not given keeps its standard value.

    Parameters
    ----------
    path
        A comma-separated file whose first line names its columns: ``use`` and any of ``name``, ``colour``,
        ``index``, ``weight`` and ``line``.

    Returns
    -------
    dict of str to Layer
        Every layer by its use.

    Raises
    ------
    JobError
        With every fault found in the file.
    """
    layers = dict(LAYERS)
    faults: list[Fault] = []
    rows = csv.DictReader(io.StringIO(read_text(path, MOST_BYTES), newline=""))
    if "use" not in (rows.fieldnames or ()):
        raise JobError([Fault(1, "use", "must be a column of the first line")], str(path))
    for number, row in enumerate(rows, start=2):
        use = (row.get("use") or "").strip()
        if use not in LAYERS:
            faults.append(Fault(number, "use", "must be one of " + ", ".join(LAYERS), use[:MOST_SHOWN]))
            continue
        try:
            layers[use] = _remapped(layers[use], row)
        except ValueError as fault:
            column, rule, got = fault.args
            faults.append(Fault(number, column, rule, got[:MOST_SHOWN]))
    if faults:
        raise JobError(faults, str(path))
    return layers


def _remapped(layer: Layer, row: Mapping[str, str | None]) -> Layer:
    """Return a layer with what one row of a mapping file says."""
    given = {column: (row.get(column) or "").strip() for column in _COLUMNS}
    if given["name"]:
        if not _NAME.fullmatch(given["name"]):
            raise ValueError("name", "must be a layer name without < > / \\ \" : ; ? * | = ` or a comma", given["name"])
        layer = replace(layer, name=given["name"])
    if given["colour"]:
        if not re.fullmatch(r"#[0-9a-fA-F]{6}", given["colour"]):
            raise ValueError("colour", "must be like #1f5a8c", given["colour"])
        layer = replace(layer, colour=given["colour"].lower())
    layer = replace(layer, index=_whole(given, "index", 255, layer.index))
    layer = replace(layer, weight=_whole(given, "weight", 211, layer.weight))
    if given["line"]:
        if given["line"] not in DASHES:
            raise ValueError("line", "must be one of " + ", ".join(DASHES), given["line"])
        layer = replace(layer, line=given["line"])  # type: ignore[arg-type]
    return layer


def _whole(given: Mapping[str, str], column: str, most: int, standard: int) -> int:
    """Return a whole number of one row, or the standard one where the row has none."""
    text = given[column]
    if not text:
        return standard
    if not text.isdecimal() or not 1 <= int(text) <= most:
        raise ValueError(column, f"must be a whole number from 1 to {most}", text)
    return int(text)


def layer_of(use: str, layers: Mapping[str, Layer] | None = None) -> Layer:
    """Return the layer of a use; a use that no table knows is an error, never a guess."""
    table = LAYERS if layers is None else layers
    if use not in table:
        raise DrawingError(f"no layer is named for {use!r}")
    return table[use]
