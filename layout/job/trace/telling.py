"""What is told of how a drawing was read."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from layout.job.trace.drawn import ReadDrawing, DrawnWords
from layout.job.trace.joining import Moved
from layout.job.trace.naming import Titles
from layout.job.trace.reader import roles_of_layers
from layout.job.trace.walls import DrawnWall
from layout.job.trace.write import RunDrawn
from layout.job.tree import show
from layout.units import Unit, round_ticks, tape

_SHOWN = 12
"""Most faces of a run, or layers, named in one line."""
_MOST_NAMED = 60
"""Most walls whose texts are told one by one."""


@dataclass(frozen=True)
class Named:
    """Which text named a wall; None when none did."""

    run: str
    face: str
    word: DrawnWords | None
    wall: DrawnWall


def told_of(
    runs: Sequence[RunDrawn], named: Sequence[Named], titles: Titles, sheet: ReadDrawing, moved: Moved, unit: Unit, *,
    datums: bool, told_datum: bool, own: bool = False,
) -> list[str]:
    """Return what there is to say of how the drawing was read, one line a matter.

    Parameters
    ----------
    runs
        The walls.
    named, titles
        Which texts named them, and which might have.
    sheet
        What was read of the drawing, and what was not.
    moved
        How far anything was moved.
    unit
        The job's unit.
    datums, told_datum
        Datum lines are drawn; the drafter said where elevation 0 is.
    own
        The drawing is one of our own, which carries its job.
    """
    lines: list[str] = []
    for run in runs:
        faces = [f"{face.name} {tape(face.length, unit)}" for face in run.faces[:_SHOWN]]
        more = f", and {len(run.faces) - _SHOWN} more" if len(run.faces) > _SHOWN else ""
        openings = sum(len(face.openings) for face in run.faces)
        sleeves = sum(len(face.sleeves) for face in run.faces)
        lines.append(f"run {run.name}: {', '.join(faces)}{more}; openings: {openings}, sleeves: {sleeves}")
        footings = [y for face in run.faces for _, y in face.footing]
        tops = [y for face in run.faces for _, y in face.top]
        lines.append(f"heights of run {run.name}: footing {_span(footings, unit)}, top {_span(tops, unit)}")
    lines += _names(named, titles)
    lines += [f"read as {role}: {layers}" for role, layers in roles_of_layers(sheet)]
    if sheet.unit_note:
        lines.append(sheet.unit_note)
    if sheet.repairs:
        lines.append(f"the file is damaged: repairs made to read it: {sheet.repairs}; something may be missing")
    if own:
        lines.append("elevation 0 and all that is not drawn: as in the job that the drawing carries")
    elif told_datum:
        lines.append("elevation 0: where --datum says")
    else:
        lines.append("elevation 0: " + ("the datum drawn for each run or wall, else " if datums else "")
                     + "the lowest point of each run's footings")
    lines += _unlike(sheet, unit)
    lines += _moved(moved, unit)
    lines += _passed_over(sheet)
    if not own:
        lines.append("not in a drawing, and filled in with usual values: rolls, ledges, corners, flow"
                     + (", footing depths" if any(face.depth is None for run in runs for face in run.faces) else "")
                     + "; look for FILL IN")
    return lines


def _span(levels: Sequence[int], unit: Unit) -> str:
    """Return the lowest and the highest of some levels as text."""
    low, high = tape(min(levels), unit), tape(max(levels), unit)
    return low if low == high else f"{low} to {high}"


def _names(named: Sequence[Named], titles: Titles) -> Iterator[str]:
    for one in named[:_MOST_NAMED]:
        if one.word is None:
            yield f"name of run {one.run}, {one.face}: no text names it"
        else:
            (x, y) = one.word.place.at
            above = one.word.middle[1] > one.wall.box[3]
            below = one.word.middle[1] < one.wall.box[1]
            where = "above it" if above else "below it" if below else "on it"
            yield f"name of run {one.run}, {one.face}: the text {show(one.word.text)} {where}, at ({x:.7g}, {y:.7g})"
    if len(named) > _MOST_NAMED:
        yield f"and {len(named) - _MOST_NAMED} more walls named so"
    if titles.doubtful:
        texts = list(dict.fromkeys(show(word.text) for word in titles.doubtful))[:_SHOWN]
        yield f"texts that might name the wall above them or the one below, and so name none: {', '.join(texts)}"


def _unlike(sheet: ReadDrawing, unit: Unit) -> Iterator[str]:
    """Yield the dimensions that say another length than they measure: is the drawing not to scale?"""
    for place, written, measured in sheet.unlike[:_SHOWN]:
        yield f"a dimension says {show(written)} and measures {tape(round_ticks(measured, 'nearest'), unit)}: " \
            f"{place.text()}; lengths were taken as drawn"
    if len(sheet.unlike) > _SHOWN:
        yield f"and {len(sheet.unlike) - _SHOWN} more dimensions say another length than they measure"


def _moved(moved: Moved, unit: Unit) -> Iterator[str]:
    whole = "sixteenths of an inch" if unit.name == "in" else "millimetres"
    if moved.most:
        yield f"anything was moved by {distance(moved.most, unit)}, to whole {whole}"
    else:
        yield f"nothing was moved: every length is in whole {whole}"
    if moved.counts:
        yield "; ".join(f"{what}: {count}" for what, count in sorted(moved.counts.items()))


def distance(ticks: float, unit: Unit) -> str:
    """Return the most that something was moved by as text, never as 0 when it is more.

    Examples
    --------
    >>> from layout.units import INCH
    >>> distance(0.32, INCH), distance(0.0002, INCH)
    ('at most 0.0200"', 'less than 0.0001"')
    """
    size, least, mark = (ticks / unit.ticks, 0.0001, '"') if unit.name == "in" else (ticks, 0.001, " mm")
    places = 4 if unit.name == "in" else 3
    return f"at most {size:.{places}f}{mark}" if size >= least else f"less than {least}{mark}"


def _passed_over(sheet: ReadDrawing) -> Iterator[str]:
    """Yield what was not read, by number."""
    if sheet.notes:
        yield "passed over: " + ", ".join(f"{count} x {what}" for what, count in sorted(sheet.notes.items()))
    if sheet.others:
        yield f"not read: {sum(sheet.others.values())} on other layers: {_layers(sheet.others)}"
    for why, counts in sorted(sheet.unseen.items()):
        yield f"not read: {sum(counts.values())} {why}: {_layers(counts)}"
    for name, path in sorted(sheet.references.items())[:_SHOWN]:
        yield f"not read: the reference {show(name)} to the file {show(path)}; bind it to have it read"
    if sheet.outside:
        yield f"not read: {sheet.outside} outside the window"


def _layers(counts: Counter[str]) -> str:
    names = [show(layer) for layer, _ in sorted(counts.items(), key=lambda item: (-item[1], item[0]))]
    return ", ".join(names[:_SHOWN]) + (", …" if len(names) > _SHOWN else "")
