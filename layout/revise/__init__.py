"""What changed in the field -> a new plan in which what is cut stays cut.

``earlier`` reads the packet that was worked from, ``progress`` what is cut and hung, ``told`` what else happened, which
``happened`` puts into the plan that was worked from; ``places`` keeps the drops that
stay and places new ones between them, ``matching`` finds what each piece is made of, ``recut`` cuts what is still to be
cut from the rests of opened rolls and from new ones, and ``renew`` puts these together.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from layout.errors import NoLayout
from layout.job import read_job, read_mapping
from layout.pipeline import audit_folder, make_plan
from layout.records import BaselinePlan, Job, Plan
from layout.revise.earlier import read_earlier
from layout.revise.happened import Happened, happened
from layout.revise.progress import Done, FieldWork, progress_json, progress_schema, read_done, read_field
from layout.revise.renew import Revised, renew
from layout.revise.told import Options, Told
from layout.scenarios import changed_job
from layout.units import tape

__all__ = [
    "Done", "BaselinePlan", "FieldWork", "Options", "Revised", "Told", "after", "happened", "progress_json",
    "progress_schema", "read_done", "read_earlier", "read_field", "renew", "revised",
]

WAY_OUT = "What would make it possible:"
"""What every refusal says before its way out."""


def revised(
    packet: Path, *, progress_files: Sequence[Path] = (), job_file: Path | None = None, changes: Sequence[str] = (),
    cut: Sequence[str] = (), hung: Sequence[str] = (), options: Options = Options(), progress: Callable[[str], None],
    stop: Callable[[], bool],
) -> Revised:
    """Plan the job of a packet again after a change.

    Parameters
    ----------
    packet
        The packet that was worked from.
    progress_files
        What is cut and hung and what happened, as its page saves it; one file a phone.
    job_file
        The changed job; None for the packet's own.
    changes
        Changes to it such as ``side_lap=3``.
    cut, hung
        Further tags that are cut, or hung.
    options
        What else happened, as told on the command line.
    progress, stop
        As for ``pipeline.make_plan``.

    Raises
    ------
    JobError
        When something given is wrong, or the change touches what the cut pieces were cut by.
    NoLayout
        When something that is hung does not suit the changed job, or no layout is possible around it.

    Notes
    -----
    Where nothing is cut and nothing happened the job is planned as if for the first time. Where fewer rolls were
    delivered than the work takes, it is planned with more and says how many must still come.
    """
    progress("reading the packet")
    earlier = read_earlier(packet, audit_folder)
    field = read_field(earlier, progress_files, cut=cut, hung=hung, options=options)
    file = packet / "job.yaml" if job_file is None else job_file
    text = ", ".join(changes)
    job = changed_job(read_mapping(file), text, file=f"{file} with {text}") if changes else read_job(file)
    return after(earlier, field, job, progress=progress, stop=stop)


def after(
    earlier: BaselinePlan, field: FieldWork, job: Job, *, progress: Callable[[str], None], stop: Callable[[], bool],
) -> Revised:
    """Plan a job again after what is known of the field; see ``revised``."""
    told, limited = field.told, bool(field.told.delivered)
    while True:
        now = happened(earlier, field.done, told, job)
        try:
            made = _again(now, bool(told) or job != earlier.job, progress=progress, stop=stop)
            break
        except NoLayout as error:
            if not told.delivered:
                raise _with_a_way_out(error, now) from None
            told = replace(told, delivered={})
    words = [*field.words, *now.words]
    if limited and not told.delivered:
        words += short_of(made.plan, field.told.delivered)
    words += made.words
    return replace(made, words=tuple(words), plan=replace(made.plan, notes=(*words, *(
        note for note in made.plan.notes if note not in made.words))))


def _with_a_way_out(error: NoLayout, now: Happened) -> NoLayout:
    """Return a refusal that says what would make a plan possible."""
    text = str(error)
    if WAY_OUT in text:
        return error
    hung = sorted(tag for tag in now.done.hung if tag in text.replace(",", " ").split())
    if hung:
        told = " ".join(f"--spoilt {tag}" for tag in hung)
        way = f"take {', '.join(hung)} down and tell it with {told}, or leave the wall there as it was"
    elif any(one in text for one in ("stay", "cut are", "are cut", "between")):
        way = "leave out of what is told cut, or tell with --spoilt, the drops that are named"
    else:
        way = "give the job longer rolls or more of them, or change its rules where pieces are not cut by them"
    return NoLayout(f"{text}. {WAY_OUT} {way}")


def short_of(plan: Plan, delivered: Mapping[int, int]) -> list[str]:
    """Say how many rolls must still come, by what was delivered."""
    said = []
    for length, count in sorted(delivered.items()):
        needed = sum(not roll.remnant and roll.length == length for made in plan.cuttings for roll in made.rolls)
        said.append(f"delivered: {count} of {tape(length, plan.job.unit)} are not enough: "
                    f"{needed - count} more must come" if needed > count else
                    f"delivered: {count} of {tape(length, plan.job.unit)} do with rolls of other lengths")
    return said


def _again(now: Happened, anew: bool, *, progress: Callable[[str], None], stop: Callable[[], bool]) -> Revised:
    if not now.done.cut:
        return Revised(make_plan(now.job, progress=progress, stop=stop), now.done,
                       ("nothing is cut: planned from the start",))
    return renew(now.earlier, now.done, now.job, progress=progress, stop=stop, gone=now.gone,
                 anew=anew)
