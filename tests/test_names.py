"""One meaning a name: no public class, type or function of layout/ is called as one of another module."""

from __future__ import annotations

import ast
import re
from collections import defaultdict
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

from helpers.sources import nodes_of, tree_of

LAYOUT = Path(__file__).resolve().parent.parent / "layout"


def named_in(source: str) -> Iterator[tuple[str, str]]:
    """Yield each public class with nothing, and each name of a type with what it stands for."""
    for node in tree_of(source).body:
        if isinstance(node, ast.ClassDef):
            yield node.name, ""
        elif isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            yield node.targets[0].id, ast.unparse(node.value)


def twice(sources: dict[str, str]) -> dict[str, list[str]]:
    """Return the names with more than one meaning, with the modules they stand in.

    A name of a type may stand in several modules for one and the same type, since not every module may import another.
    """
    found: dict[str, list[tuple[str, str]]] = defaultdict(list)
    for module, source in sources.items():
        for name, meaning in named_in(source):
            if re.match("[A-Z][a-z]", name):
                found[name].append((module, meaning))
    return {name: [module for module, _ in places] for name, places in found.items()
            if len(places) > 1 and (len({meaning for _, meaning in places}) > 1 or not places[0][1])}


AGAIN = "the audit works out again, by itself, what the name says, and shares no code with what it audits"
DOORS = "the audit has a door of its own to files, as the program has one"
SAME_MEANING = {
    "toe": AGAIN, "value": AGAIN, "cents": AGAIN, "fasteners": AGAIN,
    "read_bytes": DOORS, "read_text": DOORS, "as_text": DOORS,
}
"""Functions that stand in two modules for one and the same thing, with the reason; one of the two is the audit's."""


def functions_of(sources: dict[str, str]) -> dict[str, list[str]]:
    """Return the public functions that stand in several modules, with the modules."""
    found: dict[str, list[str]] = defaultdict(list)
    for module, source in sources.items():
        for node in tree_of(source).body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                found[node.name].append(module)
    return {name: modules for name, modules in found.items() if len(modules) > 1}


@lru_cache(maxsize=None)
def sources_of_layout() -> dict[str, str]:
    """Return the source of every module, by its path."""
    return {path.relative_to(LAYOUT).as_posix(): path.read_text(encoding="utf-8")
            for path in sorted(LAYOUT.rglob("*.py"))}


def test_no_public_function_stands_in_two_modules() -> None:
    found = functions_of(sources_of_layout())
    assert {name: modules for name, modules in found.items() if name not in SAME_MEANING} == {}
    for name in SAME_MEANING:
        assert sum(module.startswith("audit/") for module in found[name]) == 1 and len(found[name]) == 2


def test_a_function_in_two_modules_is_found() -> None:
    sources = {"a": "def cut(): pass", "b": "def cut(): pass\ndef _own(): pass", "c": "def _own(): pass"}
    assert functions_of(sources) == {"cut": ["a", "b"]}


def test_no_public_name_has_two_meanings() -> None:
    assert twice(sources_of_layout()) == {}


def test_what_has_two_meanings_is_found() -> None:
    assert twice({"a": "class Box: pass", "b": "class Box: pass", "c": "class _Own: pass"}) == {"Box": ["a", "b"]}
    assert twice({"a": "class Box: pass", "b": "Box = tuple[int, int]"}) == {"Box": ["a", "b"]}
    assert twice({"a": "Box = tuple[int, int]", "b": "Box = tuple[int, int, int]"}) == {"Box": ["a", "b"]}
    assert twice({"a": "Vec = tuple[int, int]", "b": "Vec = tuple[int, int]", "c": "MOST = 3", "d": "MOST = 4"}) == {}


def private_names(source: str) -> list[str]:
    """Return the private names of ``layout`` that a test asks for: imported, patched, or taken from something else."""
    found: list[str] = []
    for node in nodes_of(source):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("layout"):
            found += [alias.name for alias in node.names]
        elif isinstance(node, ast.Attribute) and not (isinstance(node.value, ast.Name) and node.value.id == "self"):
            found.append(node.attr)
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and \
                node.func.attr in ("setattr", "object"):
            found += [argument.value for argument in node.args
                      if isinstance(argument, ast.Constant) and isinstance(argument.value, str)]
    return [name for name in found if re.match("_[a-z]", name) and name != "_replace"]


def test_tests_ask_for_public_names_only() -> None:
    tests = LAYOUT.parent / "tests"
    found = {path.name: private_names(path.read_text(encoding="utf-8"))
             for path in (*tests.glob("test_*.py"), *tests.glob("published/*.py"))}
    assert {name: names for name, names in found.items() if names} == {}


def test_a_private_name_in_a_test_is_found() -> None:
    source = """
from layout.rolls import _cut, cut
cut(thing._lanes, self._own, monkeypatch.setattr(thing, "_rip", 1))
"""
    assert sorted(private_names(source)) == ["_cut", "_lanes", "_rip"]
