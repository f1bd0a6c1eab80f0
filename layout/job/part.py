"""A part of the job file: what every model of the job shares, and defaults that depend on the job's unit."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel, ConfigDict, Field

from layout.units import Unit


class Unsound(Exception):
    """A check asked for a value that is wrong or missing in the file; that fault is told already."""


class Part(BaseModel):
    """A mapping in the job file; keys it does not know are faults.

    A part may be built with some of its values left out because they are wrong. Asking for one of
    those raises ``Unsound``, so that a check which needs it is passed over and all others are made.
    """

    # no validator is built before one is asked for: a job is walked through, and only its JSON Schema needs one
    model_config = ConfigDict(extra="forbid", strict=True, arbitrary_types_allowed=True, defer_build=True)

    if not TYPE_CHECKING:
        def __getattr__(self, name: str) -> Any:
            if name in type(self).model_fields:
                raise Unsound(name)
            return super().__getattr__(name)


_LEFT_OUT = re.compile(r" Left out: .*?; in a metric job .*", re.DOTALL)


@dataclass(frozen=True)
class Default:
    """A default as a person would write it, in inch jobs and in metric jobs."""

    inch: object
    metric: object

    def written(self, unit: Unit) -> object:
        """Return the default as it would stand in a job file."""
        return self.inch if unit.name == "in" else self.metric


def default(inch: object, metric: object, description: str) -> Any:
    """Declare a key that may be left out, whose default depends on the job's unit.

    Parameters
    ----------
    inch, metric
        The default as written in an inch job and in a metric job.
    description
        What the key is, for the JSON Schema.

    Returns
    -------
    Any
        The pydantic field.
    """
    return Field(
        default=Default(inch, metric),
        description=f"{description} Left out: {_said(inch)}; in a metric job {_said(metric)}.",
        json_schema_extra={"default": inch},  # type: ignore[dict-item]
    )


def without_default(description: str) -> str:
    """Return what a key is without what counts when it is left out."""
    return _LEFT_OUT.sub("", description)


def part_default(description: str) -> Any:
    """Declare a part that may be left out whole: all its own defaults then stand."""
    return Field(default={}, description=description)


def _said(value: object) -> str:
    return f"[{', '.join(map(str, value))}]" if isinstance(value, list) else str(value)
