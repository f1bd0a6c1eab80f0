"""Reads a building model: the door to IfcOpenShell. Elements become plain solids in ticks.

ISO 16739, IFC2X3 and IFC4. Nothing that a model names elsewhere is opened.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from layout.errors import Fault, JobError
from layout.files import read_bytes
from layout.job.ifc.solids import Solid
from layout.job.tree import show
from layout.units import UNITS, Unit

MAX_IFC_BYTES = 100_000_000
"""Largest model [bytes]."""
MAX_ELEMENTS = 5_000
"""Most elements whose shapes are worked out."""
MAX_POINTS = 20_000
"""Most points of one shape."""
MAX_METRES = 1e6
"""Farthest from the origin that anything is believed to be built [m]."""
SCHEMAS = ("IFC2X3", "IFC4")

_HEAD = b"ISO-10303-21"
_ALONE = "save the basement's walls, footings and pipes as a model of their own"


@dataclass
class BuildingModel:
    """What is read of a building model.

    ``voids`` are openings by the GlobalId of their wall; ``others`` counts elements that are not read.
    """

    unit: Unit
    schema: str
    storeys: tuple[str, ...]
    walls: list[Solid] = field(default_factory=list)
    footings: list[Solid] = field(default_factory=list)
    pipes: list[Solid] = field(default_factory=list)
    voids: dict[str, list[Solid]] = field(default_factory=dict)
    others: Counter[str] = field(default_factory=Counter)
    told: list[str] = field(default_factory=list)


def read_model(path: Path, *, storeys: Sequence[str], without: Sequence[str], unit: str) -> BuildingModel:
    """Read the walls of a model's storeys, with what stands under them and goes through them.

    Parameters
    ----------
    path
        An IFC file.
    storeys
        Names of the storeys whose walls are read; empty for those below 0, or the only one.
    without
        GlobalIds of elements that are left out.
    unit
        in or ft for a job in inches, mm, cm or m for one in millimetres; empty for the model's own.

    Raises
    ------
    JobError
        When the model cannot be read, with every fault in it.
    """
    file = str(path)
    try:
        import ifcopenshell
        import ifcopenshell.geom
    except ImportError:
        raise JobError([Fault(0, "", "cannot be read without IfcOpenShell", hint="pip install 'lapwright[ifc]'")],
                       file) from None
    if path.suffix.lower() != ".ifc":
        raise JobError([Fault(0, "", "must be a plain IFC file (.ifc)", path.suffix, "save it as .ifc")], file)
    data = read_bytes(path, MAX_IFC_BYTES, hint=_ALONE)
    if not data[:1000].lstrip().startswith(_HEAD):
        raise JobError([Fault(0, "", "must be an IFC file, which this is not")], file)
    del data
    try:
        held: Any = ifcopenshell.open(file)
        schema = str(held.schema)
    except Exception as error:  # nothing is known of what broken files raise; all of it means the same
        raise JobError([Fault(0, "", f"cannot be read as IFC: {_why(error)}")], file) from None
    if schema not in SCHEMAS and not schema.startswith("IFC4X3"):
        raise JobError([Fault(0, "", "must be IFC2X3 or IFC4", show(schema))], file)
    faults: list[Fault] = []
    try:
        model = _Reading(held, ifcopenshell.geom, schema, without, faults).read(storeys, unit)
    except JobError as error:
        raise JobError(error.faults, file) from None
    except Exception as error:  # an entity stands where another is expected
        raise JobError([Fault(0, "", f"cannot be read as IFC: {_why(error)}")], file) from None
    if faults:
        raise JobError(faults, file)
    return model


def _why(error: Exception) -> str:
    """Return a reason as one short line."""
    return show(" ".join(str(error).split()), most=100) or type(error).__name__


class _Reading:
    """One pass over a model."""

    def __init__(self, held: Any, geom: Any, schema: str, without: Sequence[str], faults: list[Fault]) -> None:
        self.held, self.geom, self.schema, self.faults = held, geom, schema, faults
        self.without = set(without)
        self.settings: Any = geom.settings()
        self.settings.set("use-world-coords", True)
        self.settings.set("disable-opening-subtractions", True)
        self.shaped = 0

    def read(self, storeys: Sequence[str], unit: str) -> BuildingModel:
        """Return what is read."""
        job_unit = self._unit(unit)
        self.scale = 1000.0 / float(job_unit.tick_mm)
        chosen = self._storeys(storeys)
        model = BuildingModel(job_unit, self.schema, tuple(str(storey.Name or storey.GlobalId) for storey in chosen))
        known = {guid for guid in self.without if self._by_guid(guid) is not None}
        for guid in sorted(self.without - known):
            self.faults.append(Fault(0, "--leave-out", "must be the GlobalId of an element of the model", show(guid)))
        inside = 0
        for storey in chosen:
            for element in self._elements(storey):
                if element.GlobalId in self.without:
                    continue
                if not element.is_a("IfcWall"):
                    if not element.is_a("IfcFooting") and not self._is_pipe(element) and not self._is_void(element):
                        model.others[element.is_a()] += 1
                elif self._external(element) is False:
                    inside += 1
                else:
                    self._add(model.walls, element, "wall", storey=str(storey.Name or ""))
                    model.voids[element.GlobalId] = self._voids(element, model)
        if inside:
            model.told.append(f"not read: {inside} walls that the model says are not external")
        self._elsewhere_in_model(model, chosen)
        for element in self._of("IfcFooting"):
            self._add(model.footings, element, "footing")
        for element in self._of("IfcSlab"):
            if str(getattr(element, "PredefinedType", "")) == "BASESLAB":
                self._add(model.footings, element, "base slab")
        for element in (*self._of("IfcFlowSegment"), *self._of("IfcBuildingElementProxy")):
            if self._is_pipe(element) or self._is_void(element):
                self._add(model.pipes, element, "pipe" if self._is_pipe(element) else "provision for a void")
        self._elsewhere(model)
        return model

    def _elsewhere_in_model(self, model: BuildingModel, chosen: Sequence[Any]) -> None:
        """Tell the walls of other storeys, and those that stand in none."""
        read = {element.id() for storey in chosen for element in self._elements(storey)}
        rest = {element.id() for element in self._of("IfcWall")} - read
        rest -= {part.id() for element in self._of("IfcWall") for part in _parts(element)}
        for storey in self.held.by_type("IfcBuildingStorey"):
            if storey not in chosen:
                mine = {element.id() for element in self._elements(storey)} & rest
                rest -= mine
                if mine:
                    model.told.append(f"not read: {len(mine)} walls of storey {show(str(storey.Name or ''))}")
        for number in sorted(rest):
            element = self.held.by_id(number)
            if not any(part.is_a("IfcWall") for part in _parts(element)):
                self.faults.append(Solid(str(element.GlobalId), str(element.is_a()), str(element.Name or ""), "", "",
                                         "wall").fault("must stand in a storey", hint="leave it out with --leave-out"))

    # --- what is asked ---------------------------------------------------------------------------

    def _unit(self, unit: str) -> Unit:
        """Return the job's unit: what is asked, or the model's own system."""
        if unit:
            if unit not in ("in", "ft", "mm", "cm", "m"):
                raise JobError([Fault(0, "--unit", "must be one of in, ft, mm, cm, m", show(unit))])
            return UNITS["in" if unit in ("in", "ft") else "mm"]
        for assignment in self.held.by_type("IfcUnitAssignment"):
            for one in assignment.Units:
                if getattr(one, "UnitType", "") == "LENGTHUNIT":
                    return UNITS["in" if one.is_a("IfcConversionBasedUnit") else "mm"]
        raise JobError([Fault(0, "", "must state its unit of length, which it does not")])

    def _storeys(self, asked: Sequence[str]) -> list[Any]:
        """Return the storeys that are read, the lowest first."""
        storeys = sorted(self.held.by_type("IfcBuildingStorey"),
                         key=lambda storey: (float(storey.Elevation or 0.0), storey.id()))
        names = ", ".join(show(str(storey.Name or storey.GlobalId)) for storey in storeys[:12])
        if asked:
            for name in asked:
                if all(name not in (storey.Name, storey.GlobalId) for storey in storeys):
                    self.faults.append(Fault(0, "--storey", "must name a storey of the model", f"{show(name)}; it has "
                                             f"{names or 'none'}"))
            return [storey for storey in storeys if storey.Name in asked or storey.GlobalId in asked]
        below = [storey for storey in storeys if float(storey.Elevation or 0.0) < -1e-6]
        if below or len(storeys) == 1:
            return below or storeys
        raise JobError([Fault(0, "--storey", "must name the storeys below grade, as none of the model's lies below 0",
                              f"it has {names or 'none'}")])

    def _elements(self, storey: Any) -> Iterator[Any]:
        """Yield the elements that stand in a storey, parts of assemblies included."""
        seen: set[int] = set()
        todo = sorted((element for relation in storey.ContainsElements for element in relation.RelatedElements),
                      key=lambda element: int(element.id()))
        while todo:
            element = todo.pop(0)
            if element.id() in seen:
                continue
            seen.add(element.id())
            parts = _parts(element)
            whole = element.is_a("IfcWall") and not any(part.is_a("IfcWall") for part in parts)
            if parts and not whole:
                todo = [*parts, *todo]
            if element.is_a("IfcElement") and (whole or not parts):
                yield element

    def _of(self, kind: str) -> Iterator[Any]:
        for element in self.held.by_type(kind):
            if element.GlobalId not in self.without:
                yield element

    def _by_guid(self, guid: str) -> Any:
        try:
            return self.held.by_guid(guid)
        except Exception:  # IfcOpenShell raises RuntimeError for an unknown one
            return None

    @staticmethod
    def _external(element: Any) -> bool | None:
        """Return what a wall's property IsExternal says; None when it says nothing."""
        for relation in element.IsDefinedBy:
            held = getattr(relation, "RelatingPropertyDefinition", None)
            for prop in getattr(held, "HasProperties", None) or ():
                if prop.Name == "IsExternal" and prop.is_a("IfcPropertySingleValue") and prop.NominalValue is not None:
                    return bool(prop.NominalValue.wrappedValue)
        return None

    @staticmethod
    def _is_pipe(element: Any) -> bool:
        """Tell whether an element is a length of pipe, duct, conduit or cable."""
        return bool(element.is_a("IfcFlowSegment"))

    @staticmethod
    def _is_void(element: Any) -> bool:
        """Tell whether an element is a provision for a void."""
        words = {str(getattr(element, "PredefinedType", "") or ""), str(getattr(element, "ObjectType", "") or "")}
        return element.is_a("IfcBuildingElementProxy") and any(
            word.upper().replace(" ", "") == "PROVISIONFORVOID" for word in words)

    def _voids(self, wall: Any, model: BuildingModel) -> list[Solid]:
        """Return the openings of a wall; what fills one says its kind."""
        found: list[Solid] = []
        for relation in sorted(wall.HasOpenings, key=lambda each: int(each.id())):
            opening = relation.RelatedOpeningElement
            if opening.GlobalId in self.without:
                continue
            fillings = [each.RelatedBuildingElement for each in opening.HasFillings]
            kind = next((word for word, name in (("window", "IfcWindow"), ("door", "IfcDoor"))
                         if any(filling.is_a(name) for filling in fillings)), "opening")
            model.others.subtract(filling.is_a() for filling in fillings if model.others[filling.is_a()] > 0)
            self._add(found, opening, kind, named=(*fillings, opening))
        return found

    # --- shapes ----------------------------------------------------------------------------------

    def _add(self, solids: list[Solid], element: Any, kind: str, *, storey: str = "",
             named: Sequence[Any] = ()) -> None:
        """Work out the shape of an element and keep it; tell when that cannot be done."""
        self.shaped += 1
        if self.shaped > MAX_ELEMENTS:
            raise JobError([Fault(0, "", f"must have at most {MAX_ELEMENTS:,} walls, footings, openings and pipes",
                                  hint=_ALONE)])
        solid = Solid(str(element.GlobalId), str(element.is_a()), str(element.Name or ""),
                      _first(named or (element,), lambda each: getattr(each, "Tag", None)),
                      _first(named or (element,), lambda each: each.Name), kind, storey)
        if element.Representation is None:
            self.faults.append(solid.fault("must have a shape, which it has not", hint="leave it out with --leave-out"))
            return
        try:
            shape = self.geom.create_shape(self.settings, element)
            flat = [float(value) * self.scale for value in shape.geometry.verts]
            faces = [int(value) for value in shape.geometry.faces]
        except Exception as error:  # whatever a strange shape does to the kernel
            self.faults.append(solid.fault(f"must have a shape that can be worked out ({_why(error)})",
                                           hint="leave it out with --leave-out"))
            return
        if not all(math.isfinite(value) and abs(value) < MAX_METRES * self.scale for value in flat):
            self.faults.append(solid.fault("must be built nearer to the origin"))
            return
        if not faces or len(flat) > 3 * MAX_POINTS:
            self.faults.append(solid.fault(f"must have a shape of at most {MAX_POINTS:,} points"))
            return
        points = tuple(zip(flat[0::3], flat[1::3], flat[2::3]))
        triangles = tuple(zip(faces[0::3], faces[1::3], faces[2::3]))
        solids.append(solid.shaped(points, triangles, self._axis(element)))

    @staticmethod
    def _axis(element: Any) -> tuple[float, float]:
        """Return the direction on plan in which an element is drawn: the x axis of its placement."""
        import ifcopenshell.util.placement

        if element.ObjectPlacement is None:
            return 1.0, 0.0
        matrix = ifcopenshell.util.placement.get_local_placement(element.ObjectPlacement)
        x, y = float(matrix[0][0]), float(matrix[1][0])
        long = math.hypot(x, y)
        return (x / long, y / long) if long > 1e-9 else (1.0, 0.0)

    def _elsewhere(self, model: BuildingModel) -> None:
        """Tell what a model names elsewhere; none of it is opened."""
        kinds = ("IfcExternalReference", "IfcDocumentInformation", "IfcImageTexture")
        count = sum(len(self.held.by_type(kind)) for kind in kinds)
        if count:
            model.told.append(f"not opened: {count} references to documents, images and libraries outside the model")


def _parts(element: Any) -> list[Any]:
    """Return the elements that an element is put together of."""
    return sorted((part for relation in getattr(element, "IsDecomposedBy", ()) or ()
                   for part in relation.RelatedObjects if part.is_a("IfcElement")), key=lambda part: int(part.id()))


def _first(elements: Sequence[Any], what: Callable[[Any], object]) -> str:
    """Return the first of some words that elements have."""
    return next((str(word) for element in elements if (word := what(element))), "")
