"""The tables of a DXF file: linetypes, layers, text and dimension styles that plot at the sheet's scale."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ezdxf.document import Drawing as Document

from layout.drawing.model.blocks import SMALL
from layout.drawing.model.entities import Box, CadSet
from layout.drawing.model.layers import DASHES, Layer
from layout.drawing.model.plain import GAP, TICK

STYLE = {False: "LAPWRIGHT", True: "LAPWRIGHT-BOLD"}
"""Text style, plain and strong."""
DIMENSIONS = "LAPWRIGHT-{}"
"""Dimension style by the scale it plots at."""
_LINETYPES = {"dashed": "HIDDEN", "dotted": "DOT", "centre": "CENTER"}
"""Usual names, so that an office's own patterns take over where the drawing is inserted."""
_FLAT_LINETYPES = {"dashed": "DASHEDTINY", "dotted": "DOTTINY", "centre": "DASHDOTTINY"}
"""Names in a flat file: LibreCAD goes by the name alone, and its patterns of the usual names are 6 to 50 mm long."""


def set_up(doc: Document, cad: CadSet, layers: Mapping[str, Layer], *, flat: bool = False) -> None:
    """Put linetypes, layers and styles in a new document, and set its units and scale.

    Parameters
    ----------
    doc
        The document.
    cad
        What will be drawn, for the unit and the scales.
    layers
        Layers by their use.
    flat
        For programs that read little.
    """
    linetypes = _FLAT_LINETYPES if flat else _LINETYPES
    per = 25.4 if cad.unit.name == "in" else 1.0
    for line, name in linetypes.items():
        marks = [mark / per for mark in DASHES[line]]
        pattern = [sum(marks), *(mark if number % 2 == 0 else -mark for number, mark in enumerate(marks))]
        doc.linetypes.add(name, pattern, description=line)
    made: set[str] = set()
    for layer in layers.values():
        if layer.name.casefold() in made:
            continue
        made.add(layer.name.casefold())
        entry = doc.layers.add(layer.name, color=layer.index, linetype=linetypes.get(layer.line, "Continuous"),
                               lineweight=_weight(layer.weight))
        entry.description = layer.meaning
        entry.dxf.plot = int(layer.plots)
    doc.styles.add(STYLE[False], font="arial.ttf")
    doc.styles.add(STYLE[True], font="arialbd.ttf")
    scales = {model.drawing.scale for model in cad.models} | {1}
    for scale in sorted(scales):
        _dimension_style(doc, cad, scale, per)
    inch = cad.unit.name == "in"
    header = doc.header
    header["$MEASUREMENT"] = 0 if inch else 1
    header["$LUNITS"] = 4 if inch else 2
    header["$LUPREC"] = 4 if inch else 0
    header["$LTSCALE"] = float(cad.scale)
    header["$PSLTSCALE"] = 0
    header["$DIMSCALE"] = float(cad.scale)
    header["$TEXTSTYLE"] = STYLE[False]
    header["$DIMSTYLE"] = DIMENSIONS.format(cad.scale)
    header["$LWDISPLAY"] = 1
    for name, value in _dimension_values(cad, cad.scale, per).items():
        if name not in ("dimtxsty", "dimpost"):  # for readers that know no styles
            header[f"${name.upper()}"] = value
    header["$DIMPOST"] = "" if inch else "<> mm"


def extents(doc: Document, cad: CadSet) -> None:
    """Set the extents of model space, and the view that shows all of it when the file is opened.

    Parameters
    ----------
    doc
        The document.
    cad
        What is drawn in it.
    """
    if not cad.models:
        return
    per = float(cad.unit.ticks)
    boxes = [model.drawing.frame.moved(model.at) for model in cad.models]
    around = Box.around(boxes)
    low, high = (around.left / per, around.bottom / per, 0.0), (around.right / per, around.top / per, 0.0)
    space: Any = doc.modelspace()
    space.dxf.extmin, space.dxf.extmax = low, high
    space.dxf.limmin, space.dxf.limmax = low[:2], high[:2]
    for name, value in (("$EXTMIN", low), ("$EXTMAX", high), ("$LIMMIN", low[:2]), ("$LIMMAX", high[:2])):
        doc.header[name] = value
    height = max(high[1] - low[1], (high[0] - low[0]) / 1.6)
    doc.set_modelspace_vport(height=height * 1.05, center=((low[0] + high[0]) / 2, (low[1] + high[1]) / 2))


def keep_used_layers(doc: Document) -> None:
    """Take layers on which nothing lies out of a document."""
    used = {"0", "defpoints"}
    for entity in doc.entitydb.values():
        if entity.dxf.hasattr("layer"):
            used.add(entity.dxf.layer.casefold())
    for name in [layer.dxf.name for layer in doc.layers]:
        if name.casefold() not in used:
            doc.layers.remove(name)


def ltscale(cad: CadSet, scale: int) -> float:
    """Return the linetype scale of things drawn for one scale in a file whose own is another.

    Parameters
    ----------
    cad
        The file.
    scale
        What the things are drawn for; 1 for paper.
    """
    return scale / cad.scale


def _dimension_style(doc: Document, cad: CadSet, scale: int, per: float) -> None:
    """Add a dimension style that plots right at one scale and writes lengths as this program does."""
    style: Any = doc.dimstyles.add(DIMENSIONS.format(scale))
    for name, value in _dimension_values(cad, scale, per).items():
        style.dxf.set(name, value)


def _dimension_values(cad: CadSet, scale: int, per: float) -> dict[str, Any]:
    """Return the variables of a dimension style by their names."""
    inch = cad.unit.name == "in"
    return {
        "dimtxsty": STYLE[False], "dimscale": float(scale), "dimtxt": SMALL / per, "dimgap": GAP / per,
        "dimexo": GAP / per, "dimexe": GAP / per, "dimtsz": TICK / per, "dimasz": TICK / per, "dimtad": 1, "dimtih": 0,
        "dimtoh": 0, "dimtix": 0, "dimtofl": 1, "dimclrd": 256, "dimclre": 256, "dimclrt": 256,
        # feet and inches to 1/16 with fractions on one line; or whole millimetres
        "dimlunit": 4 if inch else 2, "dimdec": 4 if inch else 0, "dimfrac": 2, "dimzin": 3 if inch else 8,
        "dimpost": "" if inch else "<> mm", "dimlfac": 1.0,
    }


def _weight(weight: int) -> int:
    """Return the nearest lineweight that DXF knows [1/100 mm]."""
    known = (0, 5, 9, 13, 15, 18, 20, 25, 30, 35, 40, 50, 53, 60, 70, 80, 90, 100, 106, 120, 140, 158, 200, 211)
    return min(known, key=lambda each: (abs(each - weight), each))
