"""The house rules that a test can read from the source."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterable, Iterator
from pathlib import Path

from helpers.sources import each_of, nodes_of, tree_of

ROOT = Path(__file__).resolve().parent.parent
LAYOUT = ROOT / "layout"
MODULES = sorted(LAYOUT.rglob("*.py"))
SOURCES = [*MODULES, ROOT / "cli.py", *sorted((ROOT / "tests").rglob("*.py"))]

CLOCKS = {"time.time", "time.monotonic", "time.perf_counter", "time.localtime", "time.gmtime", "time.ctime",
          "datetime.now", "datetime.utcnow", "datetime.today", "date.today"}
RANDOM = {"random", "secrets", "uuid"}
SEEDED = {"random.Random"}


def parsed(path: Path) -> ast.Module:
    """Return a module's syntax tree."""
    return tree_of(path.read_text(encoding="utf-8"))


def dotted(node: ast.expr) -> str:
    """Return the dotted name of an expression, as far as it is one."""
    if isinstance(node, ast.Attribute):
        return f"{dotted(node.value)}.{node.attr}".lstrip(".")
    return node.id if isinstance(node, ast.Name) else ""


def nodes(path: Path) -> tuple[ast.AST, ...]:
    """Return every node of a module."""
    return nodes_of(path.read_text(encoding="utf-8"))


def calls(nodes: Iterable[ast.AST]) -> Iterator[tuple[int, str]]:
    """Yield (line, dotted name) of every call."""
    for node in nodes:
        if isinstance(node, ast.Call):
            yield node.lineno, dotted(node.func)


def public_functions(tree: ast.Module) -> Iterator[ast.FunctionDef]:
    """Yield the functions of a module, and the methods of its classes, that others may call."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node
        elif isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            for inner in node.body:
                if isinstance(inner, ast.FunctionDef) and not inner.name.startswith("_"):
                    yield inner


def documented(docstring: str) -> list[str]:
    """Return the names in a docstring's Parameters section, in order."""
    match = re.search(r"^Parameters\n-{3,}\n(.*?)(?:\n\n[A-Z]\w+\n-{3,}|\Z)", docstring, flags=re.S | re.M)
    if not match:
        return []
    names: list[str] = []
    for line in match[1].splitlines():
        if line and not line.startswith(" "):
            names += [name.strip().lstrip("*") for name in line.split(":")[0].split(",")]
    return names


def parameters(function: ast.FunctionDef) -> list[str]:
    """Return the names of a function's parameters, in order, without self and cls."""
    spec = function.args
    every = [*spec.posonlyargs, *spec.args, *([spec.vararg] if spec.vararg else []), *spec.kwonlyargs,
             *([spec.kwarg] if spec.kwarg else [])]
    return [argument.arg for argument in every if argument.arg not in ("self", "cls")]


@each_of(MODULES)
def test_documented_parameters_are_the_signatures(path: Path) -> None:
    for function in public_functions(parsed(path)):
        docstring = ast.get_docstring(function) or ""
        names, needed = documented(docstring), parameters(function)
        if names:
            spoken = [name for name in needed if name in names or re.search(rf"``[^`]*\b{name}\b[^`]*``", docstring)]
            assert [name for name in spoken if name in names] == names, f"{path.name}: {function.name}"
            assert spoken == needed, f"{path.name}: {function.name}"


@each_of(MODULES)
def test_dataclass_parameters_are_its_fields(path: Path) -> None:
    for node in parsed(path).body:
        if isinstance(node, ast.ClassDef):
            names = documented(ast.get_docstring(node) or "")
            fields = [inner.target.id for inner in node.body
                      if isinstance(inner, ast.AnnAssign) and isinstance(inner.target, ast.Name)]
            fields += [name for inner in node.body if isinstance(inner, ast.FunctionDef) and inner.name == "__init__"
                       for name in parameters(inner)]
            unknown = [name for name in names if name not in fields]
            assert not unknown, f"{path.name}: {node.name}"


@each_of([*MODULES, ROOT / "cli.py"])
def test_everything_public_is_documented(path: Path) -> None:
    tree = parsed(path)
    assert ast.get_docstring(tree), f"{path.name} has no docstring"
    for node in tree.body:
        if isinstance(node, (ast.FunctionDef, ast.ClassDef)) and not node.name.startswith("_"):
            assert ast.get_docstring(node), f"{path.name}: {node.name}"


@each_of(MODULES)
def test_nothing_in_layout_prints_logs_or_reads_the_clock(path: Path) -> None:
    modules = {alias.name for node in nodes(path) if isinstance(node, ast.Import) for alias in node.names}
    for line, name in calls(nodes(path)):
        assert name not in ("print", "input", "breakpoint"), f"{path.name}:{line}"
        logs = name.split(".")[0] == "logging" and name != "logging.getLogger"  # which silences another's log
        assert not logs and name != "warnings.warn", f"{path.name}:{line}"
        if path.parent.name != "page":  # what answers a person at once ends what is out of date, and makes tokens
            assert not any(name == clock or name.endswith("." + clock) for clock in CLOCKS), f"{path.name}:{line}"
            assert name in SEEDED or name.split(".")[0] not in RANDOM & modules, f"{path.name}:{line}"


@each_of(MODULES)
def test_nothing_in_layout_reads_the_environment_or_the_net(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    if path.parent.name == "page":
        return  # it serves a page on this machine; what it lets in is tested in test_page_server
    if path == LAYOUT / "processes.py":
        text = text.replace("os.environ", "")  # a process learns from it where modules are, and from nothing else
        assert set(re.findall(r'\["([A-Z_]+)"\]|get\("([A-Z_]+)"\)', text)) <= {("PYTHONPATH", ""), ("", "PYTHONPATH")}
    for word in ("os.environ", "getenv", "urllib.request", "import socket", "import requests", "locale.", "getlocale"):
        assert word not in text, f"{path.name}: {word}"


@each_of(MODULES)
def test_dataclasses_of_layout_are_frozen_or_say_why(path: Path) -> None:
    for node in nodes(path):
        if isinstance(node, ast.ClassDef) and path.parent.name == "records":
            for decorator in node.decorator_list:
                if isinstance(decorator, ast.Call) and dotted(decorator.func) == "dataclass":
                    frozen = [key for key in decorator.keywords if key.arg == "frozen"]
                    assert frozen, f"{path.name}: {node.name}"


@each_of(MODULES)
def test_no_module_is_named_for_nothing(path: Path) -> None:
    assert path.stem not in ("utils", "util", "helpers", "helper", "common", "misc", "shared")


@each_of(SOURCES)
def test_no_test_or_module_catches_everything_silently(path: Path) -> None:
    for node in nodes(path):
        if isinstance(node, ast.ExceptHandler):
            assert node.type is not None, f"{path.name}:{node.lineno}: bare except"
            bare = isinstance(node.type, ast.Name) and node.type.id in ("Exception", "BaseException")
            silent = all(isinstance(part, ast.Pass) for part in node.body)
            assert not (bare and silent), f"{path.name}:{node.lineno}: except Exception: pass"


def test_tests_do_not_expect_just_any_exception() -> None:
    for path in SOURCES:
        for line, name in calls(nodes(path)):
            if name == "pytest.raises":
                call = path.read_text(encoding="utf-8").splitlines()[line - 1]
                assert "raises(Exception)" not in call.replace(" ", ""), f"{path.name}:{line}"


def test_the_readers_of_source_see_what_they_must() -> None:
    function = ast.parse('def f(a: int, *, b: str) -> None:\n    """Do.\n\n    Parameters\n    ----------\n    a, b\n'
                         '        Things.\n\n    Returns\n    -------\n    None\n    """\n').body[0]
    assert isinstance(function, ast.FunctionDef)
    assert documented(ast.get_docstring(function) or "") == parameters(function) == ["a", "b"]
    assert list(calls(ast.walk(ast.parse("import time\ntime.time()")))) == [(2, "time.time")]
