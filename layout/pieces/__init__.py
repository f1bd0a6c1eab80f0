"""Drops -> pieces: what is cut for the field, and the strips, collars and covers that go on before it.

Horizontal courses become pieces here too.
"""

from layout.pieces.courses import course_pieces
from layout.pieces.field import field_pieces
from layout.pieces.reinforcing import reinforce
from layout.pieces.settle import PATCH, patch_outline, settle

__all__ = ["PATCH", "course_pieces", "field_pieces", "patch_outline", "reinforce", "settle"]
