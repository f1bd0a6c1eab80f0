"""Entities to plain points: straight lines as they are, curves by chords that stay within half a tick of them."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from typing import Any

from ezdxf import path as paths

from layout.job.trace.drawn import NOWHERE, Vec
from layout.units import Unit, read_length

CHORD = 0.5
"""Most that a chord leaves its curve by [ticks]."""
MAX_CORNERS = 10_000
"""Most points in one line."""
MAX_TICKS = 1e12
"""Farthest from the origin that anything is believed to be drawn [ticks]."""
MAX_CURVE = 1e7
"""Largest curve [ticks]: ten miles."""
SAME_LENGTH = {"in": 8.0, "mm": 10.0}
"""How far a written length may be rounded from what its dimension measures [ticks]."""
_CODES = re.compile(r"\\[A-Za-z][^;\\]*;|[{}]|\\[A-Za-z]")
LETTER = 0.7
"""About how wide a letter is, in heights of it."""


class Strange(Exception):
    """One entity is not understood; the message says why."""


def flat(points: Iterable[Any], scale: float) -> list[Vec]:
    """Return points without their heights, which must be one and the same [drawing units]."""
    points = list(points)
    level = [(float(point[0]), float(point[1])) for point in points]
    depths = [float(point[2]) for point in points]
    if not all(math.isfinite(x) and math.isfinite(y) for x, y in level):
        raise Strange("must have points that are numbers")
    if depths and not max(depths) - min(depths) <= 1e-6 + 1e-9 * max(abs(depth) for depth in depths):
        raise Strange("must lie flat in the XY plane")
    if any(max(abs(x), abs(y)) * scale > MAX_TICKS for x, y in level):
        raise Strange("must be drawn nearer to the origin")
    return level


def points_of(entity: Any, scale: float) -> tuple[list[Vec], bool]:
    """Return the points of a line or curve [drawing units], and whether it is closed.

    Raises
    ------
    Strange
        When it is nothing that has points, does not lie flat, or is too large.
    """
    kind = entity.dxftype()
    if kind == "LINE":
        return flat([entity.dxf.start, entity.dxf.end], scale), False
    if kind == "LWPOLYLINE":
        if any(abs(bulge) > 1e-9 for *_, bulge in entity.get_points("xyb")):
            return _bent(entity, list(entity.vertices_in_wcs()), scale), bool(entity.closed)
        return flat(entity.vertices_in_wcs(), scale), bool(entity.closed)
    if kind == "POLYLINE" and (entity.is_2d_polyline or entity.is_3d_polyline):
        if any(abs(vertex.dxf.get("bulge", 0.0)) > 1e-9 for vertex in entity.vertices):
            return _bent(entity, list(entity.points_in_wcs()), scale), bool(entity.is_closed)
        return flat(entity.points_in_wcs(), scale), bool(entity.is_closed)
    if kind in ("ARC", "ELLIPSE"):
        centre, reach = _reach(entity, kind)
        flat([centre], scale)
        _bounded(reach, scale)
        return flat(entity.flattening(CHORD / scale), scale), False
    if kind == "SPLINE":
        return _spline(entity, scale)
    raise Strange("must be drawn with lines, polylines, arcs, splines or circles")


def _reach(entity: Any, kind: str) -> tuple[Any, float]:
    if kind == "ARC":
        return entity.ocs().to_wcs(entity.dxf.center), abs(float(entity.dxf.radius))
    return entity.dxf.center, float(entity.dxf.major_axis.magnitude)


def _bounded(reach: float, scale: float) -> None:
    if not math.isfinite(reach) or reach * scale > MAX_CURVE:
        raise Strange("must have a radius that is a number, of at most ten miles")


def _bent(entity: Any, corners: list[Any], scale: float) -> list[Vec]:
    """Return the points of a polyline with bulges."""
    level = flat(corners, scale)
    if not level:
        return []
    xs, ys = [x for x, _ in level], [y for _, y in level]
    _bounded(max(max(xs) - min(xs), max(ys) - min(ys)), scale)
    if len(level) > MAX_CORNERS:
        raise Strange(f"must have at most {MAX_CORNERS:,} points")
    return flat(paths.make_path(entity).flattening(CHORD / scale, segments=1), scale)


def _spline(entity: Any, scale: float) -> tuple[list[Vec], bool]:
    given = [*entity.control_points, *entity.fit_points]
    if not given:
        raise Strange("must have points")
    if len(given) > MAX_CORNERS:
        raise Strange(f"must have at most {MAX_CORNERS:,} points")
    level = flat(given, scale)
    xs, ys = [x for x, _ in level], [y for _, y in level]
    _bounded(max(max(xs) - min(xs), max(ys) - min(ys)), scale)
    points = flat(entity.flattening(CHORD / scale, segments=8), scale)
    return points, bool(entity.closed)


def circle_of(entity: Any, kind: str, scale: float) -> tuple[Vec, float] | None:
    """Return the centre and radius of a circle, or of an ellipse that is one within a tick; None for another ellipse.

    Raises
    ------
    Strange
        When it does not lie flat, or has no radius.
    """
    normal = entity.dxf.get("extrusion", (0.0, 0.0, 1.0))
    if abs(normal[0]) > 1e-9 or abs(normal[1]) > 1e-9:
        raise Strange("must lie flat in the XY plane")
    if kind == "CIRCLE":
        centre, radius = flat([entity.ocs().to_wcs(entity.dxf.center)], scale)[0], abs(float(entity.dxf.radius))
    else:
        centre, radius = flat([entity.dxf.center], scale)[0], float(entity.dxf.major_axis.magnitude)
        whole = abs(abs(entity.dxf.end_param - entity.dxf.start_param) - math.tau) < 1e-6
        if not whole or radius * (1 - abs(float(entity.dxf.ratio))) * scale > 1.0:
            return None
    if not math.isfinite(radius) or radius * scale > MAX_TICKS:
        raise Strange("must have a radius that is a number")
    return centre, radius


def bow_of(entity: Any, scale: float) -> tuple[Vec, float, float, float]:
    """Return the centre, radius, start and sweep of an arc, counter-clockwise as seen [drawing units, degrees]."""
    normal = entity.dxf.get("extrusion", (0.0, 0.0, 1.0))
    if abs(normal[0]) > 1e-9 or abs(normal[1]) > 1e-9:
        raise Strange("must lie flat in the XY plane")
    centre = flat([entity.ocs().to_wcs(entity.dxf.center)], scale)[0]
    radius = abs(float(entity.dxf.radius))
    start, end = float(entity.dxf.start_angle), float(entity.dxf.end_angle)
    if not all(math.isfinite(value) for value in (radius, start, end)) or radius * scale > MAX_TICKS:
        raise Strange("must have a radius that is a number")
    sweep = (end - start) % 360.0 or 360.0
    if normal[2] < 0:
        start = 180.0 - start - sweep
    return centre, radius, start % 360.0, sweep


def somewhere(entity: Any) -> Vec:
    """Return some point of an entity [drawing units]; NOWHERE when none is found."""
    point: Any = None
    for name in ("start", "insert", "center", "location", "vtx0", "defpoint"):
        if point is None and entity.dxf.hasattr(name):
            point = entity.dxf.get(name)
    kind = entity.dxftype()
    if kind == "LWPOLYLINE":
        point = next(iter(entity.vertices()), None)
    elif kind == "SPLINE":
        point = next((point for points in (entity.control_points, entity.fit_points) for point in points), None)
    elif kind == "POLYLINE":
        point = next((vertex.dxf.location for vertex in entity.vertices), None)
    if point is None:
        return NOWHERE
    x, y = float(point[0]), float(point[1])
    return (x, y) if math.isfinite(x) and math.isfinite(y) else NOWHERE


def dimension_of(entity: Any, scale: float, unit: Unit) -> tuple[str, float] | None:
    """Return the length written over a dimension and what it measures [ticks], where these differ; None otherwise."""
    written = _CODES.sub("", str(entity.dxf.get("text", "") or "")).strip()
    if not written or "<>" in written or int(entity.dxf.get("dimtype", 0)) & 7 not in (0, 1):
        return None
    try:
        told = float(read_length(written, unit))
    except ValueError:
        return None
    length = abs(float(entity.get_measurement()) * float(entity.override().get("dimlfac", 1.0))) * scale
    return (written, length) if math.isfinite(length) and abs(told - length) > SAME_LENGTH[unit.name] else None


def placed_text(entity: Any) -> tuple[str, Any, float, float]:
    """Return a text's words, where it is put, its height, and how far its middle is from there in its own lengths."""
    if entity.dxftype() == "MTEXT":
        side = {1: 0.5, 2: 0.0, 0: -0.5}[int(entity.dxf.get("attachment_point", 1)) % 3]
        return str(entity.plain_text()), entity.dxf.insert, float(entity.dxf.get("char_height", 1.0)), side
    align, first, second = entity.get_placement()
    if align.name in ("ALIGNED", "FIT"):
        first, side = (first + second) / 2, 0.0
    else:
        side = 0.5 if "LEFT" in align.name else -0.5 if "RIGHT" in align.name else 0.0
    return str(entity.plain_text()), entity.ocs().to_wcs(first), float(entity.dxf.get("height", 1.0)), side
