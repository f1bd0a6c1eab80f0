"""Flat faces in space: what a drawing of folded sheet holds, in ticks of the job's unit."""

from __future__ import annotations

from dataclasses import dataclass

Spot3 = tuple[float, float, float]


@dataclass(frozen=True)
class Face3:
    """One flat face: an outline in space, and rings left out of it [ticks]."""

    outline: tuple[Spot3, ...]
    holes: tuple[tuple[Spot3, ...], ...] = ()


@dataclass(frozen=True)
class Body:
    """What belongs to one thing: the run whose space it lies in, its layer and tag, its faces."""

    run: str
    layer: str
    tag: str
    faces: tuple[Face3, ...]
