"""The order of the work: job -> walls -> drops -> pieces -> rolls -> takeoff -> packet -> audit.

The only module that knows the order; it composes and does no arithmetic.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from layout import drawing, packet
from layout.audit import audit
from layout.cautions import DEFERENCE, cautions
from layout.drawing.packet_pages import Words
from layout.faces import develop
from layout.job import echo, read_mapping
from layout.errors import JobError
from layout.joint import cut_product, decide
from layout.packet.checks import check_rows
from layout.pieces import settle
from layout.records import Finding, Job, Plan
from layout.savings import savings
from layout.takeoff import bar_pieces, bar_product, fit_checks, take_off

Progress = Callable[[str], None]
"""Told what is being done, in a few words."""


MOST_SAVINGS = 3
"""Changes of a rule that are planned to see what the rule costs; ``compare --rules`` plans all."""
DROPS_FOR_SAVINGS = 200
"""Drops hung in all to see what rules cost, unless the search is thorough: a large job is asked less, or nothing."""


def quiet(words: str) -> None:
    """Tell nobody."""


def never() -> bool:
    """Go on to the end."""
    return False


def plan_sheet(job: Job) -> Plan:
    """Return the plan of a job's sheet alone, soon: no takeoff, no question what its rules cost, no rolls counted."""
    return decide(replace(job, extras={}), develop(job), progress=quiet, stop=never)


def make_plan(
    job: Job, *, thorough: bool = False, ask_rules: bool = False, progress: Progress = quiet,
    stop: Callable[[], bool] = never,
) -> Plan:
    """Return the plan of a job: drops, seams, pieces, rolls, quantities, and what is proven about them.

    Parameters
    ----------
    job
        A job that was read and checked.
    thorough
        Search on where it takes long: layouts of long sloping walls against rolls, more rounds, more cuttings.
    ask_rules
        Also find what rules cost, by planning with a few of them changed.
    progress
        Told each step as it begins.
    stop
        Asked now and then; when it says yes, the best plan so far is taken and nothing is called optimal that was not
        proven.

    Raises
    ------
    JobError
        When the job's products do not go together.
    NoLayout
        When no layout keeps the hard limits.
    """
    faults, _ = fit_checks(job)
    if faults:
        raise JobError(faults)
    progress("developing the walls")
    plan = settled(decide(job, develop(job), thorough=thorough, progress=progress, stop=stop))
    if ask_rules and not stop():
        progress("asking what each rule costs")
        most = MOST_SAVINGS if thorough else min(MOST_SAVINGS, DROPS_FOR_SAVINGS // max(1, len(plan.drops)))
        plan = replace(plan, savings=savings(job, plan, plan_sheet, most=most))
    progress("counting the takeoff")
    bar = bar_product(job)
    bars = cut_product(job, "termination bar", bar, bar_pieces(plan), stop=stop) if bar else None
    return take_off(plan, bars=bars)


def settled(plan: Plan) -> Plan:
    """Return a plan whose pieces lie where the drops leave them, in their order, with the dabs between them."""
    pieces, dabs = settle(plan.job, plan.walls, plan.pieces)
    return replace(plan, pieces=pieces, dabs=dabs)


def write_packet(
    plan: Plan, folder: Path, *, layers: Path | None = None, paper: str = "", progress: Progress = quiet,
) -> tuple[Finding, ...]:
    """Write the packet of a plan, whole or not at all, and return what the audit found in it.

    ``layers`` is an office's own mapping of layers and ``paper`` the sheet size of the DXF, both as the drawing stage
    takes them. A packet in which the audit finds anything is put beside its place, with ``-rejected`` at the end of
    its name, and an older packet stays as it was.
    """
    progress("drawing")
    words = Words(
        tuple((caution.topic, caution.text, caution.rule) for caution in cautions(plan.job)), DEFERENCE,
        check_rows(plan),
    )
    drawings = drawing.files(plan, words, layers=layers, paper=paper)
    progress("writing and auditing the packet")
    return packet.write_folder(plan, echo(plan.job), folder, drawings=drawings, check=audit_folder)


def audit_folder(folder: Path) -> tuple[Finding, ...]:
    """Audit a packet that lies in a folder."""
    return audit(folder, read_mapping(folder / "job.yaml"))
