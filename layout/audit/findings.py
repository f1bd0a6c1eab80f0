"""The findings: every number with its meaning, and the book they are noted in."""

from __future__ import annotations

from collections.abc import Iterable

from layout.records import Finding
from layout.units import Unit, inches, tape

FINDINGS: dict[int, str] = {
    # 1xx: files, format, names
    101: "a file of the packet is missing",
    102: "a file cannot be read as what it should be",
    103: "plan.json lacks something, or has it of the wrong kind",
    104: "a tag is used twice",
    105: "something is named that is not in plan.json",
    106: "a length is not on a whole tick",
    107: "a run or face is not the one of the job",
    108: "plan.json is not of the job's unit, format and version",
    109: "a file has been changed since the packet was written",
    # 2xx: coverage
    201: "part of the wall has no sheet",
    202: "sheet lies where none belongs",
    203: "a piece reaches past its drop",
    204: "the turn-down is outside the range of the rules",
    205: "the toe is not ledge + turn-down less what the fillet saves",
    206: "an outline is no simple shape",
    # 3xx: laps
    301: "two neighbouring drops have no seam listed",
    302: "a seam is listed that no two neighbouring drops make",
    303: "a seam is not listed where its drops lap",
    304: "a side lap is narrower than the rule",
    305: "a side lap does not go all the way up: one of its sheets is missing there",
    306: "an end lap is shorter than the rule",
    307: "the pieces of a drop are not listed top to bottom",
    308: "end laps of neighbouring drops are not staggered, and no exception says so",
    309: "drops of a run are not tagged left to right",
    # 4xx: clearances and exceptions
    401: "a seam breaks a clearance and no exception says so",
    402: "an exception is listed that nothing on the wall bears out",
    403: "an exception gives another need or finding than the wall does",
    404: "a drop is narrower than the rule and no exception says so",
    405: "a piece is longer than the rule and no exception says so",
    406: "an end lap is within reach of a sleeve or of an opening's corner, and no exception says so",
    # 5xx: water and the order of hanging
    501: "the drop over a seam is not the one upstream",
    502: "the order of hanging does not count 1, 2, 3, … once each, or a piece has another number than its drop",
    503: "the drop over a seam is hung before the one under it, and the seam is not tucked",
    504: "a tucked seam is listed where none is needed",
    # 6xx: pieces and reinforcing
    601: "a piece's length or width does not hold its outline and the cutting allowance",
    602: "a corner has no strip, or one too small",
    603: "the strip at the wall/footing joint is missing, too narrow or not lapped",
    604: "a sleeve has no collar, or one too small",
    605: "an outside footing corner has no cover, or one too small",
    606: "a footing step has no riser cover, or one too small",
    607: "a strip is too narrow for its place, and no exception says so",
    609: "a piece hangs on another face than it says",
    610: "an inside footing corner has no cover, or one too small",
    611: "a corner of an opening that the sheet turns into has no gusset, or one too small",
    612: "a piece has no slit to the pipe that it goes around",
    613: "a slit of a drop to a pipe has no patch, or one too small",
    614: "a footing cover has no ear around the footing's arris, or one too small",
    615: "the end of a wider ledge has no cover, or one too small",
    616: "a change of the footing's slope has no cover, or one too small",
    # 7xx: rolls and cutting
    701: "a piece is cut from no roll",
    702: "a piece is cut more than once",
    703: "a cut lies outside its roll",
    704: "two cuts of one roll overlap",
    705: "the cuts of a roll cannot be made by cross-cuts, rips and cross-cuts of the lanes",
    706: "a cut is not the rectangle of its piece",
    707: "a piece names another roll than the one it is cut from",
    708: "a roll is not in the job's stock",
    709: "a remnant is used more than once",
    710: "more rolls are used than there are",
    711: "what is left of a roll is not what is listed",
    712: "a piece is cut from another product than it is made of",
    713: "a piece is turned that may not be",
    715: "a cut reaches into the end of a roll that is left for squaring",
    714: "a piece is cut out of another where that one is not cut away",
    # 8xx: sums and bounds
    801: "the cost is not the sum of the rolls' prices",
    802: "the count of rolls is not that of the rolls listed",
    803: "the count of remnants is not that of the remnants listed",
    804: "the areas do not add up to what is ordered",
    805: "the area to cover is not the wall's",
    806: "the area of laps is not that of the sheets",
    807: "the area cut away is not that of the pieces",
    808: "the area of kept leftovers is not that of the rolls",
    809: "the area ordered is not that of the rolls",
    810: "the bound is above the cost",
    811: "the plan is called optimal though its cost is not its bound, or not called so though it is",
    812: "a plain way of cutting costs less than the bound says is possible",
    813: "the area of scrap is not what the rolls leave",
    814: "the bound on the count of rolls is above the count",
    815: "the bound on the count of rolls is below what the area of the pieces takes",
    816: "there is a bound on the cost but no cost",
    830: "a line's cost is not its order by its price",
    831: "less is ordered than is needed",
    832: "a sum of money is not that of its lines",
    833: "a line of the takeoff counts another quantity than the plan has",
    834: "the order is not what the takeoff buys",
    835: "a net quantity of the takeoff is not what the job and the plan give",
    836: "an order is not the whole packages that a quantity takes with its waste and overage",
    # 9xx: the papers agree with plan.json
    901: "the cut list misses a piece, or has one that is not in plan.json",
    902: "the cut list says something else than plan.json",
    903: "the cut list is not in cutting order",
    904: "marks cannot be read",
    905: "marks do not rebuild the piece's outline",
    906: "the spreadsheet and the cut list differ",
    907: "the DXF misses a piece, or has one that is not in plan.json",
    908: "a shape in the DXF is not the piece's outline",
    909: "a piece in the DXF has no block with its tag",
    910: "the DXF is not in the job's unit",
    911: "an SVG misses a piece, or has one that is not in plan.json",
    912: "a shape in an SVG is not the piece's outline",
    913: "a piece in an SVG has no title",
    914: "the takeoff and plan.json differ",
    915: "packet.html misses a piece",
    916: "a paper holds something that a program could run",
    917: "slits in the DXF are not those of plan.json",
    918: "slits in an SVG are not those of plan.json",
    919: "the marks of a piece on the page are not its marks",
    920: "the marks of a piece in the PDF are not its marks",
    921: "a paper has the other side of the sheet up than the job says",
    922: "the page says of an edge that it laps otherwise than plan.json says",
    923: "the shape drawn on a piece's card is not the piece, the side that is up seen from above",
    924: "an arrow at a lap does not point from the drop over to the one under, or is missing",
    925: "a dimension is missing, or says another length than it measures",
    926: "an arrow of water points against it, or a low or high point is marked where none is",
    927: "a note about tucking an edge is missing, or stands where nothing is tucked",
    928: "the date by which a face must be covered is not the job's",
    929: "a page of the PDF does not bear the digest of this plan",
    933: "the digest is not that of the pieces",
    940: "the order list and plan.json differ",
    941: "the spreadsheet's takeoff, order or summary and plan.json differ",
    942: "the materials in packet.html and plan.json differ, or the crew's page tells money",
    943: "the takeoff in the PDF and plan.json differ",
    944: "the PDF says of the cost's bound something else than plan.json",
    # 10xx: folding
    1001: "a piece cannot be folded on to the concrete: a slit is missing, or too short",
    1002: "a slit opens sound sheet: nothing parts there",
    1003: "an edge of sheet is not held by another ply",
    1004: "a point that no sheet holds has no dab, or one too small",
    1005: "a dab is listed where nothing needs one, or at another place than it says",
    1006: "a part of a piece does not lie on the concrete",
    1007: "the parts of a piece are not moved as they are, or do not make it up",
    1008: "the order of plies is wrong",
    1009: "the upper piece of a drop goes on before the lower one",
    # 11xx: certificates of what is claimed of cost
    1101: "a bound or an optimum is claimed without a certificate",
    1102: "a certificate cannot be read",
    1103: "a certificate is about other pieces or rolls than the plan's",
    1104: "a roll can be worth more than a certificate says",
    1105: "the duals of a certificate prove less than its bound",
    1106: "the cases of a certificate leave out some counts of rolls",
    1107: "a case of a certificate proves less than its bound",
    1108: "the bound claimed is more than its certificate proves",
    1109: "two lengths are worth more than one as long as both",
    1110: "a run can be hung for less than a certificate says",
    1111: "rolls that cost less than the bound may hold what is needed",
    1112: "a certificate is not about the job's runs",
}
"""Number -> what is wrong. The hundreds are families; a number is never given a new meaning."""


class Findings:
    """Where findings are noted, in the order they are met.

    Parameters
    ----------
    unit
        How lengths are spoken of.
    """

    MOST = 500
    """Findings after this many are not noted: the packet is beyond talking about."""

    def __init__(self, unit: Unit) -> None:
        self.unit = unit
        self._found: list[Finding] = []

    def note(self, number: int, place: str, needed: object, found: object) -> None:
        """Note a finding.

        Parameters
        ----------
        number
            Its number in FINDINGS.
        place
            Where it is: run and station, or file and row.
        needed, found
            What should be there and what is; numbers are lengths [ticks].
        """
        if len(self._found) < self.MOST:
            self._found.append(Finding(number, place, self._say(needed), self._say(found), FINDINGS[number]))

    def findings(self) -> tuple[Finding, ...]:
        """Return what was noted."""
        return tuple(self._found)

    def has(self, number: int) -> bool:
        """Tell whether a finding of a number was noted."""
        return any(finding.number == number for finding in self._found)

    def has_any(self, numbers: Iterable[int]) -> bool:
        """Tell whether a finding of any of some numbers was noted."""
        return not {finding.number for finding in self._found}.isdisjoint(numbers)

    def at(self, run: str, x: float, y: float | None = None) -> str:
        """Return a place on a wall in words; x and y in ticks."""
        level = "" if y is None else f", elevation {self.say_length(y)}"
        return f"run {run}, station {self.say_length(x)}{level}"

    def say_length(self, ticks: float) -> str:
        """Return a length as a tape reads, to the nearest tick."""
        return tape(round(ticks), self.unit)

    def say_width(self, ticks: float) -> str:
        """Return a length as widths and laps are spoken of: in inches only, or in millimetres."""
        return inches(round(ticks), self.unit)

    def _say(self, value: object) -> str:
        if isinstance(value, float) or (isinstance(value, int) and not isinstance(value, bool)):
            return self.say_length(value)
        return str(value)
