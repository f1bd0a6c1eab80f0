"""What comes in stock lengths: termination bar with its fasteners, outlet channel with its outlets."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from layout.records import MEMBRANE, Cutting, Job, Piece, Plan, Product, Quantity, RollStock, Run, Wall
from layout.takeoff.figures import bought, cents, decimal, plain_number, say_long, several, whole_packages
from layout.takeoff.walls import EDGES, Measures
from layout.units import inches, tape

SHORTEST_BAR = {"in": 192, "mm": 305}
"""No piece of bar is shorter than 12 in or 305 mm where there is a neighbour to share with; common practice [ticks]."""


def bar_product(job: Job) -> Product | None:
    """Return termination bar as stock for the cutting: bars one tick wide, priced as the job says."""
    bar = job.extras.termination_bar
    return Product(bar.name, 1, (RollStock(bar.length, 1, bar.price),)) if bar else None


def bar_pieces(plan: Plan) -> tuple[Piece, ...]:
    """Return the lengths of termination bar along the terminated edge, as pieces to be cut from bars.

    Each straight part of the edge takes whole bars and one rest; a rest under 12 in is shared with the bar
    before it. Bars turn no corner and no step.
    """
    bar = plan.job.extras.termination_bar
    if bar is None:
        return ()
    pieces: list[Piece] = []
    for edge in Measures(plan).edges:
        for length in bar_lengths(edge.bar, stock=bar.length, shortest=SHORTEST_BAR[plan.job.unit.name]):
            pieces.append(Piece(
                tag=f"{edge.run}-TB{len(pieces) + 1:03d}", kind="termination bar", layer=MEMBRANE, run=edge.run,
                face=edge.face, product="termination bar", length=length, width=1, flat=False,
                outline=((0, length), (1, length), (1, 0), (0, 0)),
            ))
    return tuple(pieces)


def bar_lengths(stretch: int, *, stock: int, shortest: int) -> list[int]:
    """Divide a stretch into whole bars and a rest.

    Parameters
    ----------
    stretch, stock
        The stretch, and the length of a bar [ticks].
    shortest
        A rest shorter than this is shared with the bar before it [ticks].

    Examples
    --------
    >>> bar_lengths(250, stock=100, shortest=20), bar_lengths(210, stock=100, shortest=20)
    ([100, 100, 50], [100, 55, 55])
    """
    count, rest = divmod(stretch, stock)
    if not rest:
        return [stock] * count
    if rest >= shortest or not count:
        return [stock] * count + [rest]
    shared = stock + rest
    return [stock] * (count - 1) + [shared - shared // 2, shared // 2]


def fasteners(length: int, *, spacing: int, from_end: int) -> int:
    """Return how many fasteners a length of bar takes: one near each end, the others at most ``spacing`` apart.

    Parameters
    ----------
    length, spacing, from_end
        The bar, the greatest distance between fasteners, and that of the first from the end [ticks].

    Notes
    -----
    1 + ceil((length - 2 from_end) / spacing); a bar shorter than both end distances takes one, in its middle.

    Examples
    --------
    A 10 ft bar, 8 in apart, 1 in from the ends: 118 / 8 = 14.75, so 15 spaces and 16 fasteners.

    >>> fasteners(1920, spacing=128, from_end=16)
    16
    """
    between = length - 2 * from_end
    return 1 if between <= 0 else 1 - (-between // spacing)


def bar_lines(measures: Measures, bars: Cutting | None) -> list[Quantity]:
    """Return the lines of termination bar and fasteners.

    Parameters
    ----------
    measures
        The plan as measured.
    bars
        How the pieces of bar are cut from bars; without it each straight part takes bars of its own.
    """
    plan = measures.plan
    bar = plan.job.extras.termination_bar
    pieces = bar_pieces(plan)
    if bar is None or not pieces:
        return []
    unit = plan.job.unit
    total = sum(piece.length for piece in pieces)
    own = sum(-(-edge.bar // bar.length) for edge in measures.edges)
    opened = len(bars.rolls) if bars else own
    count = whole_packages(Fraction(opened), bar.waste) + bar.overage
    how = "cut with offcuts used" if bars else "each straight part from its own bars"
    held = sum(fasteners(p.length, spacing=bar.fastener_spacing, from_end=bar.fastener_from_end) for p in pieces)
    return [
        Quantity(
            bar.name, "bar", decimal(Fraction(total, bar.length), up=True), Decimal(count), tape(bar.length, unit),
            bar.price, None if bar.price is None else cents(bar.price * count),
            f"{_bar_words(measures)} in {several(len(pieces), 'piece')} at {tape(bar.length, unit)} a bar, "
            f"{how}: {opened}" + (f"; with {plain_number(bar.waste)} % waste" if bar.waste else "")
            + f"; {count - bar.overage} whole" + (f" + {bar.overage} over" if bar.overage else ""),
        ),
        bought(
            bar.fastener, unit="package", net=Fraction(held, bar.fasteners_a_package),
            basis=f"{several(held, 'fastener')}: one {inches(bar.fastener_from_end, unit)} from each end of "
                  f"{several(len(pieces), 'piece')} and at most {inches(bar.fastener_spacing, unit)} apart, "
                  f"{bar.fasteners_a_package} a package",
            waste=bar.fastener_waste, price=bar.fastener_price, package=f"{bar.fasteners_a_package} a package",
        ),
    ]


def bar_length(measures: Measures, run: str | None = None) -> int:
    """Return the length of termination bar that is fastened, on one run where it is named [ticks]."""
    return sum(edge.bar for edge in measures.edges if run in (None, edge.run))


def _bar_words(measures: Measures) -> str:
    """Return the length of bar on each kind of edge, in words."""
    unit = measures.plan.job.unit
    lengths = {item: sum(edge.bar for edge in measures.edges if edge.kind == kind) for kind, item in EDGES.items()}
    return " + ".join(f"{item} {say_long(length, unit)}" for item, length in lengths.items() if length)


def channel_lines(measures: Measures) -> list[Quantity]:
    """Return the lines of outlet channel along the base and of outlets at the low points."""
    plan = measures.plan
    channel = plan.job.extras.outlet_channel
    if channel is None:
        return []
    unit = plan.job.unit
    lows = {run.name: low_points(run, wall) for run in plan.job.runs for wall in measures.walls if wall.run == run.name}
    outlets = sum(lows.values())
    return [
        bought(
            channel.name, unit="channel", net=Fraction(measures.joint, channel.length),
            basis=f"wall/footing joint {say_long(measures.joint, unit)} at {tape(channel.length, unit)} a channel",
            waste=channel.waste, overage=channel.overage, price=channel.price, package=tape(channel.length, unit),
        ),
        bought(
            f"{channel.name}, outlet", unit="outlet", net=Fraction(outlets),
            basis="one at each low point: " + ", ".join(f"run {name} {count}" for name, count in lows.items()),
            price=channel.outlet_price,
        ),
    ]


def low_points(run: Run, wall: Wall) -> int:
    """Return how many low points the water of a run has: where it comes together, and where an open run ends.

    A closed run with one direction all the way round has none by its slopes; it still needs one outlet.
    """
    sides = [side for _, _, side in wall.slopes]
    meets = sum(1 for left, right in zip(sides, sides[1:], strict=False) if (left, right) == ("right", "left"))
    if run.closed:
        meets += sides[-1] == "right" and sides[0] == "left"
    else:
        meets += (sides[0] == "left") + (sides[-1] == "right")
    return max(meets, 1)
