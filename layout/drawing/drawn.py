"""What of a plan is drawn once, though several files show it: its faces at each scale, its roll cards."""

from __future__ import annotations

from collections.abc import Collection

from layout.drawing.elevations import Faces, drawn_faces
from layout.drawing.model.entities import Drawing
from layout.drawing.roll_cards import LONGEST, cards_of
from layout.records import Plan


class DrawnOnce:
    """The faces and the roll cards of a plan, each drawn when it is first asked for.

    Parameters
    ----------
    plan
        The plan.
    """

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._faces: dict[int, Faces] = {}
        self._cards: dict[float, list[Drawing]] = {}

    def faces(self, scale: int) -> Faces:
        """Return what is drawn of the faces at a scale, 48 for 1:48."""
        if scale not in self._faces:
            seen = {key: face.view for faces in self._faces.values() for key, face in faces.items()}
            self._faces[scale] = drawn_faces(self._plan, scale, seen)
        return self._faces[scale]

    def cards(self, longest: float = LONGEST) -> list[Drawing]:
        """Return the roll cards, the longest roll no longer than that [plotted mm]."""
        if longest not in self._cards:
            self._cards[longest] = cards_of(self._plan, longest=longest)
        return self._cards[longest]

    def forget_but(self, scales: Collection[int]) -> None:
        """Forget the faces at all scales but some: others were only tried."""
        self._faces = {scale: faces for scale, faces in self._faces.items() if scale in scales}
