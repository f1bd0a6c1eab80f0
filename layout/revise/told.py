"""What happened in the field, apart from what is cut and hung: as records, and from words of the command line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from layout.errors import Fault, JobError
from layout.records import Remnant
from layout.units import Unit, read_length, tape

RollSpan = tuple[int, int]
"""From and to along a roll [ticks]."""


@dataclass(frozen=True)
class Told:
    """What happened.

    Parameters
    ----------
    spoilt
        Tags of pieces whose sheet is spoilt: they must be cut again.
    wrong
        Tag of a piece -> its length and width as it was cut [ticks].
    elsewhere
        Tag of a piece -> run, face, and how far from the face's left end its left edge hangs [ticks].
    short
        Roll -> its true length [ticks].
    damaged
        Roll -> stretches of it that are no good [ticks].
    lost
        Rolls whose rest is gone.
    delivered
        A length of roll [ticks] -> how many were delivered in all.
    remnants
        Sheet that was found.
    """

    spoilt: frozenset[str] = frozenset()
    wrong: Mapping[str, tuple[int, int]] = field(default_factory=dict)
    elsewhere: Mapping[str, tuple[str, str, int]] = field(default_factory=dict)
    short: Mapping[str, int] = field(default_factory=dict)
    damaged: Mapping[str, tuple[RollSpan, ...]] = field(default_factory=dict)
    lost: frozenset[str] = frozenset()
    delivered: Mapping[int, int] = field(default_factory=dict)
    remnants: tuple[Remnant, ...] = ()

    def __bool__(self) -> bool:
        return any((self.spoilt, self.wrong, self.elsewhere, self.short, self.damaged, self.lost, self.delivered,
                    self.remnants))


@dataclass(frozen=True)
class Options:
    """What is told on the command line, as it was typed: see ``cli.revise``."""

    spoilt: Sequence[str] = ()
    rolls: Sequence[str] = ()
    delivered: Sequence[str] = ()
    remnants: Sequence[str] = ()
    wrong: Sequence[str] = ()
    elsewhere: Sequence[str] = ()


def option_records(options: Options) -> list[dict[str, object]]:
    """Return the options as records of a progress file, lengths still as text.

    Raises
    ------
    JobError
        When an option is not written as its help says; every fault at once.
    """
    faults: list[Fault] = []
    found: list[dict[str, object]] = [{"what": "spoilt", "piece": tag, "at": ""} for tag in options.spoilt]
    for text in options.rolls:
        roll, _, what = text.partition("=")
        kind, _, rest = what.partition(":")
        start, _, end = rest.partition(":")
        if roll and kind == "short" and rest:
            found.append({"what": "roll short", "roll": roll, "length": rest, "at": ""})
        elif roll and kind == "damaged" and start and end:
            found.append({"what": "roll damaged", "roll": roll, "from": start, "to": end, "at": ""})
        elif roll and what == "lost":
            found.append({"what": "roll lost", "roll": roll, "at": ""})
        else:
            faults.append(Fault(0, "--roll", "must be ROLL=short:LENGTH, ROLL=damaged:FROM:TO or ROLL=lost", text))
    for text in options.delivered:
        stock, _, count = text.rpartition("=")
        if stock and count.isascii() and count.isdigit() and len(count) < 7:
            found.append({"what": "delivered", "stock": stock, "count": int(count), "at": ""})
        else:
            faults.append(Fault(0, "--delivered", "must be LENGTH=COUNT such as 66'-8\"=4", text))
    for name, kind, listed in (("--remnant", "remnant", options.remnants), ("--wrong", "cut wrong", options.wrong)):
        for text in listed:
            tag, _, size = text.partition("=")
            length, _, width = size.partition("x")
            if tag and length and width:
                key = "tag" if kind == "remnant" else "piece"
                found.append({"what": kind, key: tag, "length": length.strip(), "width": width.strip(), "at": ""})
            else:
                faults.append(Fault(0, name, "must be TAG=LENGTHxWIDTH", text))
    for text in options.elsewhere:
        tag, _, place = text.partition("=")
        run, _, rest = place.partition(".")
        face, _, left = rest.rpartition(":")
        if tag and run and face and left:
            found.append({"what": "hung elsewhere", "piece": tag, "run": run, "face": face, "left": left, "at": ""})
        else:
            faults.append(Fault(0, "--elsewhere", "must be TAG=RUN.FACE:LEFT", text))
    if faults:
        raise JobError(faults, "what happened")
    return found


class Reader:
    """Makes one ``Told`` of records, the later word of two standing; notes every fault and every contradiction."""

    def __init__(self, unit: Unit, pieces: Mapping[str, tuple[str, ...]], rolls: set[str]) -> None:
        self.unit, self.pieces, self.rolls = unit, pieces, rolls
        self.faults: list[Fault] = []
        self.words: list[str] = []
        self.at: dict[str, str] = {}
        self._said: dict[tuple[str, str], tuple[str, object]] = {}

    def told(self, records: Sequence[tuple[str, Mapping[str, object]]]) -> Told:
        """Return what records say; each comes with the name of its file."""
        ordered = sorted(records, key=lambda pair: str(pair[1].get("at", "")))
        spoilt: dict[str, str] = {}
        wrong: dict[str, tuple[int, int]] = {}
        elsewhere: dict[str, tuple[str, str, int]] = {}
        short: dict[str, int] = {}
        damaged: dict[str, list[RollSpan]] = {}
        lost: set[str] = set()
        delivered: dict[int, int] = {}
        remnants: dict[str, Remnant] = {}
        for file, one in ordered:
            what, at = str(one["what"]), str(one.get("at", ""))
            if what == "spoilt":
                for tag in self._tags(one, file):
                    spoilt[tag], self.at[tag] = at, at
                    wrong.pop(tag, None)
            elif what == "cut wrong":
                size = self._down(one, "length", file), self._down(one, "width", file)
                for tag in self._tags(one, file):
                    self._differs(file, ("cut wrong", tag), tag, size)
                    wrong[tag], self.at[tag] = size, at
                    spoilt.pop(tag, None)
            elif what == "hung elsewhere":
                for tag in self._tags(one, file):
                    elsewhere[tag] = str(one["run"]), str(one["face"]), self._down(one, "left", file, least=0)
                    self._differs(file, ("elsewhere", tag), tag, elsewhere[tag])
            elif what == "roll short":
                roll = self._roll(one, file)
                length = self._down(one, "length", file)
                self._differs(file, ("short", roll), roll, length)
                short[roll] = length
            elif what == "roll damaged":
                start, end = self._down(one, "from", file, least=0), self._up(one, "to", file)
                if start >= end:
                    self.faults.append(Fault(0, file, "must be damaged from a place to one further on",
                                             f"{one['from']} to {one['to']}"))
                damaged.setdefault(self._roll(one, file), []).append((start, end))
            elif what == "roll lost":
                lost.add(self._roll(one, file))
            elif what == "delivered":
                stock, count = self._down(one, "stock", file), int(str(one["count"]))
                self._differs(file, ("delivered", str(stock)), f"rolls of {one['stock']}", count)
                delivered[stock] = count
            elif what == "remnant":
                made = Remnant(str(one["tag"]), self._down(one, "length", file), self._down(one, "width", file))
                self._differs(file, ("remnant", made.tag), f"remnant {made.tag}", made)
                remnants[made.tag] = made
        return Told(
            frozenset(spoilt), wrong, elsewhere, short, {roll: tuple(spans) for roll, spans in damaged.items()},
            frozenset(lost), delivered, tuple(remnants.values()),
        )

    def _differs(self, file: str, key: tuple[str, str], name: str, value: object) -> None:
        """Say where two files say different things of one."""
        before = self._said.get(key)
        if before is not None and before[1] != value and before[0] != file:
            self.words.append(f"conflict: {before[0]} and {file} say different things of {name} ({key[0]}): "
                              f"the later word stands, {self._shown(value)}")
        self._said[key] = (file, value)

    def _shown(self, value: object) -> str:
        if isinstance(value, tuple):
            return " x ".join(tape(part, self.unit) if isinstance(part, int) else str(part) for part in value)
        return tape(value, self.unit) if isinstance(value, int) and value > 999 else str(value)

    def _tags(self, one: Mapping[str, object], file: str) -> tuple[str, ...]:
        tag = str(one["piece"])
        if tag not in self.pieces:
            self.faults.append(Fault(0, file, "must be a tag of the packet", tag))
        return self.pieces.get(tag, ())

    def _roll(self, one: Mapping[str, object], file: str) -> str:
        roll = str(one["roll"])
        if roll not in self.rolls:
            self.faults.append(Fault(0, file, "must be a roll of the packet", roll))
        return roll

    def _ticks(self, one: Mapping[str, object], key: str, file: str, least: int) -> tuple[int, int]:
        """Return a length rounded down and rounded up; one that is none is a fault, and 1."""
        try:
            ticks = read_length(one[key], self.unit)
        except ValueError:
            self.faults.append(Fault(0, file, f"{key} must be a length", str(one[key])))
            return 1, 1
        if not least <= ticks <= 10 ** 7:
            self.faults.append(Fault(0, file, f"{key} must be {'more than 0' if least else '0 or more'}",
                                     str(one[key])))
        return int(ticks // 1), int(-(-ticks // 1))

    def _down(self, one: Mapping[str, object], key: str, file: str, least: int = 1) -> int:
        return self._ticks(one, key, file, least)[0]

    def _up(self, one: Mapping[str, object], key: str, file: str) -> int:
        return self._ticks(one, key, file, 1)[1]
