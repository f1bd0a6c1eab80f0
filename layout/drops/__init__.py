"""Developed runs -> drops and seams: the placement optimiser, shingling and install order."""

from layout.drops.costs import Goals
from layout.drops.habit import chalk_line, habit_note
from layout.drops.place import FixedDrop, Layout, place, split_at
from layout.drops.prices import PriceOf, length_price

__all__ = ["FixedDrop", "Goals", "Layout", "PriceOf", "chalk_line", "habit_note", "length_price", "place", "split_at"]
