"""Drops -> pieces: what is cut for the field, and the strips, collars and covers that go on before it."""

from layout.pieces.field import field_pieces
from layout.pieces.reinforcing import reinforce

__all__ = ["field_pieces", "reinforce"]
