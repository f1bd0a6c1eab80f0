"""Checks that need more than one value of the job file; each is made wherever its own values are right."""

from __future__ import annotations

from layout.job.checks.extras import check_extras
from layout.job.checks.faces import check_face
from layout.job.checks.meant import check_meant
from layout.job.checks.names import check_names
from layout.job.checks.runs import check_ledges, check_room, check_round, check_run
from layout.job.checks.sheet import check_sheet
from layout.job.checks.spot import CheckSpot, attempt
from layout.job.model import JobPart, RunPart
from layout.job.walk import Faults
from layout.units import Unit

__all__ = ["check_job"]


def check_job(job: JobPart, faults: Faults, unit: Unit, *, allow_gap: bool = False) -> None:
    """Make every check of the job that its sound values allow.

    Parameters
    ----------
    job
        The job, its wrong values left out.
    faults
        Where faults are told.
    unit
        The job's unit.
    allow_gap
        Closed runs need not close on plan.
    """
    spot = CheckSpot((), faults, unit)
    check_meant(job, spot)
    check_sheet(job, spot)
    check_names(job, spot)
    check_extras(job, spot)
    attempt(_runs, job, spot, allow_gap)


def _runs(job: JobPart, spot: CheckSpot, allow_gap: bool) -> None:
    for index, run in enumerate(job.runs):
        here = spot.at("runs", index)
        check_run(run, here, allow_gap=allow_gap)
        attempt(check_round, job, run, here)
        attempt(check_ledges, job, run, here)
        attempt(check_room, job, run, here)
        attempt(_faces, job, run, here)


def _faces(job: JobPart, run: RunPart, spot: CheckSpot) -> None:
    for index, face in enumerate(run.faces):
        check_face(job, face, spot.at("faces", index))
