"""One meaning a name: no public class name stands in two modules of layout/."""

from __future__ import annotations

import ast
from collections import defaultdict
from pathlib import Path

LAYOUT = Path(__file__).resolve().parent.parent / "layout"


def classes() -> dict[str, list[str]]:
    """Return every public class name, with the modules that define it."""
    found = defaultdict(list)
    for path in sorted(LAYOUT.rglob("*.py")):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                found[node.name].append(path.relative_to(LAYOUT).as_posix())
    return found


def test_no_public_class_name_stands_in_two_modules() -> None:
    assert {name: modules for name, modules in classes().items() if len(modules) > 1} == {}
