"""The same walls done several ways, side by side: what each takes and costs, and how it differs from the first."""

from layout.compare.picture import cost_picture
from layout.compare.planning import Figures, Row, compare, compare_rules, plan_figures, figures_of_courses
from layout.compare.table import (
    COLUMNS, Figure, cells, columns_for, comparison_csv, comparison_json, courses_in, difference,
    headings, narrow_table, one_currency, ranked, remarks, verdict,
)
from layout.compare.wide import tables_across, wide_tables

__all__ = [
    "COLUMNS", "Figure", "Figures", "Row", "cells", "columns_for", "compare", "compare_rules",
    "comparison_csv", "comparison_json", "courses_in", "difference", "plan_figures", "figures_of_courses", "headings",
    "narrow_table", "one_currency", "cost_picture", "ranked", "remarks", "tables_across", "verdict", "wide_tables",
]
