"""What the stock book needs to know of a packet: its rolls, and what is left of each."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from layout.files import as_json


MOST = 1e7
"""More than any roll is long, in inches or in millimetres."""


class Rest(BaseModel):
    """What is left of a roll, in the packet's unit."""

    model_config = ConfigDict(allow_inf_nan=False)

    length: float = Field(ge=0, le=MOST)
    width: float = Field(ge=0, le=MOST)
    keep: bool


class PacketRoll(BaseModel):
    """A roll in a packet."""

    tag: str
    product: str
    stock: str
    remnant: bool
    leftover: Rest


class PacketRolls(BaseModel):
    """The rolls of a packet, and its notes."""

    rolls: list[PacketRoll]
    notes: list[str] = []


def read_packet(text: str) -> PacketRolls:
    """Return the rolls that a packet's plan.json lists; raises ValueError with what is wrong first."""
    try:
        return PacketRolls.model_validate(as_json(text))
    except ValidationError as error:
        first = error.errors()[0]
        raise ValueError(f"{'.'.join(map(str, first['loc']))}: {first['msg']}") from None
