"""Takes the models of the job through a file's tree: every value that is right, and every fault there is."""

from __future__ import annotations

import difflib
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Annotated, Any, TypeVar, get_args, get_origin

from pydantic.fields import FieldInfo

from layout.errors import Advice, Fault
from layout.job.kind import BadValue, Flaw, Kind, ReadingContext
from layout.job.limits import MAX_FAULTS, MAX_NAME
from layout.job.part import Default, Part
from layout.job.tree import Path, Place, Value, named, show

AnyPart = TypeVar("AnyPart", bound=Part)


@dataclass
class Faults:
    """Collects faults by their path in the file, and puts them in the order of the file at the end."""

    root: Value
    found: list[tuple[Place, Fault]] = field(default_factory=list)
    counted: dict[int, Counter[str]] = field(default_factory=dict)

    def add(self, path: Path, what: str, *, got: str | None = None, hint: str = "",
            advice: Advice | None = None) -> None:
        """Add a fault; ``got`` left out shows the value in the file."""
        value, place = self.root.follow(path)
        shown = (written(value) if value else "") if got is None else got
        line = 0 if place.cell else place.line
        where = named(path, self.root, self.counted)
        self.found.append((place, Fault(line, where, what, show(shown), hint, place.cell, path, advice)))

    def ordered(self) -> list[Fault]:
        """Return the faults in the order of the file, each once."""
        return list(dict.fromkeys(fault for _, fault in sorted(self.found, key=lambda item: item[0])))


def written(value: Value) -> str:
    """Return a value as a message shows it."""
    if isinstance(value.content, list):
        return "a list" if value.content else "an empty list"
    if isinstance(value.content, dict):
        return "a mapping"
    return value.text or "nothing"


@dataclass(frozen=True)
class Key:
    """How one key of a part is read: as a part, as a list of parts, or as a value of one kind."""

    name: str
    info: FieldInfo
    part: type[Part] | None = None
    listed: bool = False
    kind: Kind | None = None
    least: int = 0

    @property
    def may_be_null(self) -> bool:
        """Whether nothing at all after the key means the same as the key left out."""
        return not self.info.is_required() and self.info.default is None


@cache
def keys_of(model: type[Part]) -> Mapping[str, Key]:
    """Return the keys of a model by their names in the file."""
    return {info.alias or name: _key(name, info) for name, info in model.model_fields.items()}


def _key(name: str, info: FieldInfo) -> Key:
    annotation, metadata = info.annotation, tuple(info.metadata)
    for arm in get_args(annotation):
        if get_origin(arm) is Annotated:
            annotation, *rest = get_args(arm)
            metadata += tuple(rest)
        elif isinstance(arm, type) and issubclass(arm, Part) and get_origin(annotation) is not list:
            annotation = arm
    if get_origin(annotation) is list:
        least = max((item.min_length for item in metadata if hasattr(item, "min_length")), default=0)
        return Key(name, info, part=get_args(annotation)[0], listed=True, least=least)
    if isinstance(annotation, type) and issubclass(annotation, Part):
        return Key(name, info, part=annotation)
    return Key(name, info, kind=next(item for item in metadata if isinstance(item, Kind)))


def _hint(name: str, keys: Mapping[str, Key]) -> str:
    """Return what would help with an unknown key: the nearest one, or all of them."""
    if name == "<<":
        return "merge keys are not read: write the keys out"
    before, colon, after = name.partition(":")
    if colon and before in keys:
        return f"put a space after the colon: {before}: {show(after)}"
    plain = name[:MAX_NAME].lower().replace("-", "_").replace(" ", "_")
    near = difflib.get_close_matches(plain, keys, n=1, cutoff=0.7)
    return f"did you mean {near[0]}?" if near else f"known here: {', '.join(keys)}"


class TreeWalk:
    """One reading of a tree: the unit it is read in, and the faults found so far."""

    def __init__(self, told: ReadingContext, faults: Faults) -> None:
        self.told = told
        self.faults = faults

    def part(self, model: type[AnyPart], value: Value, path: Path) -> AnyPart:
        """Read a mapping as a part; what is wrong in it is left out of the part and told as faults."""
        keys = keys_of(model)
        if not isinstance(value.content, dict):
            self.faults.add(path, "must be a mapping of keys to values")
            hollow = model.model_construct()
            hollow.__dict__.clear()
            return hollow
        self._unknown(value.content, keys, path)
        part = model.model_construct()
        for name, key in keys.items():
            given = value.content.get(name)
            try:
                found = self._absent(key, path, name) if given is None else self._given(key, given, (*path, name))
            except BadValue as error:
                part.__dict__.pop(key.name, None)
                for flaw in error.flaws:
                    self.faults.add((*path, name, *flaw.steps), flaw.what, got=flaw.got, hint=flaw.hint)
            else:
                part.__dict__[key.name] = found
        return part

    def _unknown(self, content: Mapping[str, Value], keys: Mapping[str, Key], path: Path) -> None:
        for name in content:
            if name not in keys:
                hint = _hint(name, keys) if len(self.faults.found) < MAX_FAULTS else ""
                self.faults.add((*path, name), "is not a known key", got="", hint=hint)

    def _absent(self, key: Key, path: Path, name: str) -> Any:
        if key.info.is_required():
            raise BadValue(Flaw((), "must be given", ""))
        preset = key.info.default
        if isinstance(preset, Default) and key.kind is not None:
            return key.kind.check(preset.written(self.told.unit), self.told)
        if key.listed:
            return []
        if key.part is not None and preset is not None:
            return self.part(key.part, Value({}, self.faults.root.follow(path)[1]), (*path, name))
        return preset

    def _given(self, key: Key, given: Value, path: Path) -> Any:
        if given.content is None and key.may_be_null:
            return None
        if key.kind is not None:
            return key.kind.check(given.plain(), self.told)
        assert key.part is not None
        return self._list(key.part, given, path, least=key.least) if key.listed else self.part(key.part, given, path)

    def _list(self, model: type[Part], given: Value, path: Path, *, least: int) -> list[Part]:
        if given.content is None and not least:
            return []
        if not isinstance(given.content, list):
            hint = "start each entry with a dash and a space" if isinstance(given.content, dict) else ""
            raise BadValue(Flaw((), "must be a list", hint=hint))
        if len(given.content) < least:
            raise BadValue(Flaw((), "must have at least one entry", "none"))
        return [self.part(model, item, (*path, index)) for index, item in enumerate(given.content)]
