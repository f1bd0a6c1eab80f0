"""Pages of reference: rules, keys, layers and limits as tables made from the program itself, and topics in ``docs/``.

Nothing here is said twice: defaults and meanings come from the models that read a job file, layers from the drawing's
own table, limits from the numbers that refuse what is larger.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from importlib import resources

from rich import box
from rich.console import RenderableType
from rich.markdown import Markdown
from rich.table import Table
from rich.text import Text

from layout.drawing.model.layers import LAYERS, MOST_BYTES as MOST_LAYER_BYTES, layer_table
from layout.errors import LayoutError
from layout.job import limits, survey
from layout.job.closing import GAP_TOLERANCE
from layout.job.form import Field, form
from layout.job.ifc import model as ifc
from layout.job.survey import table as survey_table
from layout.job.trace import curves, document, reader
from layout.job.workbook import package
from layout.revise.progress import MOST_BYTES as MOST_PROGRESS_BYTES
from layout.takeoff import MOST as MOST_OF_A_LINE
from layout.takeoff.timetable import MOST_DAYS
from layout.units import INCH, tape

__all__ = ["layer_table", "limit_rows", "page", "topic", "topics"]

SOURCES = (
    "The laps, collar_reach and cover_lap are published minimums: UFGS 07131, 3.4 (undated older edition; successor "
    "UFGS 07 13 53, Feb 2016) and ASTM D5898/D5898M-96 (R2021), 7.3; check the current editions. The other defaults "
    "are common practice.")
OF_KEYS = (
    "A key marked * must be given. What is left out of the takeoff is not counted, and a note says so; what has no "
    "price is listed as unpriced, never as zero.")
OF_LAYERS = (
    "Names follow the pattern of the US National CAD Standard (discipline Z: contractor and shop drawings; status N: "
    "new). Of the groups in them MEMB, FOLD, DRNG, OPNG, PENE, GRAD, EDGE, LAPS, OVER, CLSG, STRP, COLR, COVR, DABS, "
    "SLIT, FLOW, ROLL, CUTS, LEFT, EXCP, LEDR, HIDD, and PATT under MEMB, are ours; the others are the standard's, "
    "from memory. An office with names, colours or lineweights of its own hands in a mapping with plan --layers FILE: "
    "a CSV whose first line names the columns use and any of name, colour, index, weight, line; what is not given "
    "stays. "
    "samples/layers-iso13567.csv maps to the pattern of ISO 13567-2 (from memory: check your national annex); "
    "lapwright layers --csv prints a mapping to begin from.")
OF_LIMITS = (
    "What is larger is refused with its place, before anything is planned or written; a larger job is planned in "
    "parts. A closed run is at least as long as the sheet, and the drainage board, is wide, and its ends meet within "
    f"{tape(GAP_TOLERANCE['in'], INCH)} or {GAP_TOLERANCE['mm']} mm.")


def page(name: str, part: str = "") -> list[RenderableType]:
    """Return a page, as what rich prints.

    Parameters
    ----------
    name
        ``rules``, ``keys``, ``layers``, ``limits`` or ``docs``.
    part
        Of ``keys``: the part of a job file, by its keys joined by dots. Of ``docs``: the topic.

    Raises
    ------
    LayoutError
        When there is no such part or topic.
    """
    if name == "rules":
        return [_rules(), Text(), Text(SOURCES)]
    if name == "keys":
        return _keys(part)
    if name == "layers":
        layers = ([layer.use, layer.name, layer.meaning] for layer in LAYERS.values())
        return [_table(["use", "layer", "meaning"], layers, fold=2), Text(), Text(OF_LAYERS)]
    if name == "limits":
        return [_table(["of", "at most"], limit_rows(), fold=1), Text(), Text(OF_LIMITS)]
    return [Markdown(topic(part), hyperlinks=False)]


def topics() -> dict[str, str]:
    """Return the topics of ``docs``, each with its title."""
    files = sorted(resources.files("layout").joinpath("docs").iterdir(), key=lambda file: file.name)
    return {file.name.removesuffix(".md"): file.read_text(encoding="utf-8").splitlines()[0].removeprefix("# ")
            for file in files}


def topic(name: str) -> str:
    """Return the text of a topic in Markdown; without a name, the list of topics."""
    known = topics()
    if not name:
        return "\n".join(["`lapwright docs TOPIC` prints one of:", "",
                          *(f"- `{each}`: {title}" for each, title in known.items())])
    if name not in known:
        raise LayoutError(f"{name[:limits.MAX_NAME]}: is no topic; there are {', '.join(known)}")
    return resources.files("layout").joinpath("docs", f"{name}.md").read_text(encoding="utf-8")


def limit_rows() -> list[list[str]]:
    """Return what is limited and how much of it there may be, from the numbers that refuse what is larger."""
    mega, kilo = 1_000_000, 1_000
    most = limits
    return [
        ["job file", f"{most.MAX_BYTES // mega} MB; {most.MAX_LINES:,} lines of {most.MAX_LINE:,} characters; "
         f"{most.MAX_VALUES:,} values, aliases written out; {most.MAX_DEPTH} levels deep"],
        ["workbook", f"{package.MAX_UNPACKED // mega} MB unpacked; nothing below row {package.MAX_ROWS:,}"],
        ["runs, faces", f"{most.MAX_RUNS} runs; {most.MAX_FACES} faces together, each {most.MIN_FACE_LENGTH} to "
         f"{most.MAX_FACE_LENGTH} long and {most.MAX_WALL_HEIGHT} high"],
        ["openings, sleeves", f"{most.MAX_FEATURES_A_FACE} of each on one face; {most.MAX_FEATURES:,} together; "
         f"sleeves of {most.MIN_SLEEVE} and more; slots in a wall top, and faces past inside corners, {most.MIN_SLOT} "
         "wide and more"],
        ["points", f"{most.MAX_POINTS} in one profile; {most.MAX_POINTS_TOGETHER:,} in all profiles, lows and highs "
         "together"],
        ["drops, pieces", f"about {most.MAX_DROPS:,} drops, hung in about {most.MAX_PIECES:,} pieces"],
        ["rolls, remnants", f"{most.MAX_ROLLS} kinds of roll and {most.MAX_REMNANTS} remnants of one product, each "
         f"{most.MAX_ROLL_LENGTH} long and {most.MAX_SHEET_WIDTH} wide"],
        ["laps, clearances, ledges, strips, sleeves", most.MAX_DETAIL],
        ["other lists; names and tags", f"{most.MAX_LIST:,} entries; {most.MAX_NAME} characters"],
        ["elevations and stations", f"{most.MAX_ELEVATION} from 0"],
        ["dates; working days", f"{most.FIRST_YEAR} to {most.LAST_YEAR}; {MOST_DAYS:,}"],
        ["one line of the takeoff", f"{MOST_OF_A_LINE:,}, its quantity and its money; prices of rolls to the cent"],
        ["faults that are told", f"{most.MAX_FAULTS:,}; of more their number"],
        ["DXF to trace", f"{document.MAX_DXF_BYTES // mega} MB, binary {document.MAX_BINARY_BYTES // mega} MB; "
         f"{document.MAX_RECORDS:,} records; {reader.MAX_DRAWN:,} entities with blocks written out, "
         f"{reader.MAX_BLOCKS} levels deep; {reader.MAX_READ:,} lines and circles of {curves.MAX_CORNERS:,} points and "
         f"{reader.MAX_WORDS:,} texts on layers that are read"],
        ["IFC to trace", f"{ifc.MAX_IFC_BYTES // mega} MB; {ifc.MAX_ELEMENTS:,} walls, footings, openings and pipes of "
         f"{ifc.MAX_POINTS:,} points each"],
        ["survey", f"{survey.MAX_SURVEY_BYTES // mega} MB; {survey_table.MAX_ROWS:,} lines of "
         f"{survey_table.MAX_COLUMNS} columns"],
        ["progress file; layer mapping", f"{MOST_PROGRESS_BYTES // mega} MB; {MOST_LAYER_BYTES // kilo} kB"],
    ]


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]], *, fold: int) -> Table:
    """Return a table of text; the column at ``fold`` takes what room is left, and folds."""
    made = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for number, head in enumerate(heads):
        made.add_column(head, ratio=1 if number == fold else None, overflow="fold")
    for row in rows:
        made.add_row(*(Text(cell) for cell in row))
    return made


def _rules() -> Table:
    rows = ([field["key"], field["empty"]["in"], field["empty"]["mm"], field["help"]] for field in form()["RulesPart"])
    return _table(["rule", "inch", "metric", "meaning"], rows, fold=3)


def _keys(path: str) -> list[RenderableType]:
    """Return the keys of one part of a job file, and how to see those of the parts within it."""
    known = form()
    fields = known["JobPart"]
    for step in path.split(".") if path else ():
        within = {field["key"]: str(field["of"]) for field in fields if "of" in field}
        if step not in within:
            raise LayoutError(f"{path[:limits.MAX_NAME]}: {step[:limits.MAX_NAME]} is no part with keys of its own; "
                              f"here are {', '.join(within) or 'none'}")
        fields = known[within[step]]
    rows = ([field["key"] + ("*" if field["needed"] else ""), _kind(field), _empty(field), field["help"]]
            for field in fields)
    made: list[RenderableType] = [_table(["key", "kind", "left out", "meaning"], rows, fold=3), Text(), Text(OF_KEYS)]
    parts = [f"{path}.{field['key']}".lstrip(".") for field in fields if "of" in field]
    if parts:
        made += [Text(), Text("With keys of their own (lapwright keys PART): " + ", ".join(parts))]
    return made


def _kind(field: Field) -> str:
    if field["kind"] == "choice":
        return " | ".join(field["words"])
    if field["kind"] in ("parts", "list"):
        return f"list of {field.get('item', 'part')}s"
    return str(field["kind"])


def _empty(field: Field) -> str:
    inch, metric = str(field["empty"]["in"]), str(field["empty"]["mm"])
    return inch if inch == metric else f"{inch}, {metric}"
