"""Plans kept as JSON, so that tests may name their pieces whatever the planner would do today.

``PYTHONPATH=tests python -m helpers.frozen`` plans tests/data/*.yaml again and writes what it gets beside them.
"""

from __future__ import annotations

import dataclasses
import importlib
import json
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import Any

from layout.records import Plan
from layout.takeoff import take_off

DATA = Path(__file__).resolve().parents[1] / "data"
NAMES = ("nook", "bank", "ring")


def freeze(value: Any) -> Any:
    """Return a record and everything in it as JSON takes it, with the names of the classes."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = {field.name: freeze(getattr(value, field.name)) for field in dataclasses.fields(value)}
        return {"record": f"{type(value).__module__}.{type(value).__qualname__}", **fields}
    if isinstance(value, (Decimal, Fraction)):
        return {"number": type(value).__name__, "text": str(value)}
    if isinstance(value, dict):
        return {"mapping": [[freeze(key), freeze(item)] for key, item in value.items()]}
    if isinstance(value, (tuple, list)):
        return [freeze(item) for item in value]
    assert value is None or isinstance(value, (str, int, float, bool)), type(value)
    return value


def thaw(value: Any) -> Any:
    """Return what was frozen; lists come back as tuples."""
    if isinstance(value, list):
        return tuple(thaw(item) for item in value)
    if not isinstance(value, dict):
        return value
    if "record" not in value:
        if "mapping" in value:
            return {thaw(key): thaw(item) for key, item in value["mapping"]}
        return {"Decimal": Decimal, "Fraction": Fraction}[value["number"]](value["text"])
    module, name = value["record"].rsplit(".", 1)
    assert module.startswith("layout.")
    kind = getattr(importlib.import_module(module), name)
    known = {field.name for field in dataclasses.fields(kind)}
    return kind(**{key: thaw(item) for key, item in value.items() if key in known})


@lru_cache(maxsize=None)
def frozen_plan(name: str) -> Plan:
    """Return the plan kept under a name, its takeoff counted anew."""
    plan = thaw(json.loads((DATA / f"{name}-plan.json").read_text(encoding="utf-8")))
    assert isinstance(plan, Plan)
    return take_off(dataclasses.replace(plan, quantities=(), order=()))


if __name__ == "__main__":
    from helpers.packets import short_plan

    for name in NAMES:
        plan = short_plan((DATA / f"{name}.yaml").read_text(encoding="utf-8"))
        text = json.dumps(freeze(plan), ensure_ascii=False, separators=(",", ":"))
        (DATA / f"{name}-plan.json").write_text(text.replace('{"record":', '\n{"record":') + "\n", encoding="utf-8")
