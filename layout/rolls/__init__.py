"""Pieces -> rolls: the fewest rolls, proven.

``best_cutting`` is the stage. ``solve`` is its core in whole numbers, for the benchmark and for the joint optimiser.
"""

from layout.rolls.cutting import best_cutting
from layout.rolls.problem import Answer, CutBlock, Effort, Item, Lay, Pattern, Problem, Proof, Stock, TooDear, Work
from layout.rolls.solve import solve

__all__ = [
    "Answer", "CutBlock", "Effort", "Item", "Lay", "Pattern", "Problem", "Proof", "Stock", "TooDear", "Work",
    "best_cutting", "solve",
]
