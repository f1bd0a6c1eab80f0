"""The nouns, one meaning each: what a job says, what a developed wall is, what a plan holds.

Lengths are whole ticks, points (x, y) with x the station along the run and y up. Records are frozen.
"""

from layout.records.asked import (
    Corner, Face, Job, JobInfo, Opening, Point, Product, Profile, Remnant, Ring, RollStock, Rules, Run, Side, Sleeve,
)
from layout.records.plans import (
    Broken, Costing, Cut, Cutting, Dab, Drop, FaceDates, Finding, Laid, Leftover, Piece, Plan, Quantity, Roll, Seam,
    Slit, Vector,
)
from layout.records.walls import FaceSpan, Hole, Keep, Round, Wall

__all__ = [
    "Broken", "Corner", "Costing", "Cut", "Cutting", "Dab", "Drop", "Face", "FaceDates", "FaceSpan", "Finding",
    "Hole", "Job", "JobInfo", "Keep", "Laid", "Leftover", "Opening", "Piece", "Plan", "Point", "Product", "Profile",
    "Quantity", "Remnant", "Ring", "Roll", "RollStock", "Round", "Rules", "Run", "Seam", "Side", "Sleeve", "Slit",
    "Vector", "Wall",
]
