"""The keys of a job file as a form shows them: what each is called, what may stand there, what an empty one means."""

from __future__ import annotations

from typing import Any

from layout.job.kind import Items, Kind
from layout.job.lengths import Elevations, Length, Range
from layout.job.model import JobPart
from layout.job.part import Default, Part, without_default
from layout.job.quantities import Number, WholeNumber
from layout.job.walk import Key, keys_of
from layout.job.words import Choice, Day, Words, YesNo

Field = dict[str, Any]
KINDS: tuple[tuple[type[Kind], str], ...] = (
    (Length, "length"), (Range, "range"), (Elevations, "profile"), (Number, "number"), (WholeNumber, "number"),
    (Words, "text"), (Day, "date"), (Choice, "choice"), (YesNo, "flag"),
)
"""What a form calls each kind of value; every other kind is typed as text that the reader then checks."""


def form() -> dict[str, list[Field]]:
    """Return the fields of every part of a job file.

    Returns
    -------
    dict
        Part -> its keys in order. Each has ``key``, ``label``, ``help``, ``needed``, ``kind`` and ``empty``: what an
        empty field stands for, in an inch job and in a metric one. ``kind`` is ``part`` or ``parts`` for a mapping or
        a list of mappings, with ``of`` naming the part; ``list`` with ``item`` for a list of values; else one of
        ``KINDS``, ``choice`` with its ``words``.
    """
    found: dict[str, list[Field]] = {}
    _add(JobPart, found)
    return found


def _add(model: type[Part], found: dict[str, list[Field]]) -> None:
    if model.__name__ in found:
        return
    found[model.__name__] = []
    for name, key in keys_of(model).items():
        found[model.__name__].append(_field(name, key))
        if key.part is not None:
            _add(key.part, found)


def _field(name: str, key: Key) -> Field:
    field: Field = {
        "key": name, "label": name.replace("_", " ").capitalize(), "needed": key.info.is_required(),
        "help": without_default(key.info.description or ""), "empty": _empty(key),
    }
    if key.part is not None:
        return {**field, "kind": "parts" if key.listed else "part", "of": key.part.__name__}
    if isinstance(key.kind, Items):
        words = {"words": key.kind.kind.words} if isinstance(key.kind.kind, Choice) else {}
        return {**field, "kind": "list", "item": _kind(key.kind.kind), **words}
    if isinstance(key.kind, Choice):
        field["words"] = list(key.kind.words)
    if isinstance(key.kind, Elevations):
        field["single"] = key.kind.single
    return {**field, "kind": _kind(key.kind)}


def _kind(kind: Kind | None) -> str:
    return next((word for made, word in KINDS if isinstance(kind, made)), "text")


def _empty(key: Key) -> dict[str, str]:
    """Return what an empty field stands for, by unit; nothing where it stands for nothing."""
    preset = key.info.default
    if key.info.is_required() or preset is None or key.part is not None:
        return {"in": "", "mm": ""}
    if isinstance(preset, Default):
        return {"in": _shown(preset.inch), "mm": _shown(preset.metric)}
    if isinstance(key.kind, Elevations):
        preset = preset[0][1]
    return {"in": _shown(preset), "mm": _shown(preset)}


def _shown(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return " to ".join(map(str, value))
    if isinstance(value, tuple):
        return ", ".join(map(str, value))
    return str(value)
