"""What changed in the field -> a new plan in which what is cut stays cut.

``earlier`` reads the packet that was worked from, ``progress`` what is cut and hung, ``places`` keeps the drops that
stay and places new ones between them, ``matching`` finds what each piece is made of, ``recut`` cuts what is still to be
cut from the rests of opened rolls and from new ones, and ``renew`` puts these together.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from layout.job import read_job, read_mapping
from layout.pipeline import audit_folder, make_plan
from layout.revise.earlier import Earlier, read_earlier
from layout.revise.progress import Done, progress_json, read_done
from layout.revise.renew import Revised, renew
from layout.scenarios import changed_job

__all__ = ["Done", "Earlier", "Revised", "progress_json", "read_done", "read_earlier", "renew", "revised"]


def revised(
    packet: Path, *, progress_file: Path | None = None, job_file: Path | None = None, changes: Sequence[str] = (),
    cut: Sequence[str] = (), hung: Sequence[str] = (), progress: Callable[[str], None], stop: Callable[[], bool],
) -> Revised:
    """Plan the job of a packet again after a change.

    Parameters
    ----------
    packet
        The packet that was worked from.
    progress_file
        What is cut and hung, as its page saves it; None when there is none.
    job_file
        The changed job; None for the packet's own.
    changes
        Changes to it such as ``side_lap=3``.
    cut, hung
        Further tags that are cut, or hung.
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
    Where nothing is cut the job is planned as if for the first time.
    """
    progress("reading the packet")
    earlier = read_earlier(packet, audit_folder)
    done = read_done(earlier, progress_file, cut=cut, hung=hung)
    file = packet / "job.yaml" if job_file is None else job_file
    text = ", ".join(changes)
    job = changed_job(read_mapping(file), text, file=f"{file} with {text}") if changes else read_job(file)
    if not done.cut and not any(piece.kind == "spare" for piece in earlier.pieces):
        return Revised(make_plan(job, progress=progress, stop=stop), done, ("nothing is cut: planned from the start",))
    return renew(earlier, done, job, progress=progress, stop=stop)
