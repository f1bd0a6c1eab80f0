"""A packet that was worked from, read back as records."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

from layout.errors import Fault, JobError
from layout.faces import develop
from layout.files import MOST_PLAN_BYTES, read_text
from layout.job import read_job
from layout.pieces import PATCH, patch_outline
from layout.records import (
    BaselinePlan, Cut, Cutting, Drop, Finding, Job, Laid, Leftover, Piece, Ring, Roll, RuleException, Seam, Slit,
)

TURNABLE = frozenset({
    "collar", "footing cover", "inside cover", "riser cover", "ledge cover", "slope cover", "opening corner",
    "opening gusset", "sleeve patch",
})
"""Kinds of piece that may lie either way on a roll."""
SPARE = "spare"
"""Kind, and layer, of a piece that is cut and that no place on the wall needs."""
SPOILT, DAMAGED, MISSING = "spoilt sheet", "damaged sheet", "missing sheet"
WASTE = frozenset({SPOILT, DAMAGED, MISSING})
"""Kinds, on the layer of spares, of sheet that nothing can be made of: it keeps its place on its roll."""

JsonRow = Mapping[str, Any]


def read_earlier(folder: Path, check: Callable[[Path], Sequence[Finding]]) -> BaselinePlan:
    """Read the packet that was worked from.

    Parameters
    ----------
    folder
        The packet.
    check
        The audit: a packet in which it finds something is not worked on.

    Raises
    ------
    JobError
        When the folder is no sound packet.
    """
    if not folder.is_dir():
        raise JobError([Fault(0, "", "must be a packet folder")], str(folder))
    job = read_job(folder / "job.yaml")
    found = check(folder)
    if found:
        first = f"{found[0].number}: {found[0].place}: {found[0].what}"
        raise JobError([Fault(0, "", "must be a packet that passes the audit", first)], str(folder))
    try:
        return _Reader(job).plan(json.loads(read_text(folder / "plan.json", MOST_PLAN_BYTES)))
    except (KeyError, TypeError, ValueError, AttributeError, ArithmeticError, RecursionError):
        raise JobError([Fault(0, "", "must be a plan that this program wrote")], str(folder / "plan.json")) from None


class _Reader:
    def __init__(self, job: Job) -> None:
        self.job = job

    def plan(self, data: JsonRow) -> BaselinePlan:
        rolls: dict[str, list[Roll]] = {}
        for row in data["rolls"]:
            rolls.setdefault(row["product"], []).append(self.roll(row))
        return BaselinePlan(
            job=self.job, walls={wall.run: wall for wall in develop(self.job)},
            drops=tuple(self.drop(row) for row in data["drops"]),
            seams=tuple(self.seam(row) for row in data["seams"]),
            pieces=tuple(self.piece(row) for row in data["pieces"]),
            broken=tuple(self.broken(row) for row in data["exceptions"]),
            cuttings=tuple(self.cutting(row, rolls.get(row["product"], [])) for row in data["products"]),
            digest=str(data["digest"]), cost_bound=_money(data["summary"]["cost_bound"]),
            optimal=bool(data["summary"]["optimal"]), revision=int((data.get("revision") or {}).get("number", 0)),
            certificate=data["summary"].get("certificate") or {},
        )

    def ticks(self, number: float) -> int:
        return round(number * self.job.unit.ticks)

    def ring(self, points: Sequence[Sequence[float]]) -> Ring:
        return tuple((self.ticks(x), self.ticks(y)) for x, y in points)

    def drop(self, row: JsonRow) -> Drop:
        return Drop(
            row["tag"], row["run"], row["layer"], self.ticks(row["left"]), self.ticks(row["right"]), row["install"],
            tuple(row["pieces"]),
        )

    def seam(self, row: JsonRow) -> Seam:
        return Seam(
            row["run"], row["layer"], self.ticks(row["from"]), self.ticks(row["to"]), row["left"], row["right"],
            row["over"], row["tuck"],
        )

    def piece(self, row: JsonRow) -> Piece:
        ticks, flat = self.ticks, "outline" in row
        if row["kind"] == PATCH:  # as it is before it is laid, so that the same patch is found the same
            row, flat = {**row, "holes": [], "sleeves": []}, False
            outline = patch_outline(self.job)
        else:
            outline = self.ring(row["outline" if flat else "pattern"])
        return Piece(
            tag=row["tag"], kind=row["kind"], layer=row["layer"], run=row["run"], face=row["face"],
            product=row["product"], length=ticks(row["length"]), width=ticks(row["width"]), flat=flat,
            outline=outline,
            holes=tuple(self.ring(hole) for hole in row["holes"]),
            slits=tuple(self.slit(slit) for slit in row["slits"]),
            sleeves=tuple(
                (sleeve["tag"], ticks(sleeve["x"]), ticks(sleeve["y"]), ticks(sleeve["diameter"]))
                for sleeve in row["sleeves"]
            ),
            drop=row["drop"], turnable=row["kind"] in TURNABLE, install=row["install"],
            order=row["order"], laid=tuple(self.laid(part) for part in row.get("parts") or ()),
            spot=None if row.get("spot") is None else ticks(row["spot"]), where=row.get("where") or "",
        )

    def laid(self, row: JsonRow) -> Laid:
        ticks = self.job.unit.ticks
        x, y, z = (value * ticks for value in row["origin"])
        (a, b, c), (d, e, f) = row["along"], row["up"]
        outline = tuple((u * ticks, v * ticks) for u, v in row["outline"])
        return Laid(row["on"], outline, (x, y, z), (a, b, c), (d, e, f))

    def slit(self, row: JsonRow) -> Slit:
        start, end = self.ring((row["from"], row["to"]))
        return Slit(start, end, row["why"])

    def roll(self, row: JsonRow) -> Roll:
        ticks, left = self.ticks, row["leftover"]
        return Roll(
            tag=row["tag"], product=row["product"], stock=row["stock"], remnant=row["remnant"],
            length=ticks(row["length"]), width=ticks(row["width"]), price=_money(row["price"]),
            cuts=tuple(
                Cut(cut["piece"], ticks(cut["at"]), ticks(cut["across"]), ticks(cut["length"]), ticks(cut["width"]),
                    cut["turned"], cut.get("within", ""))
                for cut in row["cuts"]
            ),
            leftover=Leftover(ticks(left["length"]), ticks(left["width"]), left["keep"]),
        )

    def broken(self, row: JsonRow) -> RuleException:
        return RuleException(
            row["rule"], row["run"], self.ticks(row["at"]), self.ticks(row["needed"]), self.ticks(row["found"]),
            row["why"], row["cure"],
        )

    def cutting(self, row: JsonRow, rolls: Sequence[Roll]) -> Cutting:
        return Cutting(
            product=row["product"], rolls=tuple(rolls), cost=_money(row["cost"]), bound=_money(row["cost_bound"]),
            rolls_bound=row["rolls_bound"], optimal=row["optimal"], first_come=row["first_come_rolls"],
            certificate=row["certificate"], notes=tuple(row["notes"]),
        )


def _money(value: float | None) -> Decimal | None:
    return None if value is None else Decimal(repr(value))
