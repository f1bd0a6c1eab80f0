"""Jobs planned, written, and folded on to the concrete by the audit's own code."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from helpers.packets import short_plan, write_data
from layout.audit import coverage, folds
from layout.audit.asked import read_asked
from layout.audit.findings import Findings
from layout.audit.spread import Spreads
from layout.audit.written import read_written
from layout.job import read_mapping
from layout.records import Finding, Plan


def folded(text: str, folder: Path) -> Iterable[Finding]:
    """Plan a job and return what the audit's folding finds."""
    return folding_findings(short_plan(text), folder)


def folding_findings(plan: Plan, folder: Path) -> Iterable[Finding]:
    """Write a plan and return what the audit's folding finds in it."""
    write_data(plan, folder)
    asked = read_asked(read_mapping(folder / "job.yaml"))
    written = read_written(folder, asked.unit)
    book, spreads = Findings(asked.unit), Spreads(written, asked)
    for hung in coverage.hung_shapes(written, asked):
        folds.check_folds(written, hung, spreads.of(hung.run), asked, book)
    return book.findings()
