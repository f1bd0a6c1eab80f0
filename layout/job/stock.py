"""Keys of a sheet sold in rolls."""

from __future__ import annotations

from pydantic import Field

from layout.job.lengths import RollLength, SheetWidth
from layout.job.part import Part
from layout.job.quantities import Count, Pounds, RollPrice
from layout.job.words import Name


class RollPart(Part):
    """A roll that can be bought."""

    length: RollLength = Field(description="Length of the roll.")
    price: RollPrice | None = Field(default=None, description="Price of one roll, to the cent. Give it for every roll "
                                    "or for none.")
    weight_lb: Pounds | None = Field(default=None, description="Weight of one roll [lb].")
    on_hand: Count | None = Field(default=None, description="How many there are. Left out: as many as are needed.")


class RemnantPart(Part):
    """A leftover in stock, used at most once, whole or in part, at no cost."""

    tag: Name = Field(description="Its tag.")
    length: RollLength = Field(description="Its length.")
    width: SheetWidth | None = Field(default=None, description="Its width. Left out: the width of the sheet.")


class SheetPart(Part):
    """The membrane: a self-adhering sheet sold in rolls."""

    name: Name = Field(default="membrane", description="Name of the sheet, for lists and the title block.")
    width: SheetWidth = Field(description="Width of the roll.")
    rolls: list[RollPart] = Field(description="The rolls that can be bought.", min_length=1)
    remnants: list[RemnantPart] = Field(default=[], description="Leftovers in stock, used first.")
