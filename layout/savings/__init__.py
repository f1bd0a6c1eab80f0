"""What each rule costs: single changes of a job that take less sheet, each one planned before it is named.

``changes`` are those worth planning, guessed from the plan in hand (``guess``); ``savings`` plans them and says what
they save.
"""

from layout.savings.changes import Candidate, changes
from layout.savings.tried import savings

__all__ = ["Candidate", "changes", "savings"]
