"""What a plan holds: drops, seams, pieces, rolls, quantities, and what is proven about them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Literal

from layout.errors import Fault
from layout.order import OrderLine
from layout.records.asked import Job, Point, Ring
from layout.records.products import MEMBRANE
from layout.records.walls import Wall
from layout.revision import Revision


@dataclass(frozen=True)
class Drop:
    """One vertical strip of sheet, with the tags of its pieces top to bottom."""

    tag: str
    run: str
    layer: str
    left: int
    right: int
    install: int
    pieces: tuple[str, ...] = ()


@dataclass(frozen=True)
class Seam:
    """The lap of two neighbouring drops; ``tuck`` marks the closing seam whose first drop is left loose."""

    run: str
    layer: str
    left_edge: int
    right_edge: int
    left: str
    right: str
    over: str
    tuck: bool = False


@dataclass(frozen=True)
class Slit:
    """A cut through a piece that takes nothing away, in the frame of the piece's outline."""

    start: Point
    end: Point
    why: str


Vector = tuple[float, float, float]
"""A point or a direction in the space of one run: X along its first face, the soil at -Y, Z the elevation."""


@dataclass(frozen=True)
class Laid:
    """What of a piece lies on one flat surface, and where: (x, y) of its frame at ``origin + x along + y up``.

    ``on`` is ``wall``, ``fillet``, ``ledge``, ``footing face``, ``riser``, ``jamb``, ``head`` or ``sill``. ``outline``
    lies in the frame of the piece's own outline [ticks]; ``along`` and ``up`` are unit vectors.
    """

    on: str
    outline: tuple[tuple[float, float], ...]
    origin: Vector
    along: Vector
    up: Vector


@dataclass(frozen=True)
class Dab:
    """A point that no flat sheet holds: mastic or liquid membrane goes on it, ``size`` across [ticks].

    ``station`` is on the run and ``point`` in the run's space [ticks]; ``drawn_at`` is its height on the developed
    elevation; ``kind`` says what point it is.
    """

    tag: str
    run: str
    face: str
    station: int
    elevation: int
    kind: str
    size: int
    point: Vector
    drawn_at: int = 0


@dataclass(frozen=True)
class Piece:
    """One thing cut from a roll.

    Parameters
    ----------
    tag, kind, layer, run
        ``kind`` is ``drop``, ``corner strip``, ``base strip``, ``collar``, ``footing cover``, ``riser cover``, …
    face
        Name of the face it hangs on (of its left edge, for a drop that turns a corner).
    product
        Name of what it is cut from: ``membrane``, ``strip`` or ``drainage``.
    length, width
        The rectangle cut from the roll [ticks].
    flat
        True when ``outline`` lies in the run's frame; False when it is a pattern in its own frame.
    outline, holes, slits
        The shape within the rectangle. Top left of the rectangle is (left of outline, top of outline).
    sleeves
        For round holes: (sleeve tag, x, y, diameter) of each in the outline's frame; their polygons are in
        ``holes`` (or in the outline where an edge cuts them).
    drop
        Tag of the drop it belongs to; empty for others.
    turnable
        It may be cut with its length across the roll.
    install
        Order of its drop in its run; 0 for what goes on before the field.
    order
        Its own place in the order in which pieces go on in its run, from 1.
    laid
        Where the parts of a pattern lie; empty for a flat piece, whose outline says it.
    spot, where
        Of a pattern: the station on the run that it goes to [ticks], None where no one is known; and to what there, in
        words, such as ``top left corner of window W1``.
    """

    tag: str
    kind: str
    layer: str
    run: str
    face: str
    product: str
    length: int
    width: int
    flat: bool
    outline: Ring
    holes: tuple[Ring, ...] = ()
    slits: tuple[Slit, ...] = ()
    sleeves: tuple[tuple[str, int, int, int], ...] = ()
    drop: str = ""
    turnable: bool = False
    install: int = 0
    order: int = field(default=0, compare=False)
    laid: tuple[Laid, ...] = field(default=(), compare=False)
    spot: int | None = field(default=None, compare=False)
    where: str = field(default="", compare=False)


@dataclass(frozen=True)
class Cut:
    """One piece on a roll: its rectangle from the roll's end (``at``) and edge (``across``).

    ``length`` lies along the roll; ``turned`` says that this is the piece's width. ``within`` is the tag of the piece
    that it is cut out of, where that one is cut away; empty for others.
    """

    piece: str
    at: int
    across: int
    length: int
    width: int
    turned: bool = False
    within: str = ""


@dataclass(frozen=True)
class Leftover:
    """The uncut end of a roll, full width; ``keep`` when it is long enough to be stock."""

    length: int
    width: int
    keep: bool


@dataclass(frozen=True)
class Roll:
    """One roll or remnant opened, and what is cut from it in cutting order."""

    tag: str
    product: str
    stock: str
    remnant: bool
    length: int
    width: int
    price: Decimal | None
    cuts: tuple[Cut, ...]
    leftover: Leftover


@dataclass(frozen=True)
class RuleException:
    """A rule the plan could not keep: plan.json's exception. ``found`` and ``needed`` in ticks."""

    rule: str
    run: str
    at: int
    needed: int
    found: int
    why: str
    cure: str = ""
    layer: str = MEMBRANE


@dataclass(frozen=True)
class Quantity:
    """One line of the takeoff.

    ``net`` is what the wall needs, ``order`` what is bought after waste and whole packages; both in ``unit``.
    ``price`` of one unit ordered and ``cost`` are None when unpriced. ``basis`` shows the arithmetic in words.
    ``group`` says what the line is: ``measured`` and ``piece`` lines are counted but not bought (their sheet is in the
    rolls), so they have no price and are not called unpriced; ``material`` and ``labour`` lines are bought;
    ``money`` lines are sums, tax, markup and alternates.
    """

    item: str
    unit: str
    net: Decimal
    order: Decimal
    package: str = ""
    price: Decimal | None = None
    cost: Decimal | None = None
    basis: str = ""
    group: Literal["measured", "piece", "material", "labour", "weight", "money"] = "material"


@dataclass(frozen=True)
class FaceDates:
    """When one face is primed and hung, and by when it must be covered; dates such as 2026-05-04.

    ``first`` and ``last`` are the days its drops go on, ``cover_by`` the last day allowed from the first of them,
    ``covered`` the first working day after the whole run is hung, and ``late`` that this is too late.
    """

    run: str
    face: str
    drops: int
    first: str
    last: str
    cover_by: str
    covered: str
    late: bool


@dataclass(frozen=True)
class Costing:
    """What the job costs as far as it is priced, in ``currency``.

    ``total`` is materials + labour + markup + tax, ``per_area`` the total for each square foot or metre covered.
    ``unpriced`` names every line that is bought but has no price; ``alternates`` are names with what each adds.
    """

    currency: str
    materials: Decimal
    labour: Decimal
    markup: Decimal
    tax: Decimal
    total: Decimal
    per_area: Decimal
    unpriced: tuple[str, ...] = ()
    alternates: tuple[tuple[str, Decimal], ...] = ()


@dataclass(frozen=True)
class Finding:
    """Something the audit found wrong in what was written."""

    number: int
    place: str
    needed: str
    found: str
    what: str

    def line(self) -> str:
        """Return it as one line of text."""
        return f"{self.number}: {self.place}: {self.what} (needed {self.needed}, found {self.found})"


@dataclass(frozen=True)
class Cutting:
    """How one product's pieces are cut: rolls in cutting order, and what is proven about them.

    Parameters
    ----------
    rolls
        Every roll opened.
    cost
        Sum of the prices of the rolls opened; None when the product has no prices (then total length rules).
    bound
        Proven least cost for these pieces, in the same money; None when unpriced or none was proven.
    rolls_bound
        Proven least number of rolls for these pieces at the least cost known.
    optimal
        The cost equals its bound.
    first_come
        Rolls that the same pieces take, cut in hanging order from one open roll at a time.
    certificate
        What separate code needs to check the bound, JSON-ready; empty when there is none.
    """

    product: str
    rolls: tuple[Roll, ...]
    cost: Decimal | None
    bound: Decimal | None
    rolls_bound: int
    optimal: bool
    first_come: int
    certificate: Mapping[str, object] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Plan:
    """Everything the packet is made from; ``warnings`` is what in the job reads as a mistake."""

    job: Job
    walls: tuple[Wall, ...]
    drops: tuple[Drop, ...]
    seams: tuple[Seam, ...]
    pieces: tuple[Piece, ...]
    cuttings: tuple[Cutting, ...]
    exceptions: tuple[RuleException, ...]
    quantities: tuple[Quantity, ...] = ()
    notes: tuple[str, ...] = ()
    savings: tuple[Mapping[str, object], ...] = ()
    cost_bound: Decimal | None = None
    optimal: bool = False
    certificate: Mapping[str, object] = field(default_factory=dict)
    dates: tuple[FaceDates, ...] = ()
    costing: Costing | None = None
    dabs: tuple[Dab, ...] = ()
    warnings: tuple[Fault, ...] = ()
    revision: Revision | None = None
    order: tuple[OrderLine, ...] = ()


@dataclass(frozen=True)
class BaselinePlan:
    """The plan that was worked from.

    Parameters
    ----------
    job
        As it was planned.
    walls
        Its developed runs, by name.
    drops, seams, pieces, broken
        As in the plan.
    cuttings
        How each product was to be cut.
    digest
        What stands for the plan's pieces.
    cost_bound, optimal
        What was proven about the membrane's cost.
    revision
        Number of its revision; 0 for a first plan.
    """

    job: Job
    walls: Mapping[str, Wall]
    drops: tuple[Drop, ...]
    seams: tuple[Seam, ...]
    pieces: tuple[Piece, ...]
    broken: tuple[RuleException, ...]
    cuttings: tuple[Cutting, ...]
    digest: str
    cost_bound: Decimal | None
    optimal: bool
    certificate: Mapping[str, object]
    revision: int = 0

    def pieces_of(self, drop: Drop) -> tuple[Piece, ...]:
        """Return the pieces of a drop, top to bottom."""
        by_tag = {piece.tag: piece for piece in self.pieces}
        return tuple(by_tag[tag] for tag in drop.pieces)
