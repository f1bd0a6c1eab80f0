"""What is cut and what is hung: the progress file of packet.html, and tags told on the command line."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from layout.errors import Fault, JobError
from layout.files import read_bytes
from layout.packet.plan_json import digest
from layout.records import Plan
from layout.revise.earlier import Earlier

FORMAT = "lapwright progress"
MOST_BYTES = 5_000_000
"""A progress file larger than this is none."""
MOST_FAULTS = 20


@dataclass(frozen=True)
class Done:
    """Tags of the pieces that are cut, and of those among them that are hung."""

    cut: frozenset[str] = frozenset()
    hung: frozenset[str] = frozenset()


def read_done(earlier: Earlier, path: Path | None, *, cut: Sequence[str] = (), hung: Sequence[str] = ()) -> Done:
    """Read what is done of a plan.

    Parameters
    ----------
    earlier
        The plan that was worked from.
    path
        The progress file saved from its packet.html; None when there is none.
    cut, hung
        Further tags: of pieces, of drops (all their pieces), or of rolls (everything cut from them).

    Returns
    -------
    Done
        What is hung counts as cut.

    Raises
    ------
    JobError
        When the file is no progress file of this plan, or a tag is of nothing in it.
    """
    known = _meanings(earlier)
    told_cut, told_hung = _read(path, earlier.digest) if path is not None else ([], [])
    done_cut = _pieces(told_cut, known, str(path)) | _pieces(cut, known, "--cut")
    done_hung = _pieces(told_hung, known, str(path)) | _pieces(hung, known, "--hung")
    return Done(frozenset(done_cut | done_hung), frozenset(done_hung))


def progress_json(plan: Plan, done: Done) -> str:
    """Return a progress file that the page of a new plan's packet can load."""
    return json.dumps({
        "format": FORMAT, "job": plan.job.info.name, "plan": digest(plan), "cut": sorted(done.cut),
        "hung": sorted(done.hung),
    }, indent=1) + "\n"


def _meanings(earlier: Earlier) -> dict[str, tuple[str, ...]]:
    """Return the pieces that each tag stands for."""
    known = {roll.tag: tuple(cut.piece for cut in roll.cuts) for made in earlier.cuttings for roll in made.rolls}
    known |= {drop.tag: drop.pieces for drop in earlier.drops}
    return known | {piece.tag: (piece.tag,) for piece in earlier.pieces}


def _pieces(tags: Iterable[str], known: dict[str, tuple[str, ...]], file: str) -> set[str]:
    faults = [Fault(0, "", "must be a tag of the packet", _shown(tag)) for tag in dict.fromkeys(tags)
              if tag not in known]
    if faults:
        raise JobError(faults[:MOST_FAULTS], file)
    return {piece for tag in tags for piece in known[tag]}


def _read(path: Path, stands: str) -> tuple[list[str], list[str]]:
    """Return the tags cut and hung of a progress file."""
    file = str(path)
    raw = read_bytes(path, MOST_BYTES)
    try:
        data = json.loads(raw.decode("utf-8-sig"))
    except (ValueError, RecursionError):
        raise JobError([Fault(0, "", "must be a progress file saved from packet.html", "no JSON")], file) from None
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise JobError([Fault(0, "format", f"must be {FORMAT}")], file)
    faults = []
    plan = data.get("plan", data.get("digest"))
    if plan != stands:
        hint = "it was saved from another plan's packet"
        faults.append(Fault(0, "plan", f"must be {stands}", "nothing" if plan is None else _shown(plan), hint))
    lists: list[list[str]] = []
    for key in ("cut", "hung"):
        tags = data.get(key)
        if not isinstance(tags, list) or not all(isinstance(tag, str) for tag in tags):
            faults.append(Fault(0, key, "must be a list of tags"))
            continue
        lists.append(tags)
    if faults:
        raise JobError(faults, file)
    return lists[0], lists[1]


def _shown(value: object) -> str:
    """Return a value fit for one line of a message."""
    text = ascii(value)
    return text if len(text) <= 60 else text[:57] + "..."
