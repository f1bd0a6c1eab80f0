"""Jobs planned, written, and folded on to the concrete by the audit's own code."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from helpers.packets import short_plan, write_tables
from layout.audit import coverage, folds
from layout.audit.asked import read_asked
from layout.audit.findings import Findings
from layout.audit.written import read_written
from layout.job import read_mapping
from layout.records import Finding


def folded(text: str, folder: Path) -> Iterable[Finding]:
    """Plan a job and return what the audit's folding finds."""
    write_tables(short_plan(text), folder)
    asked = read_asked(read_mapping(folder / "job.yaml"))
    plan = read_written(folder, asked.unit)
    book = Findings(asked.unit)
    for hung in coverage.hung_shapes(plan, asked):
        folds.check_folds(plan, hung, asked, book)
    return book.findings()
