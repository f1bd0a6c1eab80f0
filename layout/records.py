"""The nouns, one meaning each: what a job says, what a developed wall is, what a plan holds.

Lengths are whole ticks, points (x, y) with x the station along the run and y up. Records are frozen.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Literal

from layout.errors import Fault
from layout.order import OrderLine
from layout.revision import Revision
from layout.units import Unit

Point = tuple[int, int]
Profile = tuple[Point, ...]
"""Points (station, elevation) joined by straight lines, stations never falling; one given twice is a step."""
Ring = tuple[Point, ...]
"""A closed outline, first point not repeated, clockwise from the top left."""
Side = Literal["right", "left"]
Corner = Literal["outside", "inside", "none"]


# --- what the job says -------------------------------------------------------------------------

@dataclass(frozen=True)
class Opening:
    """A window, door, vent or hatch, in the frame of its face."""

    tag: str
    kind: str
    left: int
    sill: int
    width: int
    height: int


@dataclass(frozen=True)
class Sleeve:
    """A pipe or pipe sleeve through the wall, in the frame of its face; ``projects`` is how far it stands out."""

    tag: str
    at: int
    elevation: int
    diameter: int
    projects: int = 0


@dataclass(frozen=True)
class Face:
    """One flat wall surface seen from the soil side; profiles run from its left end."""

    name: str
    length: int
    top: Profile
    footing: Profile
    ledge: int
    footing_depth: int
    grade: Profile | None
    corner: Corner
    angle: float
    openings: tuple[Opening, ...] = ()
    sleeves: tuple[Sleeve, ...] = ()


@dataclass(frozen=True)
class Run:
    """A chain of faces, left to right from the soil side; ``allow_gap``: it need not close on plan; ``north`` is told in
    degrees clockwise from straight up where the first face goes to the right."""

    name: str
    closed: bool
    faces: tuple[Face, ...]
    flow: Side | None = None
    lows: tuple[int, ...] = ()
    highs: tuple[int, ...] = ()
    drain: Profile | None = None
    allow_gap: bool = False
    north: Decimal | None = None

    @property
    def length(self) -> int:
        """Length at the wall surface [ticks]."""
        return sum(face.length for face in self.faces)


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
class Rules:
    """How the sheet must go on; see the README's table. Lengths in ticks; ``courses`` allows horizontal courses."""

    side_lap: int
    end_lap: int
    end_lap_stagger: int
    top: Literal["wall", "grade"]
    above_grade: int
    turn_down: tuple[int, int]
    fillet: int
    opening_return: int
    min_width: int
    max_piece: int
    clear_of_corner: int
    clear_of_sleeve: int
    clear_of_opening: int
    clear_of_step: int
    corner_strip: int
    base_strip: int
    base_strip_up: int
    collar_reach: int
    cover_lap: int
    cut_allowance: int
    cut_to: int
    keep_remnant: int
    courses: bool = False
    roll_end: int = 0


@dataclass(frozen=True)
class JobInfo:
    """The title block: whose job this is; ``north`` as for ``Run``."""

    name: str
    number: str = ""
    site: str = ""
    prepared_by: str = ""
    date: str = ""
    revision: str = ""
    north: Decimal | None = None


@dataclass(frozen=True)
class Job:
    """A whole job, read and checked.

    ``strips_from`` says what corner and base strips are cut from: a product of their own, or the membrane. ``extras``
    holds the checked settings of the takeoff (products, prices, drainage board) under their names in the job file.
    """

    info: JobInfo
    unit: Unit
    sheet: Product
    strip: Product
    strips_from: Literal["strip", "sheet"]
    rules: Rules
    runs: tuple[Run, ...]
    film_side_up: bool = True
    extras: Mapping[str, object] = field(default_factory=dict)


# --- the developed wall ------------------------------------------------------------------------

@dataclass(frozen=True)
class FaceSpan:
    """Where a face lies on its run, and what its sheet does below the joint."""

    name: str
    left: int
    right: int
    corner: Corner
    angle: float
    ledge: int
    toe: int
    footing_depth: int


@dataclass(frozen=True)
class Hole:
    """An opening as the sheet sees it: a rectangle already shrunk by the opening return."""

    tag: str
    kind: str
    left: int
    right: int
    bottom: int
    top: int


@dataclass(frozen=True)
class Round:
    """A sleeve as the sheet sees it: a circle around (x, y); ``projects`` is how far its pipe stands out."""

    tag: str
    x: int
    y: int
    diameter: int
    projects: int = 0


@dataclass(frozen=True)
class Keep:
    """Something a seam keeps clear of: no part of a lap within ``clear`` of [left, right]."""

    rule: str
    tag: str
    left: int
    right: int
    clear: int


@dataclass(frozen=True)
class Wall:
    """One run developed flat for one turn-down: what one layer must cover, and where seams may not be.

    Parameters
    ----------
    run, layer
        Name of the run; ``membrane`` or ``drainage``.
    closed
        The right end meets the left end; everything repeats every ``length``.
    length
        Length of the run [ticks]; profiles and features lie within [0, length].
    turn_down
        The turn-down this wall was developed for [ticks].
    faces
        The faces in order.
    top
        The membrane line. Where an opening is cut by that line, the line follows the opening's foot.
    bottom
        Where the sheet ends: the footing less the toe of each face.
    footing
        The footing top (the wall/footing joint).
    wall_top
        The wall top as built, for drawing.
    grade
        Finished grade, or None.
    holes
        Openings that do not reach the membrane line; rectangles apart from each other.
    rounds
        Sleeves.
    keeps
        What seams keep clear of. In a closed run one that spans the start reaches past ``length``.
    slopes
        Pieces of the run with the way water goes along the footing there: (left, right, side), where
        side is ``right`` or ``left``; they tile [0, length].
    notes
        Things the plan must say about the water (ties, level stretches).
    openings
        Every opening as it is built, not shrunk, whether or not the membrane line cuts it.
    fillet, opening_return
        Leg of the chamfer at the wall/footing joint, and how far the sheet turns into an opening [ticks].
    taken_up
        How far apart two edges of sheet may come without a slit: the sheet takes that up [ticks].
    """

    run: str
    layer: str
    closed: bool
    length: int
    turn_down: int
    faces: tuple[FaceSpan, ...]
    top: Profile
    bottom: Profile
    footing: Profile
    wall_top: Profile
    grade: Profile | None
    holes: tuple[Hole, ...]
    rounds: tuple[Round, ...]
    keeps: tuple[Keep, ...]
    slopes: tuple[tuple[int, int, Side], ...]
    notes: tuple[str, ...] = ()
    openings: tuple[Hole, ...] = ()
    fillet: int = 0
    opening_return: int = 0
    taken_up: int = 2


# --- the plan ----------------------------------------------------------------------------------

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
class Broken:
    """A rule the plan could not keep: plan.json's exception. ``found`` and ``needed`` in ticks."""

    rule: str
    run: str
    at: int
    needed: int
    found: int
    why: str
    cure: str = ""
    layer: str = "membrane"


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
    exceptions: tuple[Broken, ...]
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
