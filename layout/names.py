"""Names of files that are safe and apart, whatever the job calls its runs and faces."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence

from layout.records import MEMBRANE, Job

MOST = 60
"""Longest cleaned name; with a folder and an ending it stays far under the 255 bytes a file system takes."""
_RESERVED = {"con", "prn", "aux", "nul", *(f"com{i}" for i in range(10)), *(f"lpt{i}" for i in range(10))}


def clean(text: str) -> str:
    """Return a text as lower-case ASCII letters, figures and single dashes; empty when nothing is left.

    Examples
    --------
    >>> clean("Süd / West #2"), clean("../../etc"), clean("🌊")
    ('sud-west-2', 'etc', '')
    """
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:MOST].strip("-")


def file_stems(labels: Sequence[str], *, instead: str, endings: Sequence[str] = ()) -> list[str]:
    """Return one file name without ending for each label: clean, none reserved, none twice.

    Parameters
    ----------
    labels
        What the job calls them, in order.
    instead
        What a label is called of which cleaning leaves nothing.
    endings
        What to put after each cleaned label, safe as it is; none when empty.
    """
    taken: set[str] = set()
    stems = []
    for label, ending in zip(labels, endings or [""] * len(labels), strict=True):
        base = clean(label) or instead
        if base in _RESERVED:
            base = f"{base}-{instead}"
        base += ending
        stem, number = base, 1
        while stem in taken:
            number += 1
            stem = f"{base}-{number}"
        taken.add(stem)
        stems.append(stem)
    return stems


def drawing_stems(drawn: Sequence[tuple[str, str, str]]) -> dict[tuple[str, str, str], str]:
    """Return the file name without ending of each drawing of a face: RUN-FACE, or RUN-FACE-LAYER.

    The membrane's are named first, so that they are called the same whatever else is drawn.

    Parameters
    ----------
    drawn
        Run, face and layer of each.
    """
    ordered = sorted(drawn, key=lambda each: each[2] != MEMBRANE)
    stems = file_stems([f"{run} {face}" for run, face, _ in ordered], instead="face",
                       endings=["" if layer == MEMBRANE else f"-{clean(layer)}" for _, _, layer in ordered])
    return dict(zip(ordered, stems, strict=True))


def elevation_files(job: Job) -> dict[tuple[str, str], str]:
    """Return the packet's file for the drawing of the membrane on each face, by run and face name."""
    stems = drawing_stems([(run.name, face.name, MEMBRANE) for run in job.runs for face in run.faces])
    return {(run, face): f"elevations/{stem}.svg" for (run, face, _), stem in stems.items()}
