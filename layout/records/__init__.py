"""The nouns, one meaning each: what a job says, what a developed wall is, what a plan holds.

Lengths are whole ticks, points (x, y) with x the station along the run and y up. Records are frozen.
"""

from layout.records.asked import (
    Corner, Face, Job, JobInfo, Opening, Point, Profile, Ring, Rules, Run, Side, Sleeve,
)
from layout.records.plans import (
    BaselinePlan, Costing, Cut, Cutting, Dab, Drop, FaceDates, Finding, Laid, Leftover, Piece, Plan, Quantity,
    Roll, RuleException, Seam, Slit, Vector,
)
from layout.records.products import (
    DRAINAGE, MEMBRANE, STRIP, Alternate, AreaProduct, Consumable, Delivery, DrainageBoard, Extras, Labour,
    MarkupGroup, Money, OutletChannel, Per, Primer, Product, Remnant, RollStock, Schedule, Sealant, Substrate,
    TaxGroup, Temperature, TerminationBar, Weekday,
)
from layout.records.walls import FaceSpan, Hole, SeamClearance, SleeveHole, Wall

__all__ = [
    "DRAINAGE", "MEMBRANE", "STRIP", "Alternate", "AreaProduct", "BaselinePlan", "Consumable", "Corner", "Costing",
    "Cut", "Cutting", "Dab", "Delivery", "DrainageBoard", "Drop", "Extras", "Face", "FaceDates", "FaceSpan",
    "Finding", "Hole", "Job", "JobInfo", "Labour", "Laid", "Leftover", "MarkupGroup", "Money", "Opening",
    "OutletChannel", "Per", "Piece", "Plan", "Point", "Primer", "Product", "Profile", "Quantity", "Remnant",
    "Ring", "Roll", "RollStock", "RuleException", "Rules", "Run", "Schedule", "Sealant", "Seam", "SeamClearance",
    "Side", "Sleeve", "SleeveHole", "Slit", "Substrate", "TaxGroup", "Temperature", "TerminationBar", "Vector",
    "Wall", "Weekday",
]
