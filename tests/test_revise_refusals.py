"""What hangs or is cut holds a changed job to it, and the refusal says why."""

from __future__ import annotations

import pytest

from helpers.shed import JOB, again, earlier
from layout.errors import JobError, NoLayout

EAST = "      - name: East\n        length: 20'-0\""


def hung_on(face: str) -> str:
    """Return the tag of a drop that hangs wholly on one face of run A."""
    plan, _ = earlier()
    wall = next(wall for wall in plan.walls if wall.run == "A")
    span = next(span for span in wall.faces if span.name == face)
    return next(drop.tag for drop in plan.drops
                if drop.run == "A" and span.left < drop.left and drop.right < span.right)


def around_the_corner() -> str:
    """Return the tag of the drop of run A that goes around its corner."""
    plan, _ = earlier()
    return next(drop.tag for drop in plan.drops if drop.run == "A" and drop.left < 24 * 192 < drop.right)


def last() -> str:
    """Return the tag of the last drop of run A."""
    plan, _ = earlier()
    return max((drop for drop in plan.drops if drop.run == "A"), key=lambda drop: drop.left).tag


def refusal(text: str, *hung: str) -> str:
    """Return the words with which a changed job is refused."""
    assert text != JOB
    with pytest.raises((JobError, NoLayout)) as caught:
        again(text, hung=hung)
    return str(caught.value)


def test_a_face_that_something_hangs_on_is_gone() -> None:
    words = refusal(JOB.replace("name: East", "name: Garden"), hung_on("East"))
    assert hung_on("East") in words and "its face East is not in the changed job" in words


def test_a_face_put_in_where_a_drop_goes_around_the_corner() -> None:
    new = "      - {name: Pier, length: 9 in, top: 8'-0\", ledge: 4, footing_depth: 12, corner: outside}\n"
    words = refusal(JOB.replace(EAST, new + EAST), around_the_corner())
    assert around_the_corner() in words and "are no longer as far apart" in words


def test_a_wall_shorter_than_what_hangs_on_it() -> None:
    words = refusal(JOB.replace(EAST, EAST.replace("20'-0\"", "18'-0\"")), last())
    assert last() in words and "the wall no longer reaches so far" in words


def test_what_hangs_far_from_a_change_is_no_hindrance() -> None:
    made = again(JOB.replace(EAST, EAST.replace("20'-0\"", "18'-0\"")), hung=(hung_on("South"),))
    before, after = (next(drop for drop in plan.drops if drop.tag == hung_on("South"))
                     for plan in (earlier()[0], made.plan))
    assert (before.left, before.right) == (after.left, after.right)
