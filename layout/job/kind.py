"""What every kind of value in a job file shares: a check that pydantic calls, and the flaws it may find.

Each kind is a pydantic validator that takes the job's unit as context. A rule that is broken is raised as
``BadValue``, which carries the words of the rule and, inside a list, the steps to the item.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationInfo
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import core_schema

from layout.job.limits import MAX_LIST
from layout.units import INCH, Unit


@dataclass(frozen=True)
class ReadingContext:
    """What validators are told: the job's unit, and whether it could be read (limits are not applied if not)."""

    unit: Unit = INCH
    sure: bool = True


@dataclass(frozen=True)
class Flaw:
    """A rule broken somewhere inside one value: the steps to it, the rule, what was got, a hint."""

    steps: tuple[str | int, ...]
    what: str
    got: str | None = None
    hint: str = ""

    def below(self, *steps: str | int) -> Flaw:
        """Return the flaw as seen from a value that holds this one."""
        return Flaw((*steps, *self.steps), self.what, self.got, self.hint)


class BadValue(ValueError):
    """A value breaks its rules; holds the flaws."""

    def __init__(self, *flaws: Flaw) -> None:
        self.flaws = flaws
        super().__init__("; ".join(flaw.what for flaw in flaws))


def validation_context(info: ValidationInfo) -> ReadingContext:
    """Return what the validators are told; inches when nothing is."""
    return info.context if isinstance(info.context, ReadingContext) else ReadingContext()


@dataclass(frozen=True)
class Kind:
    """A kind of value: how it is checked, and its JSON Schema."""

    def check(self, value: object, told: ReadingContext) -> Any:
        raise NotImplementedError

    def json_schema(self) -> dict[str, Any]:
        raise NotImplementedError

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        return core_schema.with_info_plain_validator_function(
            lambda value, info: self.check(value, validation_context(info)))

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler,
    ) -> JsonSchemaValue:
        return self.json_schema()


@dataclass(frozen=True)
class Items(Kind):
    """A list of values of one kind."""

    kind: Kind
    least: int = 0

    def check(self, value: object, told: ReadingContext) -> tuple[Any, ...]:
        """Return the items."""
        if not isinstance(value, list):
            raise BadValue(Flaw((), "must be a list"))
        if not self.least <= len(value) <= MAX_LIST:
            raise BadValue(Flaw((), f"must have {self.least} to {MAX_LIST:,} items", f"{len(value)}"))
        flaws: list[Flaw] = []
        items: list[Any] = []
        for index, item in enumerate(value):
            try:
                items.append(self.kind.check(item, told))
            except BadValue as error:
                flaws.extend(flaw.below(index) for flaw in error.flaws)
        if flaws:
            raise BadValue(*flaws)
        return tuple(items)

    def json_schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        return {"type": "array", "items": self.kind.json_schema(), "minItems": self.least, "maxItems": MAX_LIST}
