"""Drops -> pieces: what is cut for the field, and the strips, collars and covers that go on before it.

Horizontal courses become pieces here too.
"""

from layout.pieces.courses import course_pieces
from layout.pieces.field import field_pieces
from layout.pieces.reinforcing import reinforce

__all__ = ["course_pieces", "field_pieces", "reinforce"]
