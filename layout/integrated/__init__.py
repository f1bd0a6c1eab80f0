"""The one place where drops and rolls meet: what lengths are worth goes one way, pieces the other.

``decide`` places the drops and cuts the rolls together. ``market`` holds the linear program over whole layouts and
cutting patterns whose duals say what each length is worth; ``hang`` turns chosen layouts into pieces and cut rolls.
"""

from layout.integrated.hang import cut_product
from layout.integrated.limits import FIRST
from layout.integrated.search import Progress, Stop, decide, never, quiet

__all__ = ["FIRST", "Progress", "Stop", "cut_product", "decide", "never", "quiet"]
