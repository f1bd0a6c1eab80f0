"""The audit: a packet is held against the job it was made for, by code that shares nothing with what made it.

It reads the job's own words (``asked``) and the packet's files (``written``), works the geometry again on shapely
(``walls``), and notes every difference under its number (``findings``): ``coverage`` 2xx, ``laps`` 3xx,
``clearances`` 4xx, ``water`` 5xx, ``reinforcing`` 6xx, ``rolls`` 7xx, ``sums`` 8xx and the papers 9xx.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from layout.audit import clearances, coverage, laps, reinforcing, rolls, sums, water, written
from layout.audit.asked import Asked, read_asked
from layout.audit.findings import FINDINGS, Book
from layout.audit.written import NotReadable, Written, read_written
from layout.records import Finding

__all__ = ["FINDINGS", "audit"]


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
        Findings in the order of their families; empty when the packet is sound. After a finding that leaves nothing
        to work with (a file that cannot be read, names that lead nowhere) the checks that need it are not made.

    Notes
    -----
    Everything is compared in whole ticks, and areas to ``walls.SPECK`` square ticks; see ``findings.FINDINGS``.
    """
    asked = read_asked(job)
    book = Book(asked.unit)
    try:
        plan = read_written(folder, asked.unit)
    except NotReadable as error:
        book.note(error.number, error.place, error.needed, error.found)
        return book.findings()
    written.check_names(plan, book)
    if book.findings() or not coverage.check_runs(plan, asked, book):
        return book.findings()
    _check_walls(plan, asked, book)
    reinforcing.check_rectangles(plan, asked, book)
    reinforcing.check_reinforcing(plan, asked, book)
    rolls.check_rolls(plan, asked, book)
    sums.check_sums(plan, asked, book)
    return book.findings()


def _check_walls(plan: Written, asked: Asked, book: Book) -> None:
    """Check the membrane of each run: coverage, laps, clearances, water."""
    coverage.check_toes(plan, asked, book)
    for hung in coverage.hang(plan, asked, book):
        run = hung.run
        drops = laps.drops_of(plan, run.name, coverage.FIELD)
        coverage.check_coverage(hung, asked, book)
        coverage.check_drops(plan, hung, book)
        seams = laps.check_seams(plan, hung, coverage.FIELD, asked.rules["side_lap"], book)
        neighbours = laps.laps_of(drops, run)
        laps.check_side_laps(hung, asked, neighbours, book)
        ends = laps.check_end_laps(plan, hung, asked, coverage.FIELD, book)
        laps.check_stagger(plan, hung, neighbours, ends, asked, book)
        near = clearances.obstacles(run, asked, hung.written.turn_down)
        clearances.check_clearances(plan, run, clearances.breaks(neighbours, near, run, asked), book)
        clearances.check_sizes(plan, hung, drops, asked, book)
        water.check_water(run, seams, book)
        water.check_order(run, drops, seams, book)
