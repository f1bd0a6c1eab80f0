"""What a job buys and how it is worked: the sheet and its stock, other products, prices, labour, dates, the site.

Lengths are whole ticks. Coverage is an area a package covers, in square feet in an inch job and square
metres in a metric one. Money is in the job's currency. A percentage of waste is added to the net quantity
before whole packages are counted, and an overage of whole packages after. None means that the job does not say.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from layout.units import Unit

CUBIC_INCHES_A_FLUID_OUNCE = Fraction(231, 128)
"""The US gallon is 231 cubic inches and 128 fluid ounces (memory)."""

MEMBRANE, STRIP, DRAINAGE = "membrane", "strip", "drainage"
"""What pieces are cut from; the membrane and the drainage board are also the layers of a wall."""

Weekday = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
TaxGroup = Literal["materials", "labour", "markup"]
MarkupGroup = Literal["materials", "labour"]
Per = Literal["job", "day", "roll", "drop", "piece", "sleeve", "opening", "corner", "area", "seam"]


@dataclass(frozen=True)
class RollStock:
    """A roll that can be bought; ``on_hand`` limits how many, None is no limit."""

    length: int
    width: int
    price: Decimal | None = None
    weight_lb: Decimal | None = None
    on_hand: int | None = None


@dataclass(frozen=True)
class Remnant:
    """A leftover in stock, used at most once, whole or in part, at no cost."""

    tag: str
    length: int
    width: int


@dataclass(frozen=True)
class Product:
    """A sheet sold in rolls: the membrane, the reinforcing strip, the drainage board.

    ``roll_end`` is not cut from: taken off every roll bought, for squaring and for short rolls [ticks].
    """

    name: str
    width: int
    rolls: tuple[RollStock, ...]
    remnants: tuple[Remnant, ...] = ()
    roll_end: int = 0

    @property
    def longest(self) -> int:
        """The greatest length that can be cut from a roll bought [ticks]."""
        return max(roll.length for roll in self.rolls) - self.roll_end


@dataclass(frozen=True)
class Primer:
    """Primer, bought by the package.

    ``coverage`` is the area one package covers with one coat; ``solvent`` marks an organic-solvent product;
    ``open_time_hours`` is how long it stays tacky.
    """

    name: str
    coverage: Decimal
    package: str
    price: Decimal | None
    weight_lb: Decimal | None
    solvent: bool
    open_time_hours: Decimal | None
    coats: int
    waste: Decimal
    overage: int = 0


@dataclass(frozen=True)
class Sealant:
    """Sealant or mastic in cartridges or pails.

    ``volume`` of one package is in US fluid ounces in an inch job and millilitres in a metric one. ``joint_fillet``
    says that the fillet at the wall/footing joint is made of it: a triangle whose legs are rules.fillet. The beads
    are round, given by diameter [ticks]: along the terminated edge (top, its steps, the ends of a run), around each
    opening, around each sleeve, along seams and end laps; 0 for none.
    """

    name: str
    volume: Decimal
    package: str
    price: Decimal | None
    joint_fillet: bool
    top_bead: int
    sleeve_bead: int
    seam_bead: int
    waste: Decimal
    opening_bead: int = 0
    overage: int = 0

    def cubic_ticks(self, unit: Unit) -> Fraction:
        """Return the volume of one package in cubic ticks of the job's unit, exact."""
        if unit.name == "in":
            return Fraction(self.volume) * CUBIC_INCHES_A_FLUID_OUNCE * unit.ticks ** 3
        return Fraction(self.volume) * 1000


@dataclass(frozen=True)
class TerminationBar:
    """Bar along the terminated edge, in stock lengths; fasteners at its ends and at most ``fastener_spacing`` apart.

    ``run_ends`` says that the upright ends of an open run get it too. Edges at openings never do: they are sealed.
    ``waste`` is added to the bars that the cutting opens, and ``fastener_waste`` to the fasteners [per cent].
    """

    name: str
    length: int
    price: Decimal | None
    fastener: str
    fastener_spacing: int
    fastener_from_end: int
    fasteners_a_package: int
    fastener_price: Decimal | None
    run_ends: bool = True
    waste: Decimal = Decimal(0)
    overage: int = 0
    fastener_waste: Decimal = Decimal(0)


@dataclass(frozen=True)
class DrainageBoard:
    """Drainage board, laid as a second layer.

    ``product`` holds its width, rolls and remnants. ``flap`` is how far neighbours lap; its top is
    ``top_below_grade`` under finished grade, or at the membrane line on a wall without grade; its seams keep
    ``seams_apart`` from the membrane's; ``min_width`` and ``max_piece`` are as for the sheet.
    """

    product: Product
    flap: int
    top_below_grade: int
    seams_apart: int
    min_width: int
    max_piece: int


@dataclass(frozen=True)
class OutletChannel:
    """Channel that collects the board's water along the base, with an outlet at each low point."""

    name: str
    length: int
    price: Decimal | None
    outlet_price: Decimal | None
    waste: Decimal = Decimal(0)
    overage: int = 0


@dataclass(frozen=True)
class AreaProduct:
    """Something bought by the area it covers: adhesive, protection."""

    name: str
    coverage: Decimal
    package: str
    price: Decimal | None
    weight_lb: Decimal | None
    waste: Decimal
    overage: int = 0


@dataclass(frozen=True)
class Consumable:
    """A tool or supply that wears out: ``quantity`` of them for each ``per``.

    ``per: area`` is each 100 square feet or 10 square metres covered, ``per: seam`` each 100 ft or 30 m of seam and
    end lap. ``package`` says what is bought and ``in_package`` how many it holds.
    """

    item: str
    per: Per
    quantity: Decimal
    package: str
    in_package: int
    price: Decimal | None
    waste: Decimal = Decimal(0)
    overage: int = 0


@dataclass(frozen=True)
class Labour:
    """The crew: how many, how fast, and what the work costs.

    ``per_seam``, ``per_strip`` and ``per_bar`` are money a foot or a metre (of seam and end lap, of strip, of
    termination bar), ``per_primer`` and ``per_board`` a square foot or metre, ``per_collar``, ``per_cover``,
    ``per_dab`` and ``per_slit`` each; ``per_cover`` is for every other small piece too. ``per_setup`` is for each face.
    Of the rates by day ``strip_per_day`` and ``bar_per_day`` are feet or metres, ``primer_per_day`` an area,
    ``small_per_day`` counts collars, covers and the like, ``board_per_day`` strips of board; what has no rate takes no
    time in the dates, but for board, which then goes on as fast as drops do. ``lift_limit_lb`` is what one person
    should lift.
    """

    crew: int
    hours_per_day: Decimal
    drops_per_day: Decimal
    per_drop: Decimal | None
    per_seam: Decimal | None
    per_piece: Decimal | None
    per_setup: Decimal | None
    lift_limit_lb: Decimal
    per_strip: Decimal | None = None
    per_collar: Decimal | None = None
    per_cover: Decimal | None = None
    per_dab: Decimal | None = None
    per_slit: Decimal | None = None
    per_bar: Decimal | None = None
    per_primer: Decimal | None = None
    per_board: Decimal | None = None
    strip_per_day: Decimal | None = None
    small_per_day: Decimal | None = None
    bar_per_day: Decimal | None = None
    primer_per_day: Decimal | None = None
    board_per_day: Decimal | None = None


@dataclass(frozen=True)
class Schedule:
    """Dates, as text such as 2026-05-04: when the work starts, days worked, days off, days a face may stay bare."""

    start: str
    working_days: tuple[Weekday, ...]
    holidays: tuple[str, ...]
    cover_within_days: int


@dataclass(frozen=True)
class Money:
    """Currency, tax and markup [per cent], markup first, and the groups of lines that each falls on."""

    currency: str
    tax: Decimal
    markup: Decimal
    tax_on: tuple[TaxGroup, ...] = ("materials", "labour", "markup")
    markup_on: tuple[MarkupGroup, ...] = ("materials", "labour")


@dataclass(frozen=True)
class Alternate:
    """A priced alternate: ``add`` to the total (less than 0 to deduct), and ``per_area`` for each area covered."""

    name: str
    add: Decimal
    per_area: Decimal


@dataclass(frozen=True)
class Substrate:
    """What the sheet goes on: ``foam_forms`` marks walls cast in foam forms that stay."""

    foam_forms: bool


@dataclass(frozen=True)
class Temperature:
    """Temperatures, °F in an inch job and °C in a metric one: the product's range, and what is expected."""

    least: Decimal | None
    most: Decimal | None
    expected_low: Decimal | None
    expected_high: Decimal | None


@dataclass(frozen=True)
class Delivery:
    """How rolls come: on a pallet, what the empty pallet weighs, and the day of the delivery, such as 2026-05-01."""

    rolls_a_pallet: int
    pallet_weight_lb: Decimal
    date: str | None = None


@dataclass(frozen=True)
class Extras:
    """What a job tells beside its sheet, its rules and its walls, under the names of the job file; None where nothing.

    ``top_strip`` is the width of a strip along the top edge, ``opening_corner`` the side of the squares at corners of
    openings, 0 for none [ticks].
    """

    top_strip: int = 0
    opening_corner: int = 0
    primer: Primer | None = None
    sealant: Sealant | None = None
    termination_bar: TerminationBar | None = None
    outlet_channel: OutletChannel | None = None
    adhesive: AreaProduct | None = None
    protection: AreaProduct | None = None
    consumables: tuple[Consumable, ...] = ()
    labour: Labour | None = None
    schedule: Schedule | None = None
    money: Money | None = None
    alternates: tuple[Alternate, ...] = ()
    substrate: Substrate | None = None
    temperature: Temperature | None = None
    delivery: Delivery | None = None
    drainage_board: DrainageBoard | None = None
