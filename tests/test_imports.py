"""Who may import whom: the imports of layout/ are walked and held against one table."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from helpers.sources import each_of, nodes_of

ROOT = Path(__file__).resolve().parent.parent
LAYOUT = ROOT / "layout"
MOST_LINES = 600

BASE = {"errors", "units", "order", "records"}
STAGES = {"job", "faces", "drops", "courses", "pieces", "rolls", "takeoff"}
WRITERS = {"drawing.dxf", "drawing.svg", "drawing.pdf"}

ALLOWED: dict[str, set[str]] = {
    "errors": set(),
    "units": {"errors"},
    "order": set(),
    "revision": set(),
    "garbage": set(),
    "paths": set(),
    "processes": {"garbage"},
    "records": {"errors", "units", "order", "revision"},
    "files": {"errors"},
    "shapes": BASE,
    "folding": BASE,
    "panels": BASE | {"shapes", "folding"},
    "concrete": BASE | {"shapes", "folding", "panels"},
    "surfaces": BASE | {"shapes", "folding", "panels", "concrete"},
    "counts": BASE,
    "names": BASE,
    "milp": BASE,
    "cautions": BASE,
    "marks": BASE | {"shapes"},
    **{stage: BASE | {"shapes", "milp", "folding", "panels", "concrete", "surfaces"} for stage in STAGES},
    "job": BASE | {"shapes", "milp", "files", "folding", "concrete"},
    "takeoff": BASE | {"shapes", "counts", "folding", "concrete"},
    "rolls": BASE | {"shapes", "milp", "marks"},
    "coursed": BASE | STAGES - {"job", "drops", "takeoff"} | {"integrated"},
    "board": BASE | {"shapes", "faces"},
    "integrated": BASE | STAGES - {"job", "takeoff"} | {"shapes", "milp", "board"},
    "stock": BASE | {"files", "job"},
    "shortages": BASE | {"rolls", "integrated", "board"},
    "scenarios": BASE | {"job", "takeoff"},
    "readback": BASE | {"shapes", "faces", "job"},
    "savings": BASE | {"shapes", "drops", "rolls", "integrated", "takeoff"},
    "audit": BASE,
    "packet": BASE | {"files", "shapes", "paths", "counts", "folding", "concrete", "marks", "names", "cautions",
                      "takeoff"},
    "reference": BASE | {"job", "drawing.model", "revise", "takeoff"},
    "page": BASE | {"files", "processes", "job", "faces", "takeoff", "drawing", "drawing.model", "drawing.svg",
                    "packet", "pipeline", "readback"},
    "drawing.model": {"errors", "units", "files"},
    **{writer: {"errors", "units", "paths", "drawing.model"} for writer in WRITERS},
}
"""Unit of layout -> units it may import, besides itself."""

COMPOSERS = {"pipeline", "drawing", "compare", "revise", "together"}
"""Units that put others together; what they may import is said in ``may_import``."""

DOORS: dict[str, set[str]] = {
    "highspy": {"milp"},
    "ezdxf": {"drawing.dxf", "job"},
    "ifcopenshell": {"job"},
    "svgwrite": {"drawing.svg", "job"},
    "matplotlib": {"drawing.pdf"},
    "ruamel": {"job"},
    "pydantic": {"job", "revise"},
    "pydantic_core": {"job"},
    "xlsxwriter": {"packet", "job"},
    "openpyxl": {"job"},
    "jinja2": {"packet"},
    "segno": {"packet"},
    "rich": {"compare", "reference"},
    "starlette": {"page"},
    "uvicorn": {"page"},
    "distributed": {"together"},
    "shapely": {"shapes", "folding", "panels", "concrete", "surfaces", "pieces", "audit"},
}
"""Third-party package -> units that may import it; numpy may be used anywhere but in errors, units and records."""


def unit_of(module: str) -> str:
    """Return the unit a module of layout belongs to: a stage, a top module, or one part of drawing."""
    parts = module.split(".")[1:]
    if not parts:
        return ""
    if parts[0] != "drawing":
        return parts[0]
    if len(parts) == 1:
        return "drawing"
    for part in ("model", "dxf", "svg", "pdf"):
        if parts[1] == part or parts[1].startswith(part + "_"):
            return f"drawing.{part}"
    return "drawing"


def module_of(path: Path) -> str:
    """Return the dotted name of a file of layout."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imports_of(source: str, module: str, *, package: bool) -> Iterator[tuple[int, str]]:
    """Yield (line, dotted name) of everything a module imports, names of ``from`` imports included."""
    for node in nodes_of(source):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield node.lineno, alias.name
        elif isinstance(node, ast.ImportFrom):
            origin = node.module or ""
            if node.level:
                kept = module.split(".")
                kept = kept[:len(kept) - node.level + (1 if package else 0)]
                origin = ".".join([*kept, origin] if origin else kept)
            for alias in node.names:
                yield node.lineno, f"{origin}.{alias.name}"


def may_import(importer: str, imported: str) -> bool:
    """Tell whether one unit of layout may import another."""
    if importer == imported:
        return True
    if importer in {"pipeline", "compare", "revise", "together"}:
        return True
    if importer == "drawing":
        return imported in BASE | {"shapes", "folding", "concrete", "marks", "names", "drawing.model"}
    return imported in ALLOWED.get(importer, set())


def faults_in(source: str, module: str, *, package: bool = False) -> list[str]:
    """Return every import of a module that the table does not allow."""
    here = unit_of(module)
    faults = []
    for line, name in imports_of(source, module, package=package):
        first = name.split(".")[0]
        if first == "cli":
            faults.append(f"{module}:{line}: imports cli")
        elif first == "layout":
            there = unit_of(name) if layout_unit(name) else ""
            allowed = may_import(here, there)
            if module == "layout.drawing" and there.startswith("drawing"):
                allowed = True  # the package's front puts elevation makers and writers together
            if there and not allowed:
                faults.append(f"{module}:{line}: {here} imports {there}")
        elif first == "numpy":
            if here in BASE:
                faults.append(f"{module}:{line}: {here} imports numpy")
        elif first not in sys.stdlib_module_names and here not in DOORS.get(first, set()):
            faults.append(f"{module}:{line}: {here} imports {first}")
    return faults


def layout_unit(name: str) -> bool:
    """Tell whether a dotted name under layout is a module or something in one (not layout's own front)."""
    parts = name.split(".")
    return len(parts) > 1 and ((LAYOUT / parts[1]).is_dir() or (LAYOUT / f"{parts[1]}.py").is_file())


MODULES = sorted(LAYOUT.rglob("*.py"))


@each_of(MODULES)
def test_imports_follow_the_table(path: Path) -> None:
    source = path.read_text(encoding="utf-8")
    assert faults_in(source, module_of(path), package=path.name == "__init__.py") == []


@each_of([*MODULES, ROOT / "cli.py"])
def test_modules_stay_short(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= MOST_LINES


def test_no_test_file_is_imported() -> None:
    """What tests share stands in tests/helpers, so that each file of tests can be read, run and removed alone."""
    files = [path for path in (ROOT / "tests").rglob("*.py") if path != Path(__file__)]
    taken = [f"{path.name}:{line}: {name}" for path in files
             for line, name in imports_of(path.read_text(encoding="utf-8"), path.stem, package=False)
             if any(part.startswith("test_") for part in name.split(".")) or name.startswith("tests.")]
    assert taken == []


def test_every_unit_is_in_the_table() -> None:
    units = {unit_of(module_of(path)) for path in MODULES} - {""}
    assert units - set(ALLOWED) - COMPOSERS == set()


def test_a_revision_places_drops_by_the_front_of_drops() -> None:
    for path in sorted((LAYOUT / "revise").glob("*.py")):
        names = [name for _, name in imports_of(
            path.read_text(encoding="utf-8"), module_of(path), package=path.name == "__init__.py")]
        inner = [name for name in names if name.startswith("layout.drops.")
                 and (LAYOUT / "drops" / f"{name.split('.')[2]}.py").is_file() and name != "layout.drops.place"]
        assert not inner, path


def test_planner_and_audit_fold_without_each_other() -> None:
    """No module of the audit and none that folds for the planner imports the other's, nor anything they share."""
    units = {path: module_of(path) for path in MODULES}
    audit = {name for name in units.values() if name.startswith("layout.audit")}
    own = (name for name in units.values() if ".pieces" in name)
    planner = {"layout.concrete", "layout.panels", "layout.surfaces", "layout.folding", *own}
    for path, name in units.items():
        if name in audit | planner:
            taken = {origin for _, origin in imports_of(
                path.read_text(encoding="utf-8"), name, package=path.name == "__init__.py")}
            others = planner | {"layout.shapes"} if name in audit else audit
            assert not [origin for origin in taken for other in others
                        if origin == other or origin.startswith(f"{other}.")], name


@pytest.mark.parametrize(("module", "source"), [
    ("layout.drops.place", "from layout.rolls import cut"),
    ("layout.faces", "import layout.job"),
    ("layout.rolls.solve", "from layout import drops"),
    ("layout.records", "from layout.shapes import band"),
    ("layout.drawing.svg", "from layout.records import Plan"),
    ("layout.drawing.svg", "from layout.drawing.dxf import write"),
    ("layout.drawing.pdf_pages", "from layout.drawing.svg import write"),
    ("layout.drawing.elevations", "from layout.drawing.dxf import write"),
    ("layout.drawing.model", "from layout.records import Plan"),
    ("layout.packet.folder", "from layout.rolls import cut"),
    ("layout.audit.laps", "from layout.shapes import cover"),
    ("layout.records", "import numpy"),
    ("layout.audit.concrete", "from layout.concrete import Concrete"),
    ("layout.audit.folding", "from layout.folding import Motion"),
    ("layout.audit.laps", "from layout import marks"),
    ("layout.integrated", "from layout.job import read_job"),
    ("layout.pipeline", "from starlette.requests import Request"),
    ("layout.page.sketch", "from layout.rolls import cut"),
    ("layout.page.document", "from ruamel.yaml import YAML"),
    ("layout.rolls.solve", "import highspy"),
    ("layout.packet.plan_json", "from ruamel.yaml import YAML"),
    ("layout.drawing.elevations", "import ezdxf"),
    ("layout.pipeline", "from cli import main"),
    ("layout.drops.place", "from ..rolls import cut"),
    ("layout.faces", "def f():\n    from layout.rolls import cut"),
])
def test_forbidden_imports_are_found(module: str, source: str) -> None:
    assert len(faults_in(source, module)) == 1


@pytest.mark.parametrize(("module", "source"), [
    ("layout.drops.place", "from layout.drops.water import order"),
    ("layout.drops.place", "from .water import order"),
    ("layout.drops.place", "from layout.shapes import cover\nimport numpy as np"),
    ("layout.pipeline", "from layout import audit, drawing, packet\nfrom layout.integrated import decide"),
    ("layout.audit.laps", "from layout.audit.walls import Wall\nfrom shapely import Polygon"),
    ("layout.milp", "import highspy"),
])
def test_allowed_imports_are_let_through(module: str, source: str) -> None:
    assert faults_in(source, module) == []
