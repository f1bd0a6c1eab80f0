"""The command line: arguments, messages, exit statuses.

Exit statuses: 0 done; 1 findings, or exceptions under ``--strict``; 2 bad use or bad input; 3 no layout is possible;
4 the audit rejected the packet.
"""

from __future__ import annotations

import gc
import json
import os
import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from layout.errors import JobError, LayoutError, NoLayout

if TYPE_CHECKING:
    from layout.compare import Row
    from layout.units import Unit

DONE, FOUND, BAD, IMPOSSIBLE, REJECTED = range(5)
STOPPED = 130
"""What a shell reports of a program that Ctrl-C ended."""
SELDOM = (100_000, 50, 50)
"""When garbage is looked for: a plan makes many records and little garbage, and looking takes time."""
BEST_SO_FAR = "best so far"
KEEP = "Ctrl-C once keeps the best so far"
FRAME = 3
"""What a table puts around each cell [characters]."""


@contextmanager
def plain_errors() -> Iterator[None]:
    """Turn what lapwright refuses into one plain line a fault and an exit status."""
    try:
        yield
    except JobError as error:
        for line in error.lines():
            click.echo(line, err=True)
        sys.exit(BAD)
    except NoLayout as error:
        click.echo(f"no layout is possible: {error}", err=True)
        sys.exit(IMPOSSIBLE)
    except KeyboardInterrupt:
        click.echo("stopped before there was any plan; nothing is written", err=True)
        sys.exit(STOPPED)
    except LayoutError as error:
        click.echo(str(error), err=True)
        sys.exit(BAD)
    except OSError as error:
        click.echo(f"{error.filename or 'file'}: {error.strerror or error}", err=True)
        sys.exit(BAD)


class Watch:
    """Shows progress on a terminal and hears the first Ctrl-C as a wish to stop early.

    Before there is a plan to keep, the first Ctrl-C ends the work at once.
    """

    def __init__(self, kept: str = "written") -> None:
        self.asked = False
        self._any = False
        self._kept = kept
        self._shown = sys.stderr.isatty()
        self._status: object | None = None

    def stop(self) -> bool:
        """Tell whether the user asked to stop."""
        return self.asked

    @contextmanager
    def running(self) -> Iterator[Callable[[str], None]]:
        """Yield the function that is told what is being done."""
        before = signal.getsignal(signal.SIGINT)

        def on_interrupt(number: int, frame: object) -> None:
            if self.asked or not self._any:
                raise KeyboardInterrupt
            self.asked = True
            click.echo(f"stopping: the best plan so far will be {self._kept} (Ctrl-C again to give up)", err=True)

        signal.signal(signal.SIGINT, on_interrupt)
        try:
            if not self._shown:
                yield self._heard
                return
            from rich.console import Console
            from rich.progress import Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

            columns = SpinnerColumn(), TimeElapsedColumn(), TextColumn("{task.description}", markup=False)
            with Progress(*columns, console=Console(stderr=True), transient=True) as shown:
                task = shown.add_task("reading", total=None)

                def tell(words: str) -> None:
                    self._heard(words)
                    shown.update(task, description=words + (f"   {KEEP}" if self._any else ""))

                yield tell
        finally:
            signal.signal(signal.SIGINT, before)

    def _heard(self, words: str) -> None:
        """Note whether there is a plan to keep: what is said of the search then names its cost."""
        self._any = self._any or BEST_SO_FAR in words


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="lapwright")
def main() -> None:
    """Plan self-adhering waterproofing sheet on foundation walls: drops, cuts, drawings, takeoff."""
    gc.set_threshold(*SELDOM)


@main.command()
@click.argument("job", type=click.Path(path_type=Path))
@click.option("-o", "--output", type=click.Path(path_type=Path), help="Packet folder (default: JOB-packet beside JOB).")
@click.option("--thorough", is_flag=True, help="Search on where it takes long: minutes, not seconds.")
@click.option("--strict", is_flag=True, help="Exit with 1 when the plan has exceptions.")
@click.option("--layers", type=click.Path(path_type=Path), help="An office's own layer names, colours and lineweights.")
@click.option("--paper", default="", help="Sheet size of the DXF: ARCH D, ANSI B, A1 or A3.")
def plan(
    job: Path, output: Path | None, thorough: bool, strict: bool, layers: Path | None, paper: str,
) -> None:
    """Plan JOB and write its packet."""
    with plain_errors():
        from layout.drawing import check_sheet
        from layout.job import read_job
        from layout.packet import summary_lines
        from layout.pipeline import make_plan, write_packet

        folder = output if output is not None else job.with_name(job.stem + "-packet")
        watch = Watch()
        with watch.running() as progress:
            check_sheet(layers=layers, paper=paper)
            read = read_job(job)
            made = make_plan(read, thorough=thorough, ask_rules=True, progress=progress, stop=watch.stop)
            findings = write_packet(made, folder, layers=layers, paper=paper, progress=progress)
        for line in summary_lines(made, folder):
            click.echo(line)
        if findings:
            for finding in findings:
                click.echo(finding_line(finding), err=True)
            click.echo(f"the audit rejected this plan; it is in {folder.name}-rejected", err=True)
            sys.exit(REJECTED)
        if strict and made.exceptions:
            sys.exit(FOUND)


def finding_line(finding: object) -> str:
    """Return an audit finding as one line."""
    from layout.records import Finding

    assert isinstance(finding, Finding)
    return f"{finding.number}: {finding.place}: {finding.what} (needed {finding.needed}, found {finding.found})"


@main.command()
@click.argument("path", type=click.Path(path_type=Path))
def check(path: Path) -> None:
    """Check a job file for every fault, or audit a packet folder."""
    with plain_errors():
        from layout.job import read_job

        if not path.is_dir():
            read_job(path)
            click.echo(f"{path}: no faults")
            return
        from layout.pipeline import audit_folder

        findings = audit_folder(path)
        for finding in findings:
            click.echo(finding_line(finding))
        if findings:
            sys.exit(FOUND)
        click.echo(f"{path}: no findings")


@main.command()
@click.argument("packet", type=click.Path(path_type=Path))
@click.option("--progress", "progress_file", type=click.Path(path_type=Path),
              help="What is cut and hung: the file that the packet's page saves.")
@click.option("--job", "job_file", type=click.Path(path_type=Path), help="The changed job (default: the packet's own).")
@click.option("--with", "changes", multiple=True, metavar="CHANGE",
              help="A change such as runs.A.faces.South.sleeves.P1.at=21'-0\". May be given again.")
@click.option("--cut", multiple=True, metavar="TAG", help="A piece, drop or roll that is cut. May be given again.")
@click.option("--hung", multiple=True, metavar="TAG", help="A piece, drop or roll that hangs. May be given again.")
@click.option("-o", "--output", type=click.Path(path_type=Path), help="New packet (default: PACKET-revised beside it).")
def revise(
    packet: Path, progress_file: Path | None, job_file: Path | None, changes: tuple[str, ...], cut: tuple[str, ...],
    hung: tuple[str, ...], output: Path | None,
) -> None:
    """Plan again what changed in the field: what is cut in PACKET stays cut, what is hung stays where it hangs."""
    with plain_errors():
        from layout.packet import summary_lines
        from layout.pipeline import write_packet
        from layout.revise import progress_json, revised

        packet = Path(os.path.abspath(packet))
        folder = output if output is not None else packet.with_name(packet.name + "-revised")
        if os.path.realpath(folder) == os.path.realpath(packet):
            raise LayoutError(f"{folder}: the new packet needs a folder of its own")
        watch = Watch()
        with watch.running() as progress:
            made = revised(packet, progress_file=progress_file, job_file=job_file, changes=changes, cut=cut, hung=hung,
                           progress=progress, stop=watch.stop)
            findings = write_packet(made.plan, folder, progress=progress)
        saved = findings or save_done(
            folder.with_name(folder.name + "-progress.json"), progress_json(made.plan, made.done))
        for line in (*made.words, *summary_lines(made.plan, folder)):
            click.echo(line)
        if findings:
            for finding in findings:
                click.echo(finding_line(finding), err=True)
            click.echo(f"the audit rejected this plan; it is in {folder.name}-rejected", err=True)
            sys.exit(REJECTED)
        click.echo(saved)


def save_done(file: Path, text: str) -> str:
    """Write what is done of a new plan beside its packet, for the packet's page to load; say where it is."""
    try:
        with open(file, "x", encoding="utf-8", newline="\n") as out:
            out.write(text)
    except FileExistsError:
        if file.read_bytes() != text.encode("utf-8"):
            return f"{file}: is there already and says something else about what is cut; it was left alone"
    return f"what is cut and hung of it: {file}"


@main.command()
@click.argument("file", type=click.Path(path_type=Path))
def new(file: Path) -> None:
    """Write a commented starter job to FILE; an existing file is left alone."""
    with plain_errors():
        from layout.job import starter

        try:
            with open(file, "x", encoding="utf-8", newline="\n") as out:
                out.write(starter())
        except FileExistsError:
            click.echo(f"{file}: already exists; choose another name", err=True)
            sys.exit(BAD)
        click.echo(f"{file}: written; plan it with: lapwright plan {file}")


@main.command()
@click.argument("dxf", type=click.Path(path_type=Path))
@click.option("-o", "--output", type=click.Path(path_type=Path), required=True, help="The job file to write.")
@click.option("--as", "layers", multiple=True, metavar="WORD=LAYER",
              help="Read a layer as wall, footing, grade, opening, window, door, vent, sleeve or datum, or as none. "
                   "May be given again; other layers are then no longer read as that.")
@click.option("--unit", default="", help="What the drawing is drawn in: in, ft, mm, cm or m (default: $INSUNITS).")
@click.option("--window", default="", metavar="X1,Y1,X2,Y2",
              help="Read only what lies in this window of model space [drawing units].")
def trace(dxf: Path, output: Path, layers: tuple[str, ...], unit: str, window: str) -> None:
    """Trace wall elevations drawn in any CAD program to a job file.

    Draw each wall as seen from the soil side, full size, in model space of a DXF file: one closed outline a wall, its
    bottom edge the top of the footing. Walls side by side are one run, left to right; each row of walls is a run, the
    top row first.

    What a layer is for is told by a word in its name, in capitals or not: WALL; FOOTING or FNDN (the footing's top as
    an open line, or its whole outline); GRADE (an open line across the wall); WINDOW, DOOR, VENT or OPENING (level
    rectangles); SLEEVE, PIPE or PENETRATION (circles); DATUM (a level line at elevation 0; without one, elevation 0
    is the lowest footing of the run). Layers with ANNO, TEXT, DIM, NOTE, TAG, SYMB, PATT or HATCH in their names are
    never read as these.

    The largest text on a wall, or above it by no more than its height, names it; W1 or P-2 beside an opening or a
    sleeve is its tag.

    Gaps, and sides out of plumb, of up to 1/16 in or 1 mm are closed. Everything else that is not understood on such
    a layer is a fault, told with its handle, layer and place; then nothing is written. An existing file is left alone.
    """
    import logging

    logging.getLogger("ezdxf").setLevel(logging.CRITICAL + 1)  # what it finds is told as a fault, or counted
    with plain_errors():
        from layout.job.trace import trace as trace_drawing

        if output.exists():
            click.echo(f"{output}: already exists; choose another name", err=True)
            sys.exit(BAD)
        traced = trace_drawing(dxf, layers=layers, unit=unit, window=window)
        try:
            with open(output, "x", encoding="utf-8", newline="\n") as out:
                out.write(traced.text)
        except FileExistsError:
            click.echo(f"{output}: already exists; choose another name", err=True)
            sys.exit(BAD)
        for line in traced.told:
            click.echo(line)
        click.echo(f"{output}: written; fill in what it marks, then plan it with: lapwright plan {output}")


@main.command()
def schema() -> None:
    """Print the JSON Schema of the job file, for editors."""
    from layout.job import schema as job_schema

    click.echo(json.dumps(job_schema(), indent=2))


@main.command()
@click.argument("job", type=click.Path(path_type=Path))
@click.option("--with", "changes", multiple=True, metavar="CHANGE",
              help="One more scenario: side_lap=3, 'sheet.width=39 3/8', runs.A.flow=left, several joined by commas, "
                   "or another job file. May be given again.")
@click.option("--rules", is_flag=True, help="Try every single change of the rules that might take less sheet.")
@click.option("--csv", "csv_file", type=click.Path(path_type=Path), help="Also write the table as CSV.")
@click.option("--json", "json_file", type=click.Path(path_type=Path), help="Also write the table as JSON.")
def compare(
    job: Path, changes: tuple[str, ...], rules: bool, csv_file: Path | None, json_file: Path | None,
) -> None:
    """Plan JOB under other rules, rolls or directions, side by side.

    Where the rules say courses: true, or with --with courses=true, the sheet is also laid in horizontal courses.
    """
    with plain_errors():
        from layout.compare import compare as plan_all, compare_rules, comparison_csv, comparison_json
        from layout.scenarios import read_scenarios

        for file in (csv_file, json_file):
            if file is not None and not file.parent.is_dir():
                raise LayoutError(f"{file}: there is no such folder to write it in")
        scenarios = read_scenarios(job, changes)
        unit = scenarios[0].job.unit
        watch = Watch("shown")
        with watch.running() as progress:
            tried = compare_rules(scenarios[0], progress=progress, stop=watch.stop) if rules else ()
            others = scenarios[1:] if rules else scenarios
            planned = plan_all(others, unit=unit, progress=progress, stop=watch.stop) if others else ()
            rows = (*tried, *planned)
        show_comparison(rows, unit)
        if csv_file is not None:
            csv_file.write_text(comparison_csv(rows), encoding="utf-8", newline="")
        if json_file is not None:
            json_file.write_text(comparison_json(rows, unit), encoding="utf-8", newline="")
        if not any(row.figures for row in rows):
            sys.exit(IMPOSSIBLE)


def show_comparison(rows: Sequence[Row], unit: Unit) -> None:
    """Print the comparison: one table on a wide terminal or into a file, as many as it takes on a narrow terminal."""
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    from layout.compare import cautions_for, cells, columns_for, headings, one_currency

    columns, currency = columns_for(rows), one_currency(rows)
    names = headings(unit, columns, currency=currency)
    written = [cells(row, rows[0], columns, currency=currency) for row in rows]
    console = Console() if sys.stdout.isatty() else Console(width=10_000, color_system=None)
    widths = [max(len(line[i]) for line in (names, *written)) + FRAME for i in range(len(names))]
    longest = max(len("scenario"), *(len(row.name) for row in rows)) + FRAME
    shares = tables_across(widths, console.width - min(longest, console.width // 3) - 1)
    for first, last in shares:
        table = Table(box=box.SIMPLE if sys.stdout.isatty() else box.ASCII2)
        table.add_column("scenario", max_width=None if len(shares) == 1 else console.width // 3 - FRAME)
        for name in names[first:last]:
            table.add_column(name, justify="right", no_wrap=True)
        for row, line in zip(rows, written):
            table.add_row(Text(row.name), *(Text(cell) for cell in line[first:last]))
        console.print(table)
    for row in rows:
        if row.why:
            click.echo(f"{row.name}: no layout is possible: {row.why}")
    for caution in cautions_for(rows):
        click.echo(f"{caution.topic}: {caution.text} ({caution.rule})")


def tables_across(widths: Sequence[int], room: int) -> list[tuple[int, int]]:
    """Return the first and last column of each of the fewest tables that are no wider than there is room."""
    shares: list[tuple[int, int]] = []
    first = 0
    for i in range(len(widths)):
        if i > first and sum(widths[first:i + 1]) > room:
            shares.append((first, i))
            first = i
    return [*shares, (first, len(widths))]


if __name__ == "__main__":
    os.environ.setdefault("MPLBACKEND", "Agg")
    main()
