"""Many jobs from one yard of rolls and remnants.

Each job is planned by itself, side by side with the others (``engine``, ``work``). Then all pieces of the same product
are cut from one yard, in the order in which the jobs start (``yard``): what an earlier job leaves is a remnant of a
later one. Then each job's packet is written and audited, again side by side, and everything is put in place as one
folder with one order (``run``, ``report``).
"""

from layout.together.engine import Alone, Cluster, Cores, Engine
from layout.together.gather import Source, sources
from layout.together.report import JobLine, Report, promises, report_lines, whole_order
from layout.together.run import Common, plan_together

__all__ = [
    "Alone", "Cluster", "Common", "Cores", "Engine", "JobLine", "Report", "Source", "plan_together", "promises",
    "report_lines", "sources", "whole_order",
]
