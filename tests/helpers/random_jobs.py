"""Random jobs: valid by construction, over a wide range, the same for the same seed.

``PYTHONPATH=tests python -m helpers.random_jobs SEED`` prints one.
"""

from __future__ import annotations

import json
import random
import sys
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

TICKS = {"in": 16, "mm": 1}
FOOT = {"in": 192, "mm": 300}
"""About a foot, in ticks: the scale of everything below."""


@dataclass
class Maker:
    """Draws one job.

    Parameters
    ----------
    rng
        Where chance comes from.
    unit
        ``in`` or ``mm``.
    """

    rng: random.Random
    unit: str

    @property
    def foot(self) -> int:
        """About a foot [ticks]."""
        return FOOT[self.unit]

    def chance(self, share: float) -> bool:
        """Return True in a share of cases."""
        return self.rng.random() < share

    def ticks(self, low: float, high: float) -> int:
        """Return a length between two numbers of feet [ticks]; often a round one."""
        length = self.rng.uniform(low, high) * self.foot
        step = self.rng.choice((1, 1, TICKS[self.unit] * 4, self.foot // 2))
        return max(round(length / step) * step, 1)

    def text(self, ticks: int) -> Any:
        """Write a length in one of the ways people do."""
        if self.unit == "mm":
            ways = [ticks, f"{ticks} mm", f"{ticks / 1000:.3f} m"]
            return self.rng.choice(ways)
        sign, inches = ("-" if ticks < 0 else ""), Fraction(abs(ticks), 16)
        feet, rest = divmod(inches, 12)
        whole, part = divmod(rest, 1)
        words = f"{whole} {part}" if whole and part else f"{part}" if part else f"{whole}"
        ways = [f"{sign}{words}\"" if not feet else f"{sign}{feet}'-{words}\"", float(ticks / 16), f"{ticks / 16} in"]
        return self.rng.choice(ways)

    # --- rules and sheet -------------------------------------------------------------------------

    def rules(self, job: dict[str, Any]) -> dict[str, Any]:
        """Draw rules; what is left out keeps its default."""
        rng, foot = self.rng, self.foot
        rules: dict[str, Any] = {}
        least = foot // 3 if self.unit == "in" else 102
        if self.chance(0.5):
            most = rng.randint(least, foot // 2)
            rules["turn_down"] = [self.text(least), self.text(most)] if self.chance(0.6) else self.text(most)
        if self.chance(0.3):
            rules["fillet"] = self.text(rng.choice((0, foot // 16, foot // 8)))
        if self.chance(0.3):
            rules["side_lap"] = self.text(rng.randint(foot // 5, foot // 3))
        if self.chance(0.2):
            rules["opening_return"] = self.text(rng.randint(0, foot // 6))
        if self.chance(0.2):
            rules["cut_allowance"] = self.text(rng.randint(0, foot // 12))
        if self.chance(0.2):
            rules["cut_to"] = self.text(rng.choice((2, 4, 8)))
        if self.chance(0.3):
            rules["max_piece"] = self.text(self.ticks(7, 12))
        if self.chance(0.2):
            name = rng.choice(("clear_of_corner", "clear_of_sleeve", "clear_of_opening", "clear_of_step"))
            rules[name] = self.text(rng.randint(0, foot * 3 // 4))
        for name in ("corner_strip", "base_strip", "collar_reach"):
            if self.chance(0.12):
                rules[name] = 0
        if self.chance(0.3):
            rules["base_strip"] = self.text(foot * 3 // 2)
        if self.chance(0.15):
            rules["end_lap_stagger"] = self.text(rng.randint(0, foot))
        if self.chance(0.4):
            rules["top"] = "grade"
            rules["above_grade"] = self.text(rng.randint(0, foot // 2))
        job["rules"] = rules
        return rules

    def sheet(self) -> dict[str, Any]:
        """Draw a sheet with one to three roll lengths and perhaps remnants."""
        rng, foot = self.rng, self.foot
        width = 576 if self.unit == "in" else 1000
        if self.chance(0.25):
            width = rng.randint(foot * 5 // 2, foot * 4)
        priced = self.chance(0.8)
        lengths = rng.sample((48, 50, 60, 64, 66, 75), rng.randint(1, 3))
        rolls = []
        for index, feet in enumerate(sorted(lengths, reverse=True)):
            roll: dict[str, Any] = {"length": self.text(feet * foot + rng.choice((0, 0, 8, 128)))}
            if priced:
                roll["price"] = round(feet * rng.uniform(2.8, 3.4), 2)
            if index and self.chance(0.3):
                roll["on_hand"] = rng.randint(0, 3)
            rolls.append(roll)
        sheet: dict[str, Any] = {"width": self.text(width), "rolls": rolls}
        if self.chance(0.35):
            sheet["remnants"] = [
                {"tag": f"K{number}", "length": self.text(self.ticks(4, 30)),
                 **({"width": self.text(rng.randint(foot, width))} if self.chance(0.3) else {})}
                for number in range(1, rng.randint(2, 5))
            ]
        return sheet

    # --- runs ------------------------------------------------------------------------------------

    def run(self, name: str, rules: dict[str, Any], tags: list[int]) -> dict[str, Any]:
        """Draw a run with its faces and its water."""
        rng = self.rng
        closed = self.chance(0.5)
        corners, angles = self.corners(closed)
        faces = []
        footing = self.ticks(0, 3) * rng.choice((-1, 0, 1))
        ledge = rng.choice((0, self.foot // 4, self.foot // 2, self.foot // 2, self.foot * 2 // 3))
        for index, corner in enumerate(corners):
            square = all(angle == 90 for angle in angles)  # at other turns not all ledges can meet
            face, footing = self.face(f"Face {index + 1}", footing, ledge, rules, tags, same_ledge=not square)
            if not (not closed and index == len(corners) - 1):
                face["corner"] = corner
                if corner != "none" and angles[index] != 90:
                    face["angle"] = angles[index]
            faces.append(face)
        if closed:
            self.meet(faces[-1], faces[0], footing)
        lengths = [face.pop("ticks") for face in faces]
        for face in faces:
            del face["ledge_ticks"], face["starts"]
        run: dict[str, Any] = {"name": name, "closed": closed, "faces": faces}
        if closed:
            run["allow_gap"] = True  # lengths are drawn one by one, whatever shape that makes on plan
        self.water(run, sum(lengths), closed)
        return run

    def meet(self, last: dict[str, Any], first: dict[str, Any], footing: int) -> None:
        """Give the lower of two footings the ledge of the higher one, where it has none and they meet at a corner."""
        lower, higher = (last, first) if footing < first["starts"] else (first, last)
        if last["corner"] == "outside" and footing != first["starts"] and not lower["ledge_ticks"]:
            lower["ledge"], lower["ledge_ticks"] = higher["ledge"], higher["ledge_ticks"]

    def corners(self, closed: bool) -> tuple[list[str], list[int]]:
        """Draw what is at the right end of each face, and the angles; a closed run turns through 360 degrees."""
        rng = self.rng
        if not closed:
            count = rng.randint(1, 4)
            return [rng.choice(("outside", "inside", "none")) for _ in range(count)], [90] * count
        if self.chance(0.15):
            angles = rng.choice(([120, 120, 120], [60, 120, 60, 120], [45, 135, 90, 90], [72] * 5))
            return ["outside"] * len(angles), list(angles)
        inside = rng.choice((0, 0, 1, 2))
        corners = ["outside"] * (4 + inside) + ["inside"] * inside + ["none"] * rng.choice((0, 0, 1))
        rng.shuffle(corners)
        return corners, [90] * len(corners)

    def water(self, run: dict[str, Any], length: int, closed: bool) -> None:
        """Draw where water goes along a run."""
        rng = self.rng
        way = rng.choice(("flow", "lows", "highs", "drain", "nothing"))
        if way == "flow":
            run["flow"] = rng.choice(("right", "left"))
        elif way == "lows":
            count = min(rng.randint(1, 3), length - 1)
            run["lows"] = [self.text(x) for x in sorted(rng.sample(range(1, length), count))]
        elif way == "highs" and length > 100:
            marks = sorted(rng.sample(range(1, length), 4))
            run["lows"] = [self.text(marks[0]), self.text(marks[2])]
            run["highs"] = [self.text(marks[1]), self.text(marks[3])]
        elif way == "drain" and length > 100:
            stations = [0, *sorted(rng.sample(range(1, length), rng.randint(0, 3)))]
            if not closed:
                stations.append(length)
            level = 0
            points = []
            for station in stations:
                points.append([self.text(station), self.text(level)])
                level += rng.choice((-1, 0, 1)) * rng.randint(1, self.foot // 2)
            run["drain"] = points

    def face(
        self, name: str, footing: int, ledge: int, rules: dict[str, Any], tags: list[int], *, same_ledge: bool,
    ) -> tuple[dict[str, Any], int]:
        """Draw a face that starts at a footing level; return it and the level it ends at."""
        rng, foot = self.rng, self.foot
        length = self.ticks(*rng.choice(((2, 6), (8, 30), (15, 45))))
        if self.chance(0.15):
            ledge = ledge if same_ledge else rng.choice((0, foot // 2))
        levels = self.footing_of(length, footing)
        high = max(level for _, level in levels)
        height = self.ticks(*rng.choice(((3, 9), (7, 10), (7, 10), (10, 16))))
        top = self.top_of(length, high + height)
        low_top = min(level for _, level in top)
        face: dict[str, Any] = {
            "name": name, "ticks": length, "ledge_ticks": ledge, "starts": footing,
            "length": self.text(length), "top": self.profile(top),
            "footing": self.profile(levels), "ledge": self.text(ledge), "footing_depth": self.text(foot),
        }
        if rules.get("top") == "grade" or self.chance(0.2):
            face["grade"] = self.profile(self.grade_of(length, high, low_top))
        taken: list[tuple[int, int, int, int]] = []
        face["openings"] = self.openings(length, high, low_top, taken, tags)
        face["sleeves"] = self.sleeves(length, high, low_top, taken, tags)
        return {key: value for key, value in face.items() if value != []}, levels[-1][1]

    def footing_of(self, length: int, level: int) -> list[tuple[int, int]]:
        """Draw a footing top: level, stepped, or gently sloping."""
        rng, foot = self.rng, self.foot
        if length > 6 * foot and self.chance(0.25):
            points = [(0, level)]
            stations = sorted(rng.sample(range(2 * foot, length - 2 * foot), rng.randint(1, 2)))
            for station in stations:
                points.append((station, level))
                level += rng.choice((-1, 1)) * rng.randint(foot // 3, foot * 2)
                points.append((station, level))
            return [*points, (length, level)]
        if self.chance(0.1):
            return [(0, level), (length, level + rng.randint(-length // 10, length // 10))]
        return [(0, level), (length, level)]

    def top_of(self, length: int, level: int) -> list[tuple[int, int]]:
        """Draw a wall top: level, sloping, or stepped."""
        rng, foot = self.rng, self.foot
        if self.chance(0.15):
            return [(0, level), (length, level + rng.randint(0, foot))]
        if length > 4 * foot and self.chance(0.12):
            station = rng.randint(foot, length - foot)
            raised = level + rng.randint(foot // 4, foot)
            return [(0, level), (station, level), (station, raised), (length, raised)]
        return [(0, level), (length, level)]

    def grade_of(self, length: int, footing: int, top: int) -> list[tuple[int, int]]:
        """Draw finished grade between the footing and a little over the wall's top."""
        rng, foot = self.rng, self.foot
        lowest = footing + foot // 4
        inner = sorted(rng.randint(1, max(length - 1, 1)) for _ in range(rng.randint(0, 2)))
        stations = [0]
        for station in inner:
            if stations[-1] + foot // 4 <= station <= length - foot // 4:
                stations.append(station)
        stations.append(length)
        return [(station, rng.randint(lowest, max(top + foot // 4, lowest + 1))) for station in stations]

    def profile(self, points: list[tuple[int, int]]) -> Any:
        """Write a profile: one level when it has one."""
        if len({level for _, level in points}) == 1:
            return self.text(points[0][1])
        return [[self.text(station), self.text(level)] for station, level in points]

    def openings(
        self, length: int, footing: int, top: int, taken: list[tuple[int, int, int, int]], tags: list[int],
    ) -> list[dict[str, Any]]:
        """Draw windows, vents and doors apart from one another."""
        rng, foot = self.rng, self.foot
        made = []
        for _ in range(rng.choice((0, 0, 0, 1, 1, 2))):
            width, height = self.ticks(1.2, 6), self.ticks(1.2, 4)
            if width >= length - 2:
                continue
            left = rng.randint(1, length - width - 1)
            sill = rng.randint(footing, max(top - foot // 2, footing))
            if self.chance(0.15):
                sill, height = footing, top - footing + rng.choice((0, foot // 2))
            elif self.chance(0.2):
                sill = top - height // 2
            if sill >= top - 1 or sill < footing or height < foot * 5 // 4:
                continue
            if any(left - 2 <= right and first <= left + width + 2 and sill - 2 <= over and under <= sill + height + 2
                   for first, under, right, over in taken):
                continue
            taken.append((left, sill, left + width, sill + height))
            tags[0] += 1
            made.append({"tag": f"W{tags[0]}", "kind": rng.choice(("window", "door", "vent")), "left": self.text(left),
                         "sill": self.text(sill), "width": self.text(width), "height": self.text(height)})
        return made

    def sleeves(
        self, length: int, footing: int, top: int, taken: list[tuple[int, int, int, int]], tags: list[int],
    ) -> list[dict[str, Any]]:
        """Draw pipes inside the wall and out of its openings; they may overlap one another."""
        rng, foot = self.rng, self.foot
        made = []
        for _ in range(rng.choice((0, 0, 1, 1, 2, 3))):
            diameter = rng.randint(foot // 6, foot * 2 // 3)
            half = diameter // 2 + 2
            if length <= 2 * half or top - footing <= 2 * half:
                continue
            x, y = rng.randint(half, length - half), rng.randint(footing + half, top - half)
            if any(left - half <= x <= right + half and under - half <= y <= over + half
                   for left, under, right, over in taken):
                continue
            tags[0] += 1
            made.append({"tag": f"P{tags[0]}", "at": self.text(x), "elevation": self.text(y),
                         "diameter": self.text(diameter)})
        return made


def random_job(seed: int) -> str:
    """Return the text of a job file that is valid: JSON, which is YAML too.

    Parameters
    ----------
    seed
        The same seed gives the same job.
    """
    rng = random.Random(seed)
    make = Maker(rng, rng.choice(("in", "in", "in", "mm")))
    job: dict[str, Any] = {"job": {"name": f"Random {seed}"}, "units": make.unit, "sheet": make.sheet()}
    rules = make.rules(job)
    tags = [0]
    job["runs"] = [make.run(name, rules, tags) for name in "AB"[:rng.choice((1, 1, 2))]]
    if make.chance(0.2):
        job["film_side_up"] = False
    return json.dumps(job, indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    print(random_job(int(sys.argv[1])), end="")
