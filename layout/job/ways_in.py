"""The ways walls come in besides the job file: a drawing, a building model, a survey; told apart by the file's name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from layout.errors import Fault, JobError
from layout.job.trace import Reading, Traced, trace

MODELS = (".ifc", ".ifczip", ".ifcxml")
SURVEYS = (".csv", ".tsv", ".txt")


def trace_file(
    path: Path, *, layers: Sequence[str] = (), unit: str = "", window: str = "", gap: str = "", trim: str = "",
    datum: str = "", accept_size: bool = False, fresh: bool = False, draw: Path | None = None,
    storeys: Sequence[str] = (), side: str = "", without: Sequence[str] = (),
) -> Traced:
    """Trace the walls in a file of any kind that is known.

    Parameters
    ----------
    path
        A DXF file, an IFC model or a CSV file.
    layers, unit, window, gap, trim, datum, accept_size, fresh
        As for ``layout.job.trace.trace``; a model and a survey take the unit and ``accept_size`` only.
    draw
        Where to write a picture of what was read of a drawing; it is written also where faults end the trace.
    storeys, side, without
        As for ``layout.job.ifc.trace_model``.

    Raises
    ------
    JobError
        With every fault of the file, or when an option does not go with its kind.
    """
    kind = path.suffix.lower()
    drawing = {"--as": layers, "--window": window, "--gap": gap, "--trim": trim, "--datum": datum, "--fresh": fresh,
               "--draw": draw}
    model = {"--storey": storeys, "--side": side, "--leave-out": without}
    if kind in MODELS:
        _only(drawing, "a drawing")
        from layout.job.ifc import trace_model
        from layout.job.ifc.apart import apart

        made: Traced = apart(trace_model, path, storeys=storeys, side=side, unit=unit, without=without,
                             accept_size=accept_size)
        return made
    if kind in SURVEYS:
        _only(drawing, "a drawing")
        _only(model, "a model")
        from layout.job.survey import trace_survey

        return trace_survey(path, unit=unit, accept_size=accept_size)
    _only(model, "a model")
    reading = Reading() if draw is not None else None
    try:
        return trace(path, layers=layers, unit=unit, window=window, gap=gap, trim=trim, datum=datum,
                     accept_size=accept_size, fresh=fresh, reading=reading)
    finally:
        if reading is not None and draw is not None and (reading.unit is not None):
            from layout.job.trace.picture import picture

            with open(draw, "x", encoding="utf-8", newline="\n") as out:
                out.write(picture(reading, title=path.name))


def _only(options: Mapping[str, object], what: str) -> None:
    """Refuse options that go with another kind of file."""
    faults = [Fault(0, option, f"must be given with {what} only") for option, value in options.items() if value]
    if faults:
        raise JobError(faults)
