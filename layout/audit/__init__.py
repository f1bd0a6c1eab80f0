"""The audit: a packet is held against the job it was made for, by code that shares nothing with what made it.

It reads the job's own words (``asked``) and the packet's files (``written``), works the geometry again on shapely
(``walls``), and notes every difference under its number (``findings``): ``coverage`` 2xx, ``laps`` 3xx,
``clearances`` 4xx, ``water`` 5xx, ``reinforcing`` 6xx, ``rolls`` 7xx, ``sums`` and ``bill`` 8xx, the papers 9xx and
``certificates`` 11xx. For 10xx and the covers it builds the ``concrete`` in space, rolls the sheet down over it
(``spread``), and folds every piece again (``folds``: ``folding``, ``lying``, ``closing``, ``held``).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from layout.audit import (
    bill, bill_papers, certificates, clearances, coverage, dates, drawings, folds, laps, page, papers, printed,
    quantities, reinforcing, rolls, sealed, sums, water, written,
)
from layout.audit.asked import Asked, board_of, read_asked
from layout.audit.clearances import Violation, Obstacle
from layout.audit.coverage import HungLayer
from layout.audit.files import NotReadable
from layout.audit.findings import FINDINGS, Findings
from layout.audit.spread import Spreads
from layout.audit.tables import SheetCells, read_workbook
from layout.audit.written import Written, read_written
from layout.records import Finding

__all__ = ["FINDINGS", "audit", "audit_papers", "audit_plan", "audit_sealed"]


def audit(folder: Path, job: Mapping[str, Any]) -> tuple[Finding, ...]:
    """Return everything that is wrong with what a packet's files say.

    Parameters
    ----------
    folder
        The packet.
    job
        The packet's job file as plain mappings, lists, text and numbers, known to be without faults.

    Returns
    -------
    tuple
        What is wrong with the plan, then with its papers; empty when the packet is sound. After a finding that leaves
        nothing to work with (a file that cannot be read, names that lead nowhere) the checks that need it are not made.

    Notes
    -----
    Everything is compared in whole ticks, and areas to ``walls.SPECK`` square ticks; see ``findings.FINDINGS``.
    """
    return _audited(folder, job)


def audit_plan(folder: Path, job: Mapping[str, Any]) -> tuple[Finding, ...]:
    """Return what is wrong with a packet's plan.json alone: no other file of it is read, or need be there."""
    return _audited(folder, job, of_papers=False)


def audit_papers(folder: Path, job: Mapping[str, Any]) -> tuple[Finding, ...]:
    """Return what is wrong with a packet's papers, whose plan.json is known to be sound."""
    return _audited(folder, job, of_plan=False)


def audit_sealed(folder: Path, job: Mapping[str, Any]) -> tuple[Finding, ...]:
    """Return what is wrong with a packet as ``audit`` does; where nothing is, also which files were changed since."""
    found = audit(folder, job)
    if found:
        return found
    book = Findings(read_asked(job).unit)
    sealed.check_sealed(folder, book)
    return book.findings()


def _audited(
    folder: Path, job: Mapping[str, Any], *, of_plan: bool = True, of_papers: bool = True,
) -> tuple[Finding, ...]:
    asked = read_asked(job)
    book = Findings(asked.unit)
    try:
        plan = read_written(folder, asked.unit)
    except NotReadable as error:
        book.note(error.number, error.place, error.needed, error.found)
        return book.findings()
    written.check_tags(plan, book)
    if book.findings() or not coverage.check_runs(plan, asked, book):
        return book.findings()
    coverage.check_outlines(plan, book)
    if book.findings():
        return book.findings()
    if of_plan:
        _check_plan(plan, asked, book)
    if of_papers:
        _check_papers(folder, plan, asked, book)
    return book.findings()


def _check_plan(plan: Written, asked: Asked, book: Findings) -> None:
    """Check what hangs, what is cut, what it costs and what is claimed."""
    membrane, spreads = coverage.hung_shapes(plan, asked), Spreads(plan, asked)
    _check_walls(plan, asked, membrane, book)
    reinforcing.check_rectangles(plan, asked, book)
    reinforcing.check_faces(plan, asked, book)
    reinforcing.check_reinforcing(plan, asked, membrane, book)
    rolls.check_rolls(plan, asked, book)
    sums.check_sums(plan, asked, book)
    certificates.check_certificates(plan, asked, book)
    papers.check_marks(plan, asked, book)
    bill.check_bill(plan, asked, book)
    if not book.has_any((301, 302, 709)):  # quantities are counted from seams and rolls
        quantities.check_quantities(plan, asked, spreads, book)
    for one in membrane:
        folds.check_folds(plan, one, spreads.of(one.run), asked, book)


def _check_papers(folder: Path, plan: Written, asked: Asked, book: Findings) -> None:
    """Check tables, page, print and drawings."""
    tucks = page.tuck_words(plan)
    days = dates.cover_by(plan, asked)
    digest = papers.digest_of(plan, asked)
    papers.check_heading(plan, asked, digest, book)
    papers.check_cut_list(folder, plan, asked, tucks, book)
    sheets = _sheets(folder / "cut-list.xlsx", book)
    if sheets is not None:
        papers.check_workbook(sheets, plan, asked, tucks, book)
    papers.check_takeoff(folder, plan, book)
    dates.check_dates(plan, days, book)
    told = {(date.run, date.face): date.cover_by for date in plan.dates}
    page.check_page(folder / "packet.html", plan, asked, digest, told, tucks, book)
    printed.check_pdf(folder, plan, digest, book)
    bill_papers.check_bill_papers(folder, sheets, plan, book)
    drawings.check_drawings(folder, plan, asked, book)


def _sheets(path: Path, book: Findings) -> dict[str, SheetCells] | None:
    """Return the sheets of the spreadsheet; note why when it cannot be read."""
    try:
        return read_workbook(path)
    except NotReadable as error:
        book.note(error.number, error.place, error.needed, error.found)
        return None


def _check_walls(plan: Written, asked: Asked, membrane: Sequence[HungLayer], book: Findings) -> None:
    """Check both layers of each run (coverage, laps, clearances, water), then the exceptions listed for the run."""
    coverage.check_toes(plan, asked, book)
    broken: dict[str, list[Violation]] = {run.name: [] for run in asked.runs}
    for hung in membrane:
        broken[hung.run.name] += _check_layer(plan, hung, asked, book)
    board = board_of(asked)
    if board:
        for hung in coverage.hung_shapes(plan, board):
            if hung.pieces or not coverage.board_may_be_left_out(hung.run, board):
                broken[hung.run.name] += _check_layer(plan, hung, board, book)
    for run in asked.runs:
        clearances.check_exceptions(plan, run, broken[run.name], book)


def _check_layer(plan: Written, hung: HungLayer, asked: Asked, book: Findings) -> list[Violation]:
    """Check one layer of one run; return the rules it breaks."""
    run = hung.run
    drops = laps.drops_of(plan, run.name, asked.layer)
    coverage.check_coverage(hung, asked, book)
    coverage.check_drops(plan, hung, book)
    seams = laps.check_seams(plan, hung, asked, book)
    neighbours = laps.laps_of(drops, run)
    laps.check_side_laps(hung, neighbours, plan.sheets, book)
    end_laps = laps.check_end_laps(plan, hung, asked, book)
    water.check_water(run, seams, book)
    water.check_order(run, drops, hung.pieces, seams, book)
    near = clearances.obstacles(run, asked)
    if asked.layer != coverage.FIELD:
        near += [Obstacle("board_seam", lap.from_, lap.to)
                 for lap in laps.laps_of(laps.drops_of(plan, run.name, coverage.FIELD), run)]
    return [
        *clearances.seam_breaks(neighbours, near, run, asked),
        *clearances.size_breaks(hung, drops, asked),
        *clearances.stagger_breaks(neighbours, end_laps, run, asked),
        *clearances.end_lap_breaks(end_laps, run, asked),
    ]
