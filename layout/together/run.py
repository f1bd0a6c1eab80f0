"""Many jobs from one yard: planned side by side, cut in the order of their start, written, and put in whole."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from layout.errors import JobError, LayoutError
from layout.files import read_bytes, start_of
from layout.job.shelf import Book, Shelf
from layout.packet.folder import whole_folder
from layout.integrated import never, quiet
from layout.records import DRAINAGE, MEMBRANE, STRIP, Cutting, Job, Product, Remnant
from layout.stock import find, name_of
from layout.together.engine import Engine, Lost
from layout.together.gather import Source
from layout.together.report import FORMAT, NAME, JobLine, Report, write_report
from layout.together.stock import Free, Lot, Served, Wanted, Yard, bought_rolls
from layout.together.work import BAD, JobFile, Failed, Finish, Finished, Planned, plan_one, write_one
from layout.together.yard import serve_jobs


LotKey = tuple[object, ...]
LAST = "9999"
"""Stands for the start or the delivery of a job that names none: it comes after all that do."""
KINDS = (MEMBRANE, STRIP, DRAINAGE)
MOST_BYTES = 50_000_000
"""A job file larger than this is not read."""


@dataclass(frozen=True)
class Common:
    """The stock book that all jobs share, or none."""

    book: Book | None = None

    def shelf(self, job: Job, product: Product) -> Shelf | None:
        """Return the shelf of a job's product."""
        if self.book is None or self.book.unit != job.unit:
            return None
        return find(self.book, (product.name, product.width))


@dataclass
class _Job:
    """One job on its way: its file, and what became of it."""

    source: Source
    at: int
    planned: Planned | None = None
    failed: Failed | None = None
    finished: Finished | None = None
    served: dict[str, Served] = field(default_factory=dict)
    wanted: dict[str, Wanted] = field(default_factory=dict)
    place: int = -1
    on_hand: dict[tuple[str, int], int] = field(default_factory=dict)


def plan_together(
    found: Sequence[Source], folder: Path, *, engine: Engine, common: Common = Common(), thorough: bool = False,
    paper: str = "", progress: Callable[[str], None] = quiet, stop: Callable[[], bool] = never,
    before: Callable[[Report], None] | None = None,
) -> Report:
    """Plan many jobs from one yard and write a folder with a packet for each, one order, and a table of the jobs.

    Parameters
    ----------
    found
        The jobs.
    folder
        Where everything goes; an older folder of the same kind is replaced whole.
    engine
        Where jobs are planned and packets written. The results do not depend on it.
    common
        What a stock book holds, for all jobs.
    thorough, paper
        As for one job.
    progress
        Told how many jobs are ready.
    stop
        Asked before each share of the yard; when it says yes, the rest is shared out with less search.
    before
        Called with the report when everything is written and audited, just before the folder is put in its place.

    Returns
    -------
    Report
        What became of each job: faults of one never stop the others.
    """
    place = Path(os.path.realpath(folder))
    try:
        with whole_folder(place, refuse_foreign_jobs) as work:
            jobs = [_Job(source, at) for at, source in enumerate(found)]
            held = work.parent / "plans"
            held.mkdir()
            _plan(jobs, engine, held, thorough, progress)
            progress("sharing out the yard")
            lots = _share(jobs, common, engine, stop)
            _write(jobs, engine, held, work, paper, progress)
            report = _report(jobs, lots)
            write_report(report, work)
            if before is not None:
                before(report)
    except OSError as error:
        raise LayoutError(f"{folder}: cannot be written: {error.strerror or error}") from error
    return report


def refuse_foreign_jobs(place: Path) -> None:
    """Raise LayoutError unless jobs planned together may be put at a place: nothing there, or jobs planned together."""
    if not place.name:
        raise LayoutError(f"{place}: the jobs need a folder of their own")
    if not place.exists() and not place.is_symlink():
        return
    if not place.is_dir():
        raise LayoutError(f"{place}: is a file, not a folder of jobs; it was left alone")
    if not os.listdir(place):
        return
    if f'"format": "{FORMAT}"'.encode() not in start_of(place / NAME, 200):
        raise LayoutError(f"{place}: is a folder but not one of jobs planned together; it was left alone")
    for packet in place.iterdir():
        if packet.is_dir():
            progress = [each.name for each in packet.glob("*progress*.json")]
            if progress:
                raise LayoutError(f"{packet}: holds the progress file {progress[0]}; move it out first, it was left "
                                  "alone")


# --- planning ----------------------------------------------------------------------------------

def _plan(
    jobs: Sequence[_Job], engine: Engine, held: Path, thorough: bool, progress: Callable[[str], None],
) -> None:
    """Plan every job by itself; plans are kept on disk, not in memory."""
    def task(number: int) -> JobFile | Failed:
        path = jobs[number].source.path
        try:
            return JobFile(path.name, str(path), read_bytes(path, MOST_BYTES), thorough)
        except JobError as error:
            return Failed(BAD, tuple(error.lines()))

    ready = 0
    for number, result in engine.each(plan_one, len(jobs), task):
        job = jobs[number]
        ready += 1
        progress(f"planning: {ready} of {len(jobs)} jobs ready")
        if isinstance(result, Planned):
            (held / str(job.at)).write_bytes(result.packed)
            job.planned = replace(result, packed=b"")
        elif isinstance(result, Lost):
            job.failed = Failed(BAD, (f"{job.source.path}: {result}",))
        else:
            job.failed = result


# --- the yard ----------------------------------------------------------------------------------

def _share(
    jobs: Sequence[_Job], common: Common, engine: Engine, stop: Callable[[], bool],
) -> list[tuple[str, Lot]]:
    """Share out the yard: (delivery, lot) of each delivery and product, in order; fill in what each job is served."""
    ready = [job for job in jobs if job.planned is not None]
    ready.sort(key=lambda job: _when(job))
    for place, job in enumerate(ready):
        job.place = place
    yards: dict[LotKey, Yard] = {}
    of_product: dict[LotKey, list[_Job]] = {}
    for job in ready:
        assert job.planned is not None
        for kind, need in job.planned.needs.items():
            of_product.setdefault(_key(job, kind, need.product), []).append(job)
    for key, takers in of_product.items():
        yards[key] = _yard(str(key[0]), takers, common)
    lots: list[tuple[str, Lot]] = []
    for delivery in dict.fromkeys(job.planned.delivery for job in ready if job.planned):
        for key, takers in of_product.items():
            kind = str(key[0])
            here = [job.wanted[kind] for job in takers if job.planned and job.planned.delivery == delivery]
            if not here:
                continue
            lot = Lot(kind, here[0].product, here)
            yards[key] = serve_jobs(yards[key], lot, engine, stop)
            lots.append((delivery, lot))
            by_place = {job.place: job for job in takers}
            for number, served in lot.served.items():
                by_place[number].served[kind] = served
            for number, why in lot.failed.items():
                job = by_place[number]
                job.failed = Failed(3, (f"{job.source.path}: no layout is possible from what is left: {why}",))
    _from_shelf(ready, common)
    return lots


def _when(job: _Job) -> tuple[str, str, int]:
    assert job.planned is not None
    return job.planned.delivery or LAST, job.planned.start or LAST, job.at


def _key(job: _Job, kind: str, product: Product) -> LotKey:
    """Return what makes a product the same for two jobs: name, width, unit, and the rolls there are at their price."""
    assert job.planned is not None
    rolls = tuple((roll.length, roll.width, roll.price, roll.on_hand) for roll in product.rolls)
    return kind, job.planned.job.unit.name, product.name, product.width, rolls


def _yard(kind: str, takers: Sequence[_Job], common: Common) -> Yard:
    """Return the yard of one product: what the stock book holds, then what the jobs list, each thing once.

    Two jobs that list the same tag, length and width mean the same remnant: the earlier one is served first. The same
    tag of another size is another remnant, and gets its job's name besides.
    """
    first = takers[0].planned
    assert first is not None
    product = first.needs[kind].product
    lies = common.shelf(first.job, product)
    names_of = {name_of(job.planned.job) for job in takers if job.planned}
    shelf = [Remnant(kept.tag, kept.length, kept.width) for kept in (lies.remnants if lies else ())
             if not kept.promised or kept.promised in names_of]
    free = [Free(remnant, "stock book") for remnant in shelf]
    listed = {(each.tag, each.length, each.width) for each in shelf}
    tags = {each.tag for each in shelf}
    for job in takers:
        assert job.planned is not None
        need = job.planned.needs[kind]
        names: dict[str, str] = {}
        for remnant in need.product.remnants:
            same = (remnant.tag, remnant.length, remnant.width)
            if same in listed:
                continue
            listed.add(same)
            tag = remnant.tag if remnant.tag not in tags else f"{remnant.tag} ({job.source.name})"
            names[remnant.tag] = tag
            tags.add(tag)
            free.append(Free(replace(remnant, tag=tag), f"listed by {job.source.name}", job.place))
        job.wanted[kind] = Wanted(
            job.place, job.source.name, job.planned.job, need.product, need.pieces, _renamed(need.alone, names))
    return Yard(replace(product, remnants=()), free)


def _renamed(alone: Cutting, names: Mapping[str, str]) -> Cutting:
    """Return a cutting whose remnants have other tags."""
    return replace(alone, rolls=tuple(
        replace(roll, stock=names.get(roll.stock, roll.stock)) if roll.remnant else roll for roll in alone.rolls))


def _from_shelf(ready: Sequence[_Job], common: Common) -> None:
    """Let each job have of the rolls on hand what those before it leave."""
    names = {name_of(job.planned.job) for job in ready if job.planned}
    left: dict[tuple[str, int], dict[int, int]] = {}
    for job in ready:
        assert job.planned is not None
        for kind, served in job.served.items():
            product = job.planned.needs[kind].product
            key = (product.name, product.width)
            lies = common.shelf(job.planned.job, product)
            if key not in left and lies is not None:
                left[key] = {length: lies.free(length) + sum(
                    each.count for each in lies.promises if each.length == length and each.job in names)
                    for length, _ in lies.on_hand}
            shelf = left.get(key, {}) if lies is not None else {}
            for roll in served.cutting.rolls:
                if not roll.remnant and shelf.get(roll.length, 0) > 0:
                    shelf[roll.length] -= 1
                    job.on_hand[kind, roll.length] = job.on_hand.get((kind, roll.length), 0) + 1


# --- writing -----------------------------------------------------------------------------------

def _write(
    jobs: Sequence[_Job], engine: Engine, held: Path, work: Path, paper: str, progress: Callable[[str], None],
) -> None:
    """Write and audit a packet for each job that is planned and served."""
    able = [job for job in jobs if job.planned is not None and job.failed is None]

    def task(number: int) -> Finish:
        job = able[number]
        return Finish(
            packed=(held / str(job.at)).read_bytes(),
            cuttings={kind: served.cutting for kind, served in job.served.items()},
            remnants={kind: served.remnants for kind, served in job.served.items()},
            on_hand=job.on_hand, notes=_notes(job), paper=paper,
            keep=min((served.keep for served in job.served.values() if served.keep is not None), default=None),
        )

    ready = 0
    for number, result in engine.each(write_one, len(able), task):
        job = able[number]
        ready += 1
        progress(f"writing: {ready} of {len(able)} packets ready")
        if isinstance(result, Finished):
            packet = work / f"{job.source.name}-packet"
            for name, data in result.files.items():
                path = packet.joinpath(*name.split("/"))
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(data)
            job.finished = replace(result, files={})
        elif isinstance(result, Lost):
            job.failed = Failed(BAD, (f"{job.source.path}: {result}",))
        else:
            job.failed = Failed(result.status, tuple(f"{job.source.path}: {line}" for line in result.lines))


def _notes(job: _Job) -> tuple[str, ...]:
    """Return what a job's plan must say about the yard: whose ends it cuts on, and who waits for its own."""
    notes: list[str] = []
    for kind, served in job.served.items():
        for tag, origin in served.origins.items():
            if origin != f"listed by {job.source.name}":
                notes.append(f"{kind}: remnant {tag} comes from {origin}; it is promised to this job alone")
        for tag, name in served.passed_on.items():
            notes.append(f"{kind}: the end of roll {tag} is promised to {name}: keep it whole")
        for tag, name in served.beside.items():
            roll = tag.removeprefix(f"{job.source.name}-")
            notes.append(f"{kind}: the strip left beside the pieces of {roll.replace('-strip', ', block ')} is remnant "
                         f"{tag}, promised to {name}: keep it whole")
    return tuple(notes)


def _report(jobs: Sequence[_Job], lots: Sequence[tuple[str, Lot]]) -> Report:
    lines: list[JobLine] = []
    for job in jobs:
        planned, finished = job.planned, job.finished
        sheet = job.served.get(MEMBRANE)
        lines.append(JobLine(
            name=job.source.name, file=str(job.source.path), start=planned.start if planned else "",
            delivery=planned.delivery if planned else "", title=planned.job.info.name if planned else "",
            place=job.place, drops=planned.drops if planned else 0,
            rolls=bought_rolls(sheet.cutting) if sheet else 0,
            rolls_alone=bought_rolls(planned.needs[MEMBRANE].alone) if planned and MEMBRANE in planned.needs else 0,
            remnants=sum(len(served.remnants) for served in job.served.values()),
            total=finished.total if finished else "", currency=finished.currency if finished else "",
            unpriced=finished.unpriced if finished else 0, exceptions=finished.exceptions if finished else 0,
            status=job.failed.status if job.failed else 0, faults=job.failed.lines if job.failed else (),
            order=finished.order if finished else (),
            takes={kind: served for kind, served in job.served.items()} if finished else {},
            products={kind: need.product for kind, need in planned.needs.items()} if planned else {},
            called=name_of(planned.job) if planned else "", on_hand=dict(job.on_hand),
        ))
    return Report(tuple(lines), tuple(lots))
