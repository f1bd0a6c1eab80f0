"""Building models made with IfcOpenShell's own authoring API, as a modelling program would."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np

IN = 0.0254
FT = 0.3048


class Building:
    """A model with one basement storey; lengths are given in metres, whatever unit it is written in.

    Parameters
    ----------
    schema
        IFC2X3 or IFC4.
    unit
        MILLIMETRE, METRE or FOOT.
    storeys
        Names and elevations of the storeys, the basement first.
    """

    def __init__(self, schema: str = "IFC4", unit: str = "MILLIMETRE",
                 storeys: tuple[tuple[str, float], ...] = (("Basement", -3.0),)) -> None:
        import ifcopenshell.api.aggregate
        import ifcopenshell.api.context
        import ifcopenshell.api.feature
        import ifcopenshell.api.geometry
        import ifcopenshell.api.project
        import ifcopenshell.api.pset
        import ifcopenshell.api.root
        import ifcopenshell.api.spatial
        import ifcopenshell.api.unit

        self.api: Any = ifcopenshell.api
        self.file: Any = self.api.project.create_file(version=schema)
        if schema == "IFC2X3":
            self._owner()
        project = self.make("IfcProject", "Project")
        if unit == "FOOT":
            length = self.api.unit.add_conversion_based_unit(self.file, name="foot")
        else:
            length = self.api.unit.add_si_unit(self.file, unit_type="LENGTHUNIT",
                                               prefix="MILLI" if unit == "MILLIMETRE" else None)
        self.api.unit.assign_unit(self.file, units=[length])
        model = self.api.context.add_context(self.file, context_type="Model")
        self.body = self.api.context.add_context(self.file, context_type="Model", context_identifier="Body",
                                                 target_view="MODEL_VIEW", parent=model)
        site, building = self.make("IfcSite", "Site"), self.make("IfcBuilding", "House")
        self.join(project, site)
        self.join(site, building)
        self.storeys: dict[str, Any] = {}
        per = {"MILLIMETRE": 0.001, "METRE": 1.0, "FOOT": FT}[unit]
        for name, elevation in storeys:
            storey = self.make("IfcBuildingStorey", name)
            storey.Elevation = elevation / per
            self.join(building, storey)
            self.storeys[name] = storey

    def _owner(self) -> None:
        """Say who makes the model, as IFC2X3 wants to know of everything in it."""
        import ifcopenshell.api.owner
        import ifcopenshell.api.owner.settings

        person = self.api.owner.add_person(self.file, identification="R", family_name="Rowe", given_name="R")
        house = self.api.owner.add_organisation(self.file, identification="O", name="Office")
        self.api.owner.add_person_and_organisation(self.file, person=person, organisation=house)
        self.api.owner.add_application(self.file, application_developer=house, version="1",
                                       application_full_name="Model", application_identifier="model")
        settings: Any = ifcopenshell.api.owner.settings
        settings.get_user = lambda file: next(iter(file.by_type("IfcPersonAndOrganization")), None)
        settings.get_application = lambda file: next(iter(file.by_type("IfcApplication")), None)

    def make(self, kind: str, name: str) -> Any:
        """Make an element."""
        return self.api.root.create_entity(self.file, ifc_class=kind, name=name)

    def join(self, whole: Any, part: Any) -> None:
        """Put a part into a whole."""
        self.api.aggregate.assign_object(self.file, products=[part], relating_object=whole)

    def placed(self, element: Any, at: tuple[float, float, float], turn: float = 0.0, *, storey: str = "") -> Any:
        """Place an element, turned on plan [degrees], in a storey."""
        matrix = np.eye(4)
        c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
        matrix[:2, :2] = ((c, -s), (s, c))
        matrix[:3, 3] = at
        self.api.geometry.edit_object_placement(self.file, product=element, matrix=matrix, is_si=True)
        where = self.storeys[storey] if storey else next(iter(self.storeys.values()))
        if not element.is_a("IfcOpeningElement"):
            self.api.spatial.assign_container(self.file, products=[element], relating_structure=where)
        return element

    def shaped(self, element: Any, shape: Any) -> Any:
        """Give an element a shape."""
        self.api.geometry.assign_representation(self.file, product=element, representation=shape)
        return element

    def box(self, length: float, height: float, thickness: float) -> Any:
        """Return a box from the origin along x, y and z."""
        return self.api.geometry.add_wall_representation(self.file, context=self.body, length=length, height=height,
                                                         thickness=thickness)

    def wall(self, name: str, start: tuple[float, float], end: tuple[float, float], *, thick: float, low: float,
             high: float, storey: str = "", external: bool | None = None) -> Any:
        """Make a wall whose right face, seen from its start to its end, goes from point to point."""
        wall = self.make("IfcWall", name)
        self.shaped(wall, self.box(math.dist(start, end), high - low, thick))
        turn = math.degrees(math.atan2(end[1] - start[1], end[0] - start[0]))
        self.placed(wall, (*start, low), turn, storey=storey)
        if external is not None:
            pset = self.api.pset.add_pset(self.file, product=wall, name="Pset_WallCommon")
            self.api.pset.edit_pset(self.file, pset=pset, properties={"IsExternal": external})
        return wall

    def mesh_wall(self, name: str, outline: list[tuple[float, float]], at: tuple[float, float, float], turn: float, *,
                  thick: float) -> Any:
        """Make a wall of an outline (along, up) and a thickness to its left, as a faceted shape."""
        count = len(outline)
        points = [(x, 0.0, z) for x, z in outline] + [(x, thick, z) for x, z in outline]
        faces = [list(range(count)), [count + index for index in reversed(range(count))]]
        faces += [[index, index + count, (index + 1) % count + count, (index + 1) % count] for index in range(count)]
        wall = self.make("IfcWall", name)
        shape = self.api.geometry.add_mesh_representation(self.file, context=self.body, vertices=[points],
                                                          faces=[faces], edges=[[]])
        self.shaped(wall, shape)
        return self.placed(wall, at, turn)

    def plan_wall(self, name: str, outline: list[tuple[float, float]], at: tuple[float, float, float], turn: float, *,
                  high: float) -> Any:
        """Make a wall of an outline on plan and a height, as a faceted shape."""
        count = len(outline)
        points = [(x, y, 0.0) for x, y in outline] + [(x, y, high) for x, y in outline]
        faces = [list(reversed(range(count))), [count + index for index in range(count)]]
        faces += [[index, (index + 1) % count, (index + 1) % count + count, index + count] for index in range(count)]
        wall = self.make("IfcWall", name)
        self.shaped(wall, self.api.geometry.add_mesh_representation(self.file, context=self.body, vertices=[points],
                                                                    faces=[faces], edges=[[]]))
        return self.placed(wall, at, turn)

    def footing(self, name: str, start: tuple[float, float], end: tuple[float, float], *, ledge: float, wide: float,
                low: float, high: float) -> Any:
        """Make a strip footing along a wall's right face, going out past it by the ledge; ends as they are given."""
        footing = self.make("IfcFooting", name)
        self.shaped(footing, self.box(math.dist(start, end), high - low, wide))
        turn = math.atan2(end[1] - start[1], end[0] - start[0])
        at = start[0] + math.sin(turn) * ledge, start[1] - math.cos(turn) * ledge
        return self.placed(footing, (*at, low), math.degrees(turn))

    def opening(self, wall: Any, tag: str, *, left: float, sill: float, wide: float, high: float, thick: float,
                fill: str = "", deep: float | None = None, low: float) -> Any:
        """Cut an opening into a wall, from its start along it; fill it with a window or a door."""
        opening = self.make("IfcOpeningElement", tag)
        self.shaped(opening, self.box(wide, high, (thick if deep is None else deep) + 0.2))
        self._in_wall(wall, opening, left, sill, -0.1 if deep is None else thick - deep, low)
        self.api.feature.add_feature(self.file, feature=opening, element=wall)
        if fill:
            filling = self.make(fill, f"{fill} {tag}")
            filling.Tag = tag
            self.placed(filling, (0.0, 0.0, 0.0))
            self.api.feature.add_filling(self.file, opening=opening, element=filling)
        return opening

    def _in_wall(self, wall: Any, element: Any, left: float, up: float, across: float, low: float) -> None:
        import ifcopenshell.util.placement
        import ifcopenshell.util.unit

        matrix = ifcopenshell.util.placement.get_local_placement(wall.ObjectPlacement)
        scale = ifcopenshell.util.unit.calculate_unit_scale(self.file)
        matrix[:3, 3] *= scale
        move = np.eye(4)
        move[:3, 3] = (left, across, up)
        self.api.geometry.edit_object_placement(self.file, product=element, matrix=matrix @ move, is_si=True)

    def round_void(self, wall: Any, tag: str, *, at: float, up: float, across: float, thick: float) -> Any:
        """Cut a round opening into a wall."""
        opening = self.make("IfcOpeningElement", tag)
        self._round(opening, across, thick + 0.2)
        self._across(wall, opening, at, up, -0.1)
        self.api.feature.add_feature(self.file, feature=opening, element=wall)
        return opening

    def pipe(self, wall: Any, tag: str, *, at: float, up: float, across: float, kind: str = "",
             askew: float = 0.0) -> Any:
        """Put a pipe, or a provision for a void, through a wall, square to it or askew [degrees]."""
        pipe = self.make(kind or ("IfcFlowSegment" if self.file.schema == "IFC2X3" else "IfcPipeSegment"), tag)
        self._round(pipe, across, 2.0)
        self._across(wall, pipe, at, up, -1.0, askew)
        self.api.spatial.assign_container(self.file, products=[pipe],
                                          relating_structure=next(iter(self.storeys.values())))
        return pipe

    def _round(self, element: Any, across: float, deep: float) -> None:
        import ifcopenshell.util.unit

        scale = ifcopenshell.util.unit.calculate_unit_scale(self.file)
        middle = self.file.create_entity(
            "IfcAxis2Placement2D", Location=self.file.create_entity("IfcCartesianPoint", (0.0, 0.0)))
        profile = self.file.create_entity("IfcCircleProfileDef", ProfileType="AREA", Position=middle,
                                          Radius=across / 2 / scale)
        self.shaped(element, self.api.geometry.add_profile_representation(
            self.file, context=self.body, profile=profile, depth=deep))

    def _across(self, wall: Any, element: Any, at: float, up: float, out: float, askew: float = 0.0) -> None:
        """Lay something that is extruded up so that it goes through a wall from its right side to its left."""
        import ifcopenshell.util.placement
        import ifcopenshell.util.unit

        matrix = ifcopenshell.util.placement.get_local_placement(wall.ObjectPlacement)
        matrix[:3, 3] *= ifcopenshell.util.unit.calculate_unit_scale(self.file)
        lay = np.eye(4)
        lay[:3, :3] = ((1, 0, 0), (0, 0, 1), (0, -1, 0))  # its z becomes the wall's y
        c, s = math.cos(math.radians(askew)), math.sin(math.radians(askew))
        turn = np.eye(4)
        turn[:2, :2] = ((c, -s), (s, c))
        shift = np.eye(4)
        shift[:3, 3] = (at, out, up)
        self.api.geometry.edit_object_placement(self.file, product=element, matrix=matrix @ shift @ turn @ lay,
                                                is_si=True)

    def mirrored(self, wall: Any) -> None:
        """Let a wall's shape be a mapped one, mirrored across the middle of its length."""
        shape = wall.Representation.Representations[0]
        solid = shape.Items[0]
        maker = self.file.create_entity
        origin = maker("IfcRepresentationMap", MappingOrigin=maker(
            "IfcAxis2Placement3D", Location=maker("IfcCartesianPoint", (0.0, 0.0, 0.0))),
            MappedRepresentation=maker("IfcShapeRepresentation", ContextOfItems=self.body,
                                       RepresentationIdentifier="Body", RepresentationType="SweptSolid",
                                       Items=[solid]))
        length = max(point[0] for point in self._outline(solid))
        target = maker(
            "IfcCartesianTransformationOperator3D", Axis1=maker("IfcDirection", (-1.0, 0.0, 0.0)),
            Axis2=maker("IfcDirection", (0.0, 1.0, 0.0)), Axis3=maker("IfcDirection", (0.0, 0.0, 1.0)),
            LocalOrigin=maker("IfcCartesianPoint", (length, 0.0, 0.0)), Scale=1.0)
        shape.Items = [maker("IfcMappedItem", MappingSource=origin, MappingTarget=target)]
        shape.RepresentationType = "MappedRepresentation"

    @staticmethod
    def _outline(solid: Any) -> list[tuple[float, ...]]:
        curve = solid.SweptArea.OuterCurve
        if curve.is_a("IfcPolyline"):
            return [tuple(point.Coordinates) for point in curve.Points]
        return [tuple(point) for point in curve.Points.CoordList]

    def saved(self, path: Path) -> Path:
        """Write the model."""
        self.file.write(str(path))
        return path


def rectangle(building: Building, wide: float, deep: float, *, thick: float, low: float, high: float,
              at: tuple[float, float] = (0.0, 0.0), turn: float = 0.0) -> dict[str, Any]:
    """Make four walls, butted at the corners: South and North run through, East and West stand between them."""
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))

    def put(x: float, y: float) -> tuple[float, float]:
        return at[0] + c * x - s * y, at[1] + s * x + c * y

    walls = {"South": ((0.0, 0.0), (wide, 0.0)), "East": ((wide, thick), (wide, deep - thick)),
             "North": ((wide, deep), (0.0, deep)), "West": ((0.0, deep - thick), (0.0, thick))}
    return {name: building.wall(name, put(*start), put(*end), thick=thick, low=low, high=high)
            for name, (start, end) in walls.items()}
