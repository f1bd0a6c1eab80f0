"""Which jobs are planned together: files and folders as the user names them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from layout.errors import Fault, JobError
from layout.names import file_stems

ENDINGS = (".yaml", ".yml", ".json", ".xlsx")
"""Endings of what is taken for a job in a folder."""
MOST_JOBS = 5000


@dataclass(frozen=True)
class Source:
    """One job file, and the name of its packet among the others."""

    path: Path
    name: str


def sources(paths: Sequence[Path]) -> list[Source]:
    """Return the jobs that files and folders hold, each once, in the order given and by name within a folder.

    A folder stands for the job files in it; a packet folder for its own job.

    Raises
    ------
    JobError
        When something is not there, or a folder holds no job.
    """
    found: list[Path] = []
    faults: list[Fault] = []
    for path in paths:
        if not path.is_dir():
            if not path.exists():
                faults.append(Fault(0, str(path), "is not there"))
            found.append(path)
            continue
        if (path / "plan.json").is_file() and (path / "job.yaml").is_file():
            found.append(path / "job.yaml")
            continue
        here = sorted(each for each in path.iterdir()
                      if each.suffix.lower() in ENDINGS and each.is_file() and not each.name.startswith((".", "~")))
        if not here:
            faults.append(Fault(0, str(path), f"holds no job file ({', '.join(ENDINGS)})"))
        found += here
    once = list({each.resolve(): each for each in found}.values())
    if len(once) > MOST_JOBS:
        faults.append(Fault(0, "", f"must be at most {MOST_JOBS:,} jobs", f"{len(once):,}"))
    if faults:
        raise JobError(faults)
    labels = [each.parent.name if each.name == "job.yaml" else each.stem for each in once]
    return [Source(path, name) for path, name in zip(once, file_stems(labels, instead="job"), strict=True)]
