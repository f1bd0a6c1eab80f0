"""The order of the work: job -> walls -> drops -> pieces -> rolls -> takeoff -> packet -> audit.

The only module that knows the order; it composes and does no arithmetic.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from layout import drawing, packet
from layout.audit import audit_sealed
from layout.cautions import DEFERENCE, cautions
from layout.drawing.options import DrawingOptions
from layout.drawing.packet_pages import PageWords
from layout.faces import develop
from layout.job import echo, read_mapping
from layout.errors import JobError, LayoutError
from layout.integrated import Progress, Stop, cut_product, decide, never, quiet
from layout.packet.checks import check_rows
from layout.pieces import settle
from layout.readback import warnings
from layout.records import Extras, Finding, Job, Plan
from layout.savings import savings
from layout.shortages import shortages
from layout.takeoff import bar_pieces, bar_product, fit_checks, refuse_endless, take_off

MOST_SAVINGS = 3
"""Changes of a rule that are planned to see what the rule costs; ``compare --rules`` plans all."""
DROPS_FOR_SAVINGS = 200
"""Drops hung in all to see what rules cost, unless the search is thorough: a large job is asked less, or nothing."""


def draw_walls(job: Job) -> str:
    """Return the walls of a job as they were read, from above and in elevation, as SVG text."""
    return drawing.walls_svg(job, develop(job))


def plan_sheet(job: Job) -> Plan:
    """Return the plan of a job's sheet alone, soon: no takeoff, no question what its rules cost, no rolls counted."""
    return decide(replace(job, extras=Extras()), develop(job), progress=quiet, stop=never)


def quick_plan(job: Job) -> Plan:
    """Return a plan of a job's sheet alone at once: placed once, cut once, nothing weighed or proven beyond that.

    What hangs where keeps the rules as in any plan; the rolls may be more than ``make_plan`` takes, never fewer than
    the pieces need.

    Raises
    ------
    NoLayout
        When no layout keeps the hard limits.
    """
    return decide(replace(job, extras=Extras()), develop(job), rough=1, progress=quiet, stop=at_once)


def at_once() -> bool:
    """Return True: stop at the first plan that is found."""
    return True


def make_plan(
    job: Job, *, thorough: bool = False, ask_rules: bool = False, progress: Progress = quiet,
    stop: Stop = never, on_hand: Mapping[tuple[str, int], int] = {},
) -> Plan:
    """Return the plan of a job: drops, seams, pieces, rolls, quantities, and what is proven about them.

    Parameters
    ----------
    job
        A job that was read and checked.
    thorough
        Search on where it takes long: layouts of long sloping walls against rolls, more rounds, more cuttings.
    ask_rules
        Also find what rules cost, by planning with a few of them changed, and what rolls will do when a length of
        them is not to be had.
    progress
        Told each step as it begins.
    stop
        Asked now and then; when it says yes, the best plan so far is taken and nothing is called optimal that was not
        proven.
    on_hand
        Rolls that lie in stock, by product and length [ticks]: the order buys so many less.

    Raises
    ------
    JobError
        When the job's products do not go together, or its takeoff is past its bounds: at once, where it would be so
        with any layout.
    NoLayout
        When no layout keeps the hard limits.
    """
    faults, _ = fit_checks(job)
    if faults:
        raise JobError(faults)
    progress("developing the walls")
    walls = develop(job)
    refuse_endless(job, walls)
    plan = settled(decide(job, walls, thorough=thorough, progress=progress, stop=stop))
    if ask_rules and not stop():
        progress("asking what each rule costs")
        most = MOST_SAVINGS if thorough else min(MOST_SAVINGS, DROPS_FOR_SAVINGS // max(1, len(plan.drops)))
        plan = replace(plan, savings=savings(job, plan, plan_sheet, most=most))
    progress("counting the takeoff")
    bar = bar_product(job)
    bars = cut_product(job, "termination bar", bar, bar_pieces(plan), stop=stop) if bar else None
    short = shortages(plan, stop) if ask_rules else {}
    return take_off(plan, bars=bars, short=short, on_hand=on_hand)


def settled(plan: Plan) -> Plan:
    """Return a plan whose pieces lie where the drops leave them, in their order, with the dabs between them."""
    pieces, dabs = settle(plan.job, plan.walls, plan.pieces)
    return replace(plan, pieces=pieces, dabs=dabs)


def write_packet(
    plan: Plan, folder: Path, *, asked: DrawingOptions = DrawingOptions(), progress: Progress = quiet,
) -> tuple[Finding, ...]:
    """Write the packet of a plan, whole or not at all, and return what the audit found in it.

    ``asked`` is what a person asks of the drawings. A packet in which the audit finds anything is put beside its place,
    with ``-rejected`` at the end of its name, and an older packet stays as it was. What in the job reads as a mistake
    is told in it.
    """
    plan = replace(plan, warnings=warnings(plan.job))
    progress("drawing")
    words = PageWords(
        tuple((caution.topic, caution.text, caution.rule) for caution in cautions(plan.job)), DEFERENCE,
        check_rows(plan), packet.digest(plan), packet.proof_words(plan),
    )
    job = echo(plan.job)
    drawings = drawing.files(plan, words, asked, carried=job)
    progress("writing and auditing the packet")
    return packet.write_folder(plan, job, folder, drawings=drawings, check=audit_folder,
                               folds=drawing.fold_svgs(plan))


def audit_folder(folder: Path) -> tuple[Finding, ...]:
    """Audit a packet that lies in a folder: what its files say, and that they are as they were written."""
    return audit_sealed(folder, read_mapping(folder / "job.yaml"))


TRIES = 5
"""Times that a job is planned from the yard when others take from it meanwhile."""


def plan_from_stock(
    job: Job, book: Path, *, take: bool, thorough: bool, progress: Progress, stop: Stop,
) -> Plan:
    """Return the plan of a job that may use what lies in the yard for nobody.

    Parameters
    ----------
    job
        A job that was read and checked.
    book
        The stock book.
    take
        Promise what the plan uses to the job; where another took some of it meanwhile, plan again.
    thorough, progress, stop
        As for ``make_plan``.
    """
    from layout import stock

    for _ in range(TRIES):
        held = stock.load(book)
        plan = make_plan(stock.stocked(job, held), thorough=thorough, ask_rules=True, progress=progress, stop=stop,
                         on_hand=stock.rolls_on_hand(job, held))
        if not take:
            return plan
        try:
            stock.change(book, lambda now: stock.promised(now, stock.name_of(job), stock.uses(plan)))
        except stock.Taken:
            continue
        return plan
    raise LayoutError(f"{book}: others took from the yard {TRIES} times while this job was planned; try again")


def give_back(job: Job, book: Path) -> None:
    """Take back what was promised to a job, as when its packet is rejected."""
    from layout import stock

    stock.change(book, lambda now: stock.released(now, stock.name_of(job)))
