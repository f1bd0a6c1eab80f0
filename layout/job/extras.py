"""The keys of the job file that the takeoff prices: products, labour, money, dates, site conditions.

Every one may be left out whole. Published figures behind the defaults: sleeves, bars and beads are common
practice; a lap of 3 in on the board's fabric flap too. Fasteners 8 in apart is the closer end of the usual
8 to 12 in (memory). The lifting limit is the load constant of NIOSH Publication 94-110, 51 lb (23 kg).
"""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Literal

from pydantic import Field

from layout.job.kind import Items
from layout.job.lengths import DownMore, LongDown, SheetWidth, Up, UpMore
from layout.job.part import Part, default
from layout.job.quantities import Area, Count, CountMore, Degrees, MoneyAmount, Percent, Positive, Pounds, Price, Volume
from layout.job.stock import RemnantPart, RollPart
from layout.job.words import Choice, Date, Day, Flag, Name
from layout.records import MarkupGroup, Per, TaxGroup, Weekday

WEEKDAYS: tuple[Weekday, ...] = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
PERS: tuple[Per, ...] = ("job", "day", "roll", "drop", "piece", "sleeve", "opening", "corner", "area", "seam")
TAXED: tuple[TaxGroup, ...] = ("materials", "labour", "markup")
MARKED_UP: tuple[MarkupGroup, ...] = ("materials", "labour")
ZERO, FIVE = Decimal(0), Decimal(5)


def _waste(preset: Decimal = FIVE) -> Decimal:
    """Declare the waste of a product."""
    waste: Decimal = Field(default=preset, description="Added to the net quantity [per cent].")
    return waste


def _overage() -> int:
    """Declare the overage of a product."""
    overage: int = Field(default=0, description="Whole packages ordered over what the quantity and its waste take.")
    return overage


class StripPart(Part):
    """What corner and base strips are cut from."""

    source: Annotated[Literal["strip", "sheet"], Choice(("strip", "sheet"))] = Field(
        default="strip", alias="from", description="strip: a product of its own. sheet: ripped from the membrane.")
    name: Name = Field(default="strip", description="Name of the product.")
    width: SheetWidth | None = Field(default=None, description="Width of its roll. Left out: the widest "
                                     "strip that the job asks for.")
    rolls: list[RollPart] = Field(default=[], description="Its rolls. Left out: unpriced rolls of 50'-0\"; in a metric "
                                  "job 15000 mm.")
    remnants: list[RemnantPart] = Field(default=[], description="Leftovers in stock, used first.")


class PrimerPart(Part):
    """Primer."""

    name: Name = Field(default="primer", description="Name of the product.")
    coverage: Area = Field(description="Area that one package covers with one coat [sq ft; m² in a metric job].")
    package: Name = Field(default="pail", description="What it is bought in.")
    price: Price | None = Field(default=None, description="Price of one package.")
    weight_lb: Pounds | None = Field(default=None, description="Weight of one package [lb].")
    solvent: Flag = Field(default=False, description="It is an organic-solvent product.")
    open_time_hours: Positive | None = Field(default=None, description="How long it stays ready for the sheet [hours].")
    coats: CountMore = Field(default=1, description="How many coats.")
    waste: Percent = _waste()
    overage: Count = _overage()


class SealantPart(Part):
    """Sealant or mastic."""

    name: Name = Field(default="sealant", description="Name of the product.")
    volume: Volume = Field(description="Volume of one package [US fl oz; ml in a metric job].")
    package: Name = Field(default="cartridge", description="What it is bought in.")
    price: Price | None = Field(default=None, description="Price of one package.")
    joint_fillet: Flag = Field(default=True, description="The fillet at the wall/footing joint is made of it.")
    top_bead: Up = default('1/4"', "6 mm", "Diameter of the bead along the terminated edge: top, its steps, the ends "
                           "of a run; 0 for none.")
    opening_bead: Up = default('1/4"', "6 mm", "Diameter of the bead around each opening; 0 for none.")
    sleeve_bead: Up = default('1/2"', "13 mm", "Diameter of the bead around each sleeve; 0 for none.")
    seam_bead: Up = default(0, 0, "Diameter of a bead along seams and end laps; 0 for none.")
    waste: Percent = _waste()
    overage: Count = _overage()


class TerminationBarPart(Part):
    """Termination bar along the terminated edge: the top, its steps, and the upright ends of an open run."""

    name: Name = Field(default="termination bar", description="Name of the product.")
    length: LongDown = default("10'-0\"", "3000 mm", "Length of one bar.")
    price: Price | None = Field(default=None, description="Price of one bar.")
    fastener: Name = Field(default="fastener", description="Name of the fastener.")
    fastener_spacing: DownMore = default('8"', "200 mm", "Greatest distance between fasteners.")
    fastener_from_end: Up = default('1"', "25 mm", "Distance of the end fasteners from the bar's ends.")
    fasteners_a_package: CountMore = Field(default=100, description="How many fasteners a package holds.")
    fastener_price: Price | None = Field(default=None, description="Price of one package of fasteners.")
    run_ends: Flag = Field(default=True, description="The upright ends of an open run get bar too.")
    waste: Percent = _waste(ZERO)
    overage: Count = _overage()
    fastener_waste: Percent = Field(default=ZERO, description="Added to the count of fasteners [per cent].")


class DrainageBoardPart(Part):
    """Drainage board, laid over the membrane."""

    name: Name = Field(default="drainage board", description="Name of the product.")
    width: SheetWidth = Field(description="Width of its roll or panel, without the flap.")
    rolls: list[RollPart] = Field(description="Its rolls or panels.", min_length=1)
    remnants: list[RemnantPart] = Field(default=[], description="Leftovers in stock, used first.")
    flap: UpMore = default('3"', "80 mm", "How far neighbours lap.")
    top_below_grade: Up = default('6"', "150 mm", "How far its top is under finished grade.")
    seams_apart: Up = default('4"', "100 mm", "Its seams keep this far from the membrane's.")
    min_width: UpMore = default('12"', "305 mm", "Narrowest strip of it.")
    max_piece: LongDown = default("12'-0\"", "3650 mm", "Longest piece that one crew can handle.")


class OutletChannelPart(Part):
    """Channel along the base of the drainage board."""

    name: Name = Field(default="outlet channel", description="Name of the product.")
    length: LongDown = default("10'-0\"", "3000 mm", "Length of one channel.")
    price: Price | None = Field(default=None, description="Price of one channel.")
    outlet_price: Price | None = Field(default=None, description="Price of one outlet; there is one at each low point.")
    waste: Percent = _waste(ZERO)
    overage: Count = _overage()


class AreaProductPart(Part):
    """Something bought by the area it covers."""

    name: Name = Field(description="Name of the product.")
    coverage: Area = Field(description="Area that one package covers [sq ft; m² in a metric job].")
    package: Name = Field(default="package", description="What it is bought in.")
    price: Price | None = Field(default=None, description="Price of one package.")
    weight_lb: Pounds | None = Field(default=None, description="Weight of one package [lb].")
    waste: Percent = _waste()
    overage: Count = _overage()


class ConsumablePart(Part):
    """A tool or supply that wears out."""

    item: Name = Field(description="What it is.")
    per: Annotated[Per, Choice(PERS)] = Field(default="job", description="What the quantity is for. area: each 100 "
                                              "sq ft or 10 m² covered; seam: each 100 ft or 30 m of seam and end lap.")
    quantity: Positive = Field(default=Decimal(1), description="How many for each.")
    package: Name = Field(default="each", description="What it is bought in.")
    in_package: CountMore = Field(default=1, description="How many a package holds.")
    price: Price | None = Field(default=None, description="Price of one package.")
    waste: Percent = _waste(ZERO)
    overage: Count = _overage()


class LabourPart(Part):
    """The crew."""

    crew: CountMore = Field(default=3, description="Persons in the crew.")
    hours_per_day: Positive = Field(default=Decimal(8), description="Hours worked in a day.")
    drops_per_day: Positive = Field(default=Decimal(20), description="Drops that the crew hangs in a day.")
    per_drop: Price | None = Field(default=None, description="Cost of hanging one drop.")
    per_seam: Price | None = Field(default=None, description="Cost of rolling a foot (metric job: a metre) of seam.")
    per_piece: Price | None = Field(default=None, description="Cost of cutting one piece.")
    per_setup: Price | None = Field(default=None, description="Cost of setting up at one face.")
    per_strip: Price | None = Field(default=None, description="Cost of a foot (metric job: a metre) of strip put on.")
    per_collar: Price | None = Field(default=None, description="Cost of putting on one collar.")
    per_cover: Price | None = Field(default=None, description="Cost of putting on one cover or other small piece.")
    per_dab: Price | None = Field(default=None, description="Cost of one dab of sealant where no flat sheet holds.")
    per_slit: Price | None = Field(default=None, description="Cost of cutting one slit, so that a fold can open.")
    per_bar: Price | None = Field(default=None, description="Cost of fastening a foot (a metre) of termination bar.")
    per_primer: Price | None = Field(default=None, description="Cost of priming one sq ft (m²), one coat.")
    per_board: Price | None = Field(default=None, description="Cost of putting on one sq ft (m²) of drainage board.")
    strip_per_day: Positive | None = Field(default=None, description="Feet (metres) of strip the crew puts on in a "
                                           "day. Left out: strips take no time in the dates.")
    small_per_day: Positive | None = Field(default=None, description="Collars, covers and other small pieces the crew "
                                           "puts on in a day. Left out: they take no time in the dates.")
    bar_per_day: Positive | None = Field(default=None, description="Feet (metres) of termination bar the crew fastens "
                                         "in a day. Left out: it takes no time in the dates.")
    primer_per_day: Positive | None = Field(default=None, description="Area the crew primes in a day [sq ft; m²]. Left "
                                            "out: priming takes no time in the dates.")
    board_per_day: Positive | None = Field(default=None, description="Strips of drainage board the crew puts on in a "
                                           "day. Left out: as many as drops.")
    lift_limit_lb: Pounds = Field(default=Decimal(51), description="What one person should lift [lb].")


class SchedulePart(Part):
    """Dates."""

    start: Date = Field(description="First day of work, such as 2026-05-04.")
    working_days: Annotated[tuple[Weekday, ...], Items(Choice(WEEKDAYS), least=1)] = Field(
        default=WEEKDAYS[:5], description="Days worked: mon, tue, wed, thu, fri, sat, sun.")
    holidays: Annotated[tuple[str, ...], Items(Day())] = Field(default=(), description="Dates not worked.")
    cover_within_days: CountMore = Field(default=30, description="Days that the membrane may stay uncovered; the "
                                         "maker's data sheet rules.")


class MoneyPart(Part):
    """Currency, tax and markup."""

    currency: Name = Field(default="USD", description="Currency of every price.")
    tax: Percent = Field(default=ZERO, description="Tax on the groups of tax_on [per cent].")
    markup: Percent = Field(default=ZERO, description="Markup on the groups of markup_on [per cent].")
    tax_on: Annotated[tuple[TaxGroup, ...], Items(Choice(TAXED))] = Field(
        default=TAXED, description="What tax falls on: materials, labour, markup. Left out: all three.")
    markup_on: Annotated[tuple[MarkupGroup, ...], Items(Choice(MARKED_UP))] = Field(
        default=MARKED_UP, description="What markup falls on: materials, labour. Left out: both.")


class AlternatePart(Part):
    """A priced alternate."""

    name: Name = Field(description="Its name.")
    add: MoneyAmount = Field(default=Decimal(0), description="Added to the total; less than 0 to deduct.")
    per_area: MoneyAmount = Field(default=Decimal(0), description="Added for each sq ft (m² in a metric job) covered.")


class SubstratePart(Part):
    """What the sheet goes on."""

    foam_forms: Flag = Field(default=False, description="The walls are cast in foam forms that stay.")


class TemperaturePart(Part):
    """Temperatures, °F in an inch job and °C in a metric one."""

    least: Degrees | None = Field(default=None, description="Lowest at which the product may be applied.")
    most: Degrees | None = Field(default=None, description="Highest at which the product may be applied.")
    expected_low: Degrees | None = Field(default=None, description="Lowest expected while the work goes on.")
    expected_high: Degrees | None = Field(default=None, description="Highest expected while the work goes on.")


class DeliveryPart(Part):
    """How rolls come."""

    rolls_a_pallet: CountMore = Field(default=20, description="Rolls on one pallet.")
    pallet_weight_lb: Pounds = Field(default=Decimal(45), description="Weight of the empty pallet [lb].")
    date: Date | None = Field(default=None, description="Day of the delivery, such as 2026-05-01. Jobs planned "
                              "together that name the same day, or none, are bought in one order.")


class ExtrasPart(Part):
    """The keys of the whole job that the takeoff uses."""

    strip: StripPart | None = Field(default=None, description="What corner and base strips are cut from.")
    top_strip: Up = default(0, 0, "Width of a strip along the top edge; 0 for none.")
    opening_corner: Up = default(0, 0, "Side of a square piece at each corner of an opening; 0 for none.")
    primer: PrimerPart | None = Field(default=None, description="Primer.")
    sealant: SealantPart | None = Field(default=None, description="Sealant or mastic.")
    termination_bar: TerminationBarPart | None = Field(default=None, description="Bar along the top edge.")
    drainage_board: DrainageBoardPart | None = Field(default=None, description="Drainage board, a second layer.")
    outlet_channel: OutletChannelPart | None = Field(default=None, description="Channel along the board's base.")
    adhesive: AreaProductPart | None = Field(default=None, description="Adhesive for the drainage board.")
    protection: AreaProductPart | None = Field(default=None, description="Protection course over the membrane.")
    consumables: list[ConsumablePart] = Field(default=[], description="Tools and supplies that wear out.")
    labour: LabourPart | None = Field(default=None, description="The crew.")
    schedule: SchedulePart | None = Field(default=None, description="Dates.")
    money: MoneyPart | None = Field(default=None, description="Currency, tax and markup.")
    alternates: list[AlternatePart] = Field(default=[], description="Priced alternates.")
    substrate: SubstratePart | None = Field(default=None, description="What the sheet goes on.")
    temperature: TemperaturePart | None = Field(default=None, description="Temperatures.")
    delivery: DeliveryPart | None = Field(default=None, description="How rolls come.")
