"""The starter job: a commented job file of one of a few shapes, in inches or millimetres, which plans as it is.

Its text lies in ``starter/``; ``{{a|b}}`` there is a in an inch job and b in a metric one. Its rules are the defaults
of the model, so that each stands in it with what it means.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from importlib import resources

from layout.job.model import RulesPart
from layout.job.part import Default
from layout.job.walk import keys_of
from layout.units import INCH, MM, Unit

SHAPES = ("ell", "rectangle", "wall")
"""What the starter may show; the first unless another is asked for."""
_EITHER = re.compile(r"\{\{(.*?)\|(.*?)\}\}(?!\})")
_MEANT = re.compile(r"(.*?[^\s#].*?)\s{2,}# (.*)")
_MEANING = 39
"""Column at which what a key means begins."""


def starter(shape: str = SHAPES[0], *, metric: bool = False) -> str:
    """Return the text of a commented starter job, which plans as it is.

    Parameters
    ----------
    shape
        ``ell``: a house with a step in its footing and sloping grade; ``rectangle``; ``wall``: one open wall.
    metric
        In millimetres instead of inches.

    Returns
    -------
    str
        YAML.
    """
    folder = resources.files("layout.job").joinpath("starter")
    top, runs, takeoff = (
        _EITHER.sub(r"\2" if metric else r"\1", folder.joinpath(f"{name}.yaml").read_text(encoding="utf-8"))
        for name in ("top", shape, "takeoff"))
    whole = top + "\n".join(_rules(MM if metric else INCH)) + "\n\n" + runs + takeoff
    return "".join(f"{_aligned(line)}\n" for line in whole.splitlines())


def _aligned(line: str) -> str:
    """Return a line with the meaning of its key where those of the others begin."""
    match = _MEANT.fullmatch(line)
    return f"{match[1]:{_MEANING - 1}} # {match[2]}" if match else line


def _rules(unit: Unit) -> Iterator[str]:
    """Yield the rules as they stand when left out, each with its meaning."""
    yield f"{'rules:':{_MEANING}}# every one may be left out; these are the defaults"
    for name, key in keys_of(RulesPart).items():
        preset = key.info.default
        value = preset.written(unit) if isinstance(preset, Default) else preset
        if isinstance(value, bool):
            value = "true" if value else "false"
        said = f"[{', '.join(map(str, value))}]" if isinstance(value, list) else str(value)
        about = (key.info.description or "").split(". ")[0].rstrip(".")
        yield f"{f'  {name}: {said}':{_MEANING - 1}} # {about[:1].lower()}{about[1:]}"
