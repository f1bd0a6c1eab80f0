"""A revision: what a plan made anew in the field is, for its drawings and its crew."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Revision:
    """Its number from 1, the digest of the plan before, and the tags of what is new or changed on the wall.

    ``lines`` say it piece by piece for the crew.
    """

    number: int
    before: str
    changed: tuple[str, ...]
    lines: tuple[str, ...] = ()
