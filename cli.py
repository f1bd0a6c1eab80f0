"""The command line: arguments, messages, exit statuses.

Exit statuses: 0 done; 1 findings, or exceptions under ``--strict``; 2 bad use or bad input; 3 no layout is possible;
4 the audit rejected the packet.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from layout.errors import Fault, JobError, LayoutError, NoLayout
from layout.files import free_name, save_done, write_drawing
from layout.garbage import seldom

if TYPE_CHECKING:
    from layout.compare import Row
    from layout.records import Finding
    from layout.units import Unit

DONE, FOUND, BAD, IMPOSSIBLE, REJECTED = range(5)
STOPPED = 130
"""What a shell reports of a program that Ctrl-C ended."""
BEST_SO_FAR = "best so far"
KEEP = "Ctrl-C once keeps the best so far"


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
    except KeyboardInterrupt as stop:
        click.echo(f"{stop if stop.args else 'stopped'}; nothing is written", err=True)
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
                raise KeyboardInterrupt("given up" if self._any else "stopped before there was any plan")
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


ALLOW_GAP = click.option("--allow-gap", is_flag=True, help="Closed runs need not close on plan.")


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="lapwright")
def main() -> None:
    """Plan self-adhering waterproofing sheet on foundation walls: drops, cuts, drawings, takeoff."""
    seldom()


@main.command()
@click.argument("jobs", type=click.Path(path_type=Path), nargs=-1, required=True, metavar="JOB...")
@click.option("-o", "--output", type=click.Path(path_type=Path), help="Packet folder (default: JOB-packet beside JOB; "
              "with --together: jobs-together beside the first).")
@click.option("--together", is_flag=True, help="Many jobs, or folders of them, from one yard: one order.")
@click.option("--on", "scheduler", default="", metavar="ADDRESS",
              help="With --together: plan on the workers of a Dask scheduler, such as tcp://10.0.0.5:8786.")
@click.option("--workers", type=click.IntRange(1, 64), help="With --together: processes at once (default: one a core).")
@click.option("--stock", "book", type=click.Path(path_type=Path), help="Stock book: use what is promised to nobody.")
@click.option("--take", is_flag=True, help="With --stock: promise what the plan uses to the job.")
@click.option("--thorough", is_flag=True, help="Search on where it takes long: minutes, not seconds.")
@click.option("--strict", is_flag=True, help="Exit with 1 when the plan has exceptions.")
@click.option("--layers", type=click.Path(path_type=Path), help="An office's own layer names, colours and lineweights.")
@click.option("--paper", default="", help="Paper of sheets and pages: letter, tabloid, ARCH D, A4, A3 or A1.")
@click.option("--scale", default="", help="Scale of elevations, such as 1:48 (default: for fewest sheets).")
@click.option("--dxf", default="R2010", help="Release of the DXF: R12, R2000, R2010 or R2018.")
@click.option("--flat", is_flag=True, help="DXF of text and lines only, and a file a sheet.")
@click.option("--blocks", is_flag=True, help="Also write each face as a DXF of its own, to be inserted.")
@ALLOW_GAP
def plan(
    jobs: tuple[Path, ...], output: Path | None, together: bool, scheduler: str, workers: int | None,
    book: Path | None, take: bool, thorough: bool, strict: bool, layers: Path | None, paper: str, scale: str, dxf: str,
    flat: bool, blocks: bool, allow_gap: bool,
) -> None:
    """Plan JOB and write its packet; with --together, many jobs from one yard of rolls and remnants."""
    if take and book is None:
        raise click.UsageError("--take goes with --stock FILE")
    if together:
        plan_many(jobs, output, scheduler=scheduler, workers=workers, book=book, take=take, thorough=thorough,
                  strict=strict, paper=paper)
        return
    if len(jobs) > 1 or scheduler or workers:
        raise click.UsageError("several jobs, --on and --workers go with --together")
    job = jobs[0]
    with plain_errors():
        from layout.drawing import check_asked
        from layout.drawing.options import DrawingOptions, read_scale
        from layout.job import read_job
        from layout.packet import summary_lines
        from layout.pipeline import give_back, make_plan, plan_from_stock, write_packet
        from layout.readback import warnings

        folder = output if output is not None else job.with_name(job.stem + "-packet")
        watch = Watch()
        with watch.running() as progress:
            asked = DrawingOptions(layers, paper, read_scale(scale), dxf.upper(), flat, blocks)
            check_asked(asked)
            read = read_job(job, allow_gap=allow_gap)
            if book is None:
                made = make_plan(read, thorough=thorough, ask_rules=True, progress=progress, stop=watch.stop)
            else:
                made = plan_from_stock(read, book, take=take, thorough=thorough, progress=progress, stop=watch.stop)
            findings = write_packet(made, folder, asked=asked, progress=progress)
            if findings and book is not None and take:
                give_back(read, book)
        for line in warning_lines(job, warnings(read)):
            click.echo(line, err=True)
        for line in summary_lines(made, folder):
            click.echo(line)
        leave_if_rejected(findings, folder)
        if strict and made.exceptions:
            sys.exit(FOUND)


def leave_if_rejected(findings: Sequence[Finding], folder: Path) -> None:
    """Print what the audit found in a packet, and exit; go on where it found nothing."""
    if findings:
        for finding in findings:
            click.echo(finding.line(), err=True)
        click.echo(f"the audit rejected this plan; it is in {folder.name}-rejected", err=True)
        sys.exit(REJECTED)


def write_new(file: Path, data: bytes) -> None:
    """Write a file that must not exist yet."""
    try:
        with open(file, "xb") as out:
            out.write(data)
    except FileExistsError:
        raise LayoutError(f"{file}: already exists; choose another name") from None


def warning_lines(job: Path, warnings: Sequence[Fault]) -> list[str]:
    """Return what in a job file reads as a mistake, one line each, with its place in the file."""
    from layout.job import placed

    return [replace(each, where=f"warning: {each.where}").text(str(job)) for each in placed(job, warnings)]


@main.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.argument("action", type=click.Choice(["list", "add", "remove", "return", "cut"]), default="list")
@click.argument("what", default="")
@click.option("--product", default="", help="Name of the product, as jobs call it.")
@click.option("--width", default="", help="Width of the product's rolls.")
@click.option("--length", default="", help="Length of the remnant or of the rolls.")
@click.option("--remnant-width", default="", help="Width of the remnant (default: the product's).")
@click.option("--tag", default="", help="Tag of the remnant.")
@click.option("--place", default="", help="Where the remnant lies.")
@click.option("--rolls", type=int, default=None, help="Rolls of --length put in, or taken out when below 0.")
@click.option("--units", type=click.Choice(["in", "mm"]), default="in", help="Unit of a new book.")
def stock(
    file: Path, action: str, what: str, product: str, width: str, length: str, remnant_width: str, tag: str,
    place: str, rolls: int | None, units: str,
) -> None:
    """List and change the stock book FILE: what lies in the yard, and to whom it is promised.

    list: everything. add: a remnant (--product --width --tag --length) or rolls (--product --width --length --rolls);
    a new book is begun where there is none. remove: a remnant (--product --width --tag). return JOB: everything
    promised to a job is free again. cut PACKET: what the packet uses is gone, and what it leaves is put in.
    """
    with plain_errors():
        from layout.stock import act

        for line in act(file, action, what, {
            "product": product, "width": width, "length": length, "remnant-width": remnant_width, "tag": tag,
            "place": place, "units": units,
        }, rolls):
            click.echo(line)


def plan_many(
    jobs: Sequence[Path], output: Path | None, *, scheduler: str, workers: int | None, book: Path | None, take: bool,
    thorough: bool, strict: bool, paper: str,
) -> None:
    """Plan many jobs from one yard."""
    with plain_errors():
        from layout import stock
        from layout.drawing import check_asked
        from layout.drawing.options import DrawingOptions
        from layout.together import (
            Alone, Cluster, Common, Cores, Engine, Report, plan_together, promises, report_lines, sources,
        )

        found = sources(jobs)
        folder = output if output is not None else Path(os.path.abspath(jobs[0])).parent / "jobs-together"
        check_asked(DrawingOptions(paper=paper))
        watch = Watch()
        engine: Engine = Cluster(scheduler) if scheduler else Alone() if workers == 1 else Cores(workers)
        with watch.running() as progress:
            held = stock.load(book) if book is not None else None

            def commit(report: Report) -> None:
                if book is not None and take:
                    stock.change(book, lambda now: promises(now, report))

            try:
                report = plan_together(
                    found, folder, engine=engine, common=Common(held), thorough=thorough, paper=paper,
                    progress=progress, stop=watch.stop, before=commit)
            finally:
                engine.close()
        for line in report_lines(report, folder):
            click.echo(line)
        for job in report.lines:
            for fault in job.faults:
                click.echo(fault, err=True)
        if report.status:
            sys.exit(report.status)
        if strict and any(job.exceptions for job in report.lines):
            sys.exit(FOUND)


@main.command()
@click.argument("path", type=click.Path(path_type=Path))
@click.option("--draw", type=click.Path(path_type=Path), metavar="FILE.svg",
              help="Draw the walls of a job, from above and in elevation, for holding against the drawing.")
@ALLOW_GAP
def check(path: Path, draw: Path | None, allow_gap: bool) -> None:
    """Check a job file for every fault and tell what was read of it, or audit a packet folder."""
    with plain_errors():
        if not path.is_dir():
            check_file(path, draw, allow_gap)
            return
        from layout.pipeline import audit_folder

        if draw is not None:
            raise LayoutError(f"{path}: is a packet, which has its drawings; --draw takes a job file")

        findings = audit_folder(path)
        for finding in findings:
            click.echo(finding.line())
        if findings:
            sys.exit(FOUND)
        click.echo(f"{path}: no findings")


def check_file(path: Path, draw: Path | None, allow_gap: bool) -> None:
    """Tell what was read of a job file, and what in it reads as a mistake; draw its walls where that is asked for."""
    from layout.job import read_job
    from layout.readback import read_back, warnings

    job = read_job(path, allow_gap=allow_gap)
    if draw is not None:
        from layout.pipeline import draw_walls

        write_drawing(draw, draw_walls(job))
    for line in (*read_back(job), "", *warning_lines(path, warnings(job)), f"{path}: no faults"):
        click.echo(line)


@main.command()
@click.argument("packet", type=click.Path(path_type=Path))
@click.option("--progress", "progress_files", multiple=True, type=click.Path(path_type=Path),
              help="What is cut and hung and what happened: the file that the packet's page saves, or the texts of its "
                   "codes. May be given again, once a phone.")
@click.option("--job", "job_file", type=click.Path(path_type=Path), help="The changed job (default: the packet's own).")
@click.option("--with", "changes", multiple=True, metavar="CHANGE",
              help="A change such as runs.A.faces.South.sleeves.P1.at=21'-0\". May be given again.")
@click.option("--cut", multiple=True, metavar="TAG", help="A piece, drop or roll that is cut. May be given again.")
@click.option("--hung", multiple=True, metavar="TAG", help="A piece, drop or roll that hangs. May be given again.")
@click.option("--spoilt", multiple=True, metavar="TAG", help="A piece or drop whose sheet is spoilt: it is cut again.")
@click.option("--wrong", multiple=True, metavar="TAG=LxW", help="A piece that was cut wrong, and its size now.")
@click.option("--elsewhere", multiple=True, metavar="TAG=RUN.FACE:LEFT",
              help="A piece that hangs elsewhere: its left edge, from the left end of a face.")
@click.option("--roll", "rolls", multiple=True, metavar="ROLL=WHAT",
              help="R05=short:60'-2\" (its true length), R05=damaged:10'-0\":14'-0\" (from, to), or R05=lost.")
@click.option("--delivered", multiple=True, metavar="LENGTH=COUNT",
              help="How many rolls of a length were delivered in all, such as 66'-8\"=4.")
@click.option("--remnant", "remnants", multiple=True, metavar="TAG=LxW", help="A remnant that was found.")
@click.option("-o", "--output", type=click.Path(path_type=Path), help="New packet (default: PACKET-revised beside it).")
def revise(
    packet: Path, progress_files: tuple[Path, ...], job_file: Path | None, changes: tuple[str, ...],
    cut: tuple[str, ...], hung: tuple[str, ...], spoilt: tuple[str, ...], wrong: tuple[str, ...],
    elsewhere: tuple[str, ...], rolls: tuple[str, ...], delivered: tuple[str, ...], remnants: tuple[str, ...],
    output: Path | None,
) -> None:
    """Plan again what changed in the field: what is cut in PACKET stays cut, what is hung stays where it hangs."""
    with plain_errors():
        from layout.packet import summary_lines
        from layout.pipeline import write_packet
        from layout.revise import Options, progress_json, revised

        packet = Path(os.path.abspath(packet))
        folder = output if output is not None else packet.with_name(packet.name + "-revised")
        if os.path.realpath(folder) == os.path.realpath(packet):
            raise LayoutError(f"{folder}: the new packet needs a folder of its own")
        watch = Watch()
        with watch.running() as progress:
            made = revised(
                packet, progress_files=progress_files, job_file=job_file, changes=changes, cut=cut, hung=hung,
                options=Options(spoilt, rolls, delivered, remnants, wrong, elsewhere), progress=progress,
                stop=watch.stop)
            findings = write_packet(made.plan, folder, progress=progress)
        saved = findings or save_done(
            folder.with_name(folder.name + "-progress.json"), progress_json(made.plan, made.done))
        for line in (*made.words, "", *made.costs, *summary_lines(made.plan, folder)):
            click.echo(line)
        leave_if_rejected(findings, folder)
        click.echo(saved)


@main.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--shape", type=click.Choice(["ell", "rectangle", "wall"]), default="ell", show_default=True,
              help="What the starter shows.")
@click.option("--metric", is_flag=True, help="In millimetres instead of inches.")
@click.option("--from", "source", type=click.Path(path_type=Path), help="Take this job instead of the starter.")
@ALLOW_GAP
def new(file: Path, shape: str, metric: bool, source: Path | None, allow_gap: bool) -> None:
    """Write a starter job to FILE: a workbook to fill in where FILE ends in .xlsx, else a commented job file.

    With --from an existing job is written: YAML as a workbook, or a workbook as YAML. An existing FILE is left alone.
    """
    with plain_errors():
        from layout.job import as_file, echo, read_job, starter

        text = echo(read_job(source, allow_gap=allow_gap)) if source else starter(shape, metric=metric)
        write_new(file, as_file(text, file))
        click.echo(f"{file}: written; plan it with: lapwright plan {file}")


@main.command()
@click.argument("job", type=click.Path(path_type=Path), required=False)
@click.option("-o", "--output", type=click.Path(path_type=Path), help="Packet folder (default: JOB-packet beside JOB).")
@click.option("--port", type=click.IntRange(0, 65535), default=0, help="Where to listen (default: any free port).")
@click.option("--no-browser", is_flag=True, help="Only print the page's address.")
def edit(job: Path | None, output: Path | None, port: int, no_browser: bool) -> None:
    """Open a page, on this machine only, that draws JOB as you type it and plans it.

    Without JOB a new one is begun: job.yaml in this folder, or the next free name. It is written when something is
    first entered, and saved after each change.
    """
    with plain_errors():
        try:
            from layout.page.server import serve_page
        except ImportError as error:
            raise LayoutError(f"edit needs what is not installed here ({error.name}): "
                              "pip install 'lapwright[page]'") from None
        import threading
        import webbrowser

        file = job if job is not None else free_name(Path("job.yaml"))
        if file.is_dir():
            raise LayoutError(f"{file}: is a folder, not a job file")
        if not file.absolute().parent.is_dir():
            raise LayoutError(f"{file}: there is no such folder to write it in")

        def ready(address: str) -> None:
            click.echo(f"{file}: open on this machine only, at {address}")
            click.echo("Ctrl-C ends it; every change is saved by then.")
            if not no_browser:
                threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()

        serve_page(file, output or file.with_name(file.stem + "-packet"), port=port, ready=ready)


@main.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("-o", "--output", type=click.Path(path_type=Path), required=True, help="The job file to write.")
@click.option("--as", "layers", multiple=True, metavar="WORD=LAYER",
              help="Read a layer as wall, footing, grade, opening, window, door, vent, sleeve or datum, or as none. "
                   "May be given again; other layers are then no longer read as that.")
@click.option("--unit", default="", help="What the file is in: in, ft, mm, cm or m (default: what it says itself).")
@click.option("--window", default="", metavar="X1,Y1,X2,Y2",
              help="Read only what lies in this window of model space [drawing units].")
@click.option("--gap", default="", help="How far ends may be apart, and sides out of plumb (1/16 in or 1 mm).")
@click.option("--trim", default="", metavar="outer|inner",
              help="Which of two rectangles around an opening is the opening in the concrete.")
@click.option("--datum", default="", metavar="Y,…|drawn",
              help="Elevation 0 on the page, for all rows or for each from the top [drawing units]; or drawn: walls of "
                   "a row jump as they are built.")
@click.option("--accept-size", is_flag=True, help="Go on with sizes that no foundation has.")
@click.option("--fresh", is_flag=True, help="Read a DXF of a packet by its lines alone, not with what it carries.")
@click.option("--draw", type=click.Path(path_type=Path),
              help="Also draw what was read over what was there, as SVG; faults are marked in it.")
@click.option("--storey", multiple=True, metavar="NAME", help="Of a model: read this storey. May be given again.")
@click.option("--side", default="", metavar="left|right", help="Of a model: the soil's side of walls as drawn.")
@click.option("--leave-out", multiple=True, metavar="GLOBALID", help="Of a model: not read. May be given again.")
def trace(
    file: Path, output: Path, layers: tuple[str, ...], unit: str, window: str, gap: str, trim: str, datum: str,
    accept_size: bool, fresh: bool, draw: Path | None, storey: tuple[str, ...], side: str,
    leave_out: tuple[str, ...],
) -> None:
    """Trace walls to a job file: elevations in a DXF file, a building model (IFC), or a survey (CSV).

    DXF: draw each wall as seen from the soil side, full size, in model space: one outline a wall, its bottom edge the
    top of the footing. Words in the names of layers say what is what; lapwright docs trace tells all of it.

    IFC: walls below grade with their footings, openings and pipes become runs by their outer faces. CSV: a line a
    station, with columns run, face, station (or easting and northing), top, footing and grade.

    Whatever is not understood is a fault, told with its place; then no job is written. An existing file is left alone.
    """
    import logging

    logging.getLogger("ezdxf").setLevel(logging.CRITICAL + 1)  # what it finds is told as a fault, or counted
    with plain_errors():
        from layout.job.ways_in import trace_file

        for made in (output, draw):
            if made is not None and made.exists():
                raise LayoutError(f"{made}: already exists; choose another name")
        traced = trace_file(file, layers=layers, unit=unit, window=window, gap=gap, trim=trim, datum=datum,
                            accept_size=accept_size, fresh=fresh, draw=draw, storeys=storey, side=side,
                            without=leave_out)
        write_new(output, traced.text.encode())
        for line in traced.told:
            click.echo(line)
        if draw is not None:
            click.echo(f"{draw}: written; look at it: it shows what was read and what was passed over")
        fill = "fill in what it marks, then " if "FILL IN" in traced.text else ""
        click.echo(f"{output}: written; {fill}plan it with: lapwright plan {output}")


@main.command()
@click.option("--progress", is_flag=True, help="That of the progress file instead, which the packet's page saves.")
def schema(progress: bool) -> None:
    """Print the JSON Schema of the job file, for editors."""
    from layout.job import schema as job_schema

    if progress:
        from layout.revise import progress_schema

        click.echo(json.dumps(progress_schema(), indent=2))
        return
    click.echo(json.dumps(job_schema(), indent=2))


def show_page(page_name: str, part: str = "", as_csv: bool = False) -> None:
    """Print a page of reference, at most 100 columns wide."""
    with plain_errors():
        from rich.console import Console

        from layout.reference import layer_table, page

        console = Console(width=min(100, shutil.get_terminal_size((100, 24)).columns))
        for each in () if as_csv else page(page_name, part):
            console.print(each)
        if as_csv:
            click.echo(layer_table(), nl=False)


for name, about, more in (
    ("rules", "Print the rules of a job: default in inches and in millimetres, meaning.", None),
    ("keys", "Print the keys of a job file, its takeoff's included; or of a PART such as runs.faces or labour.",
     click.Argument(["part"], default="")),
    ("layers", "Print the layers of the DXF and SVG files: use, name, meaning.",
     click.Option(["--csv", "as_csv"], is_flag=True, help="As a mapping to change and hand in with plan --layers.")),
    ("limits", "Print how large a job and other files may be.", None),
    ("docs", "Print a topic at length, such as trace; without TOPIC the list of topics.",
     click.Argument(["part"], default="", metavar="[TOPIC]")),
):
    main.add_command(click.Command(name, callback=partial(show_page, name), params=[more] if more else [], help=about))


@main.command()
@click.argument("job", type=click.Path(path_type=Path))
@click.option("--with", "changes", multiple=True, metavar="CHANGE",
              help="One more scenario: side_lap=3, 'sheet.width=39 3/8', runs.A.flow=left, several joined by commas, "
                   "or another job file. May be given again.")
@click.option("--rules", is_flag=True, help="Try every single change of the rules that might take less sheet.")
@click.option("--csv", "csv_file", type=click.Path(path_type=Path), help="Also write the table as CSV.")
@click.option("--json", "json_file", type=click.Path(path_type=Path), help="Also write the table as JSON.")
@click.option("--svg", "svg_file", type=click.Path(path_type=Path), help="Also draw where each one's sheet goes.")
@click.option("--wide", is_flag=True, help="Every figure, each with its difference from the first.")
@ALLOW_GAP
def compare(
    job: Path, changes: tuple[str, ...], rules: bool, csv_file: Path | None, json_file: Path | None,
    svg_file: Path | None, wide: bool, allow_gap: bool,
) -> None:
    """Plan JOB under other rules, rolls or directions, side by side, the cheapest for the whole job first.

    Where the rules say courses: true, or with --with courses=true, the sheet is also laid in horizontal courses.
    """
    with plain_errors():
        from layout.compare import (
            compare as plan_all, compare_rules, comparison_csv, comparison_json, cost_picture, verdict,
        )
        from layout.scenarios import read_scenarios

        for file in (csv_file, json_file, svg_file):
            if file is not None and not file.parent.is_dir():
                raise LayoutError(f"{file}: there is no such folder to write it in")
        scenarios = read_scenarios(job, changes, allow_gap=allow_gap)
        unit = scenarios[0].job.unit
        watch = Watch("shown")
        with watch.running() as progress:
            tried = compare_rules(scenarios[0], progress=progress, stop=watch.stop) if rules else ()
            others = scenarios[1:] if rules else scenarios
            planned = plan_all(others, unit=unit, progress=progress, stop=watch.stop) if others else ()
            rows = (*tried, *planned)
        show_comparison(rows, unit, wide=wide)
        for line in verdict(rows, rules=rules and not others):
            click.echo(line)
        if svg_file is not None:
            svg_file.write_text(cost_picture(rows, unit), encoding="utf-8")
        if csv_file is not None:
            csv_file.write_text(comparison_csv(rows), encoding="utf-8", newline="")
        if json_file is not None:
            json_file.write_text(comparison_json(rows, unit), encoding="utf-8", newline="")
        if not any(row.figures for row in rows):
            sys.exit(IMPOSSIBLE)


def show_comparison(rows: Sequence[Row], unit: Unit, *, wide: bool = False) -> None:
    """Print the comparison, the cheapest first: what matters within a screen's width, or every figure.

    Every figure takes one table on a wide terminal or in a file, as many as it takes on a narrow terminal.
    """
    from layout.compare import narrow_table, remarks, wide_tables

    if wide:
        from rich.console import Console

        shown = sys.stdout.isatty()
        console = Console() if shown else Console(width=10_000, color_system=None)
        for table in wide_tables(rows, unit, room=console.width, plain=not shown):
            console.print(table)
    for line in (*(() if wide else narrow_table(rows, unit)), *remarks(rows)):
        click.echo(line)


if __name__ == "__main__":
    os.environ.setdefault("MPLBACKEND", "Agg")
    main()
