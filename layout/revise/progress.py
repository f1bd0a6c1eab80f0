"""What is cut, what is hung and what happened: progress files of packet.html, and words of the command line."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from layout.errors import Fault, JobError
from layout.files import as_json, read_bytes
from layout.packet.field_data import PROGRESS, PROGRESS_VERSION, stamp
from layout.packet.plan_json import digest
from layout.records import BaselinePlan, Plan
from layout.revise.chain import NoChain, is_chain, unchained
from layout.revise.told import Options, Reader, Told, option_records

FORMAT = PROGRESS
MOST_BYTES = 5_000_000
"""A progress file larger than this is none."""
MOST_FAULTS = 20
ShortText = Annotated[str, Field(max_length=400)]
LengthText = Annotated[str, Field(min_length=1, max_length=40,
                                  description="as a tape reads, such as 8'-9 9/16\" or 2682 mm")]
Moment = Annotated[str, Field(pattern=r"^([0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9:.]+Z)?$",
                              description="date and time in UTC; empty where none is known")]


class _Part(BaseModel):
    model_config = ConfigDict(strict=True, extra="ignore", populate_by_name=True)


class Tick(_Part):
    """A tick set or taken away."""

    piece: ShortText
    what: Literal["cut", "hung"]
    done: bool
    at: Moment


class Primed(_Part):
    """A face primed."""

    run: ShortText
    face: ShortText
    done: bool
    at: Moment


class Spoilt(_Part):
    """A piece whose sheet is spoilt."""

    what: Literal["spoilt"]
    piece: ShortText
    at: Moment = ""


class Wrong(_Part):
    """A piece cut wrong, and what it is now."""

    what: Literal["cut wrong"]
    piece: ShortText
    length: LengthText
    width: LengthText
    at: Moment = ""


class Elsewhere(_Part):
    """A piece that hangs elsewhere."""

    what: Literal["hung elsewhere"]
    piece: ShortText
    run: ShortText
    face: ShortText
    left: LengthText
    at: Moment = ""


class Anyway(_Part):
    """A piece hung out of turn, and why."""

    what: Literal["hung anyway"]
    piece: ShortText
    why: ShortText
    lacking: list[ShortText] = []
    at: Moment = ""


class Short(_Part):
    """A roll that is shorter than it should be."""

    what: Literal["roll short"]
    roll: ShortText
    length: LengthText
    at: Moment = ""


class Damaged(_Part):
    """A stretch of a roll that is no good."""

    what: Literal["roll damaged"]
    roll: ShortText
    start: LengthText = Field(alias="from")
    to: LengthText
    at: Moment = ""


class LostRoll(_Part):
    """A roll whose rest is gone."""

    what: Literal["roll lost"]
    roll: ShortText
    at: Moment = ""


class Delivered(_Part):
    """How many rolls of a length were delivered in all."""

    what: Literal["delivered"]
    stock: LengthText
    count: int = Field(ge=0, le=1_000_000)
    at: Moment = ""


class FoundRemnant(_Part):
    """A remnant that was found."""

    what: Literal["remnant"]
    tag: Annotated[str, Field(min_length=1, max_length=40)]
    length: LengthText
    width: LengthText
    at: Moment = ""


Event = Annotated[Spoilt | Wrong | Elsewhere | Anyway | Short | Damaged | LostRoll | Delivered | FoundRemnant,
                  Field(discriminator="what")]


class ProgressFile(_Part):
    """What packet.html saves. Version 1 has only cut and hung."""

    format: Literal["lapwright progress"]
    version: Literal[1, 2] = 1
    job: str = ""
    number: str = ""
    plan: str | None = None
    cut: list[str]
    hung: list[str]
    ticks: list[Tick] = []
    stamps: dict[str, str] = {}
    primed: list[Primed] = []
    told: list[Event] = []


@dataclass(frozen=True)
class Done:
    """Tags of the pieces that are cut, and of those among them that are hung."""

    cut: frozenset[str] = frozenset()
    hung: frozenset[str] = frozenset()


@dataclass(frozen=True)
class FieldWork:
    """Everything that is known of the field: what is done, what happened, and where the words contradicted."""

    done: Done
    told: Told
    words: tuple[str, ...]


def progress_schema() -> dict[str, object]:
    """Return the JSON Schema of a progress file."""
    return ProgressFile.model_json_schema()


def read_done(earlier: BaselinePlan, path: Path | None, *, cut: Sequence[str] = (), hung: Sequence[str] = ()) -> Done:
    """Return what is done of a plan, by one progress file and further tags; see ``read_field``."""
    return read_field(earlier, [] if path is None else [path], cut=cut, hung=hung).done


def read_field(
    earlier: BaselinePlan, paths: Sequence[Path], *, cut: Sequence[str] = (), hung: Sequence[str] = (),
    options: Options = Options(),
) -> FieldWork:
    """Read what is done of a plan and what happened.

    Parameters
    ----------
    earlier
        The plan that was worked from.
    paths
        Progress files saved from its packet.html, of one phone or of several, or texts of their codes.
    cut, hung
        Further tags: of pieces, of drops (all their pieces), or of rolls (everything cut from them).
    options
        What else is told on the command line.

    Returns
    -------
    FieldWork
        What is hung counts as cut. Where two files say different things of one piece the later word stands, and the
        words name it.

    Raises
    ------
    JobError
        When a file is no progress file of this plan, a tag is of nothing in it, or two files contradict each other
        and it is not known which is later.
    """
    known = _meanings(earlier)
    files = [(str(path), _read(path, earlier.digest)) for path in paths]
    words: list[str] = []
    ticks = _merged(files, words)
    done_cut = _pieces(ticks["cut"], known) | _pieces({tag: ("--cut", "") for tag in cut}, known)
    done_hung = _pieces(ticks["hung"], known) | _pieces({tag: ("--hung", "") for tag in hung}, known)
    reader = Reader(earlier.job.unit, known, {roll.tag for made in earlier.cuttings for roll in made.rolls})
    records = [(file, event.model_dump(by_alias=True)) for file, read in files for event in read.told]
    told = reader.told([*records, *(("the command line", one) for one in option_records(options))])
    if reader.faults:
        raise JobError(reader.faults[:MOST_FAULTS], "what happened")
    words += reader.words
    again = told.spoilt | set(told.wrong)
    for tag in sorted(again & done_hung):
        if ticks["hung"].get(tag, ("", ""))[1] > reader.at.get(tag, ""):
            words.append(f"conflict: {tag} hangs, told after it was told spoilt or cut wrong: taken as hung")
            again = again - {tag}
        else:
            words.append(f"conflict: {tag} was ticked hung before it was told spoilt or cut wrong: taken as not hung")
    told = Told(told.spoilt & again, {tag: size for tag, size in told.wrong.items() if tag in again}, told.elsewhere,
                told.short, told.damaged, told.lost, told.delivered, told.remnants)
    return FieldWork(Done(frozenset((done_cut | done_hung) - again), frozenset(done_hung - again)), told, tuple(words))


def progress_json(plan: Plan, done: Done) -> str:
    """Return a progress file that the page of a new plan's packet can load."""
    return json.dumps({
        "format": FORMAT, "version": PROGRESS_VERSION, "job": plan.job.info.name, "number": plan.job.info.number,
        "plan": digest(plan), "cut": sorted(done.cut), "hung": sorted(done.hung), "ticks": [],
        "stamps": {piece.tag: stamp(piece) for piece in plan.pieces if piece.tag in done.cut}, "primed": [], "told": [],
    }, indent=1) + "\n"


def _meanings(earlier: BaselinePlan) -> dict[str, tuple[str, ...]]:
    """Return the pieces that each tag stands for."""
    known = {roll.tag: tuple(cut.piece for cut in roll.cuts) for made in earlier.cuttings for roll in made.rolls}
    known |= {drop.tag: drop.pieces for drop in earlier.drops}
    return known | {piece.tag: (piece.tag,) for piece in earlier.pieces}


def _merged(files: Sequence[tuple[str, ProgressFile]], words: list[str]) -> dict[str, dict[str, tuple[str, str]]]:
    """Return for cut and for hung the tags that are done, each with its file and time.

    Raises JobError where two files contradict each other and neither word is later.
    """
    said: dict[tuple[str, str], tuple[bool, str, str]] = {}
    faults: list[Fault] = []
    for file, read in files:
        own = {(tick.what, tick.piece): (tick.done, tick.at) for tick in read.ticks}
        for tag in (*read.cut, *read.hung):
            own.setdefault(("cut", tag), (True, ""))
        for tag in read.hung:
            own.setdefault(("hung", tag), (True, ""))
        for key, (done, at) in own.items():
            before = said.get(key)
            if before is None or before[0] == done:
                said[key] = (done, max(at, before[1] if before else ""), file)
                continue
            what, tag = key
            if not at or not before[1] or at == before[1]:
                faults.append(Fault(0, tag, f"must be {what} or not, not both", f"{before[2]} and {file} differ",
                                    "say which with --cut or --hung and leave one file out"))
                continue
            later = (done, at, file) if at > before[1] else before
            said[key] = later
            words.append(f"conflict: {before[2]} and {file} differ on whether {_shown(tag)} is {what}: the later word, "
                         f"of {later[2]}, stands: {what if later[0] else 'not ' + what}")
    if faults:
        raise JobError(faults[:MOST_FAULTS], "progress files")
    return {what: {tag: (file, at) for (kind, tag), (done, at, file) in said.items() if kind == what and done}
            for what in ("cut", "hung")}


def _pieces(tags: Mapping[str, tuple[str, str]], known: Mapping[str, tuple[str, ...]]) -> set[str]:
    faults: dict[str, list[Fault]] = {}
    for tag, (file, _) in tags.items():
        if tag not in known:
            faults.setdefault(file, []).append(Fault(0, "", "must be a tag of the packet", _shown(tag)))
    for file, found in faults.items():
        raise JobError(found[:MOST_FAULTS], file)
    return {piece for tag in tags for piece in known[tag]}


def _read(path: Path, stands: str) -> ProgressFile:
    """Return what a progress file says."""
    file = str(path)
    try:
        text = read_bytes(path, MOST_BYTES).decode("utf-8-sig")
        data = as_json(unchained(text) if is_chain(text) else text)
    except NoChain as error:
        raise JobError([Fault(0, "", str(error))], file) from None
    except ValueError:
        raise JobError([Fault(0, "", "must be a progress file saved from packet.html", "no JSON")], file) from None
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise JobError([Fault(0, "format", f"must be {FORMAT}")], file)
    if "plan" not in data and "digest" in data:
        data["plan"] = data["digest"]
    faults = []
    if data.get("plan") != stands:
        plan = data.get("plan")
        hint = "it was saved from another plan's packet"
        faults.append(Fault(0, "plan", f"must be {stands}", "nothing" if plan is None else _shown(plan), hint))
    try:
        read = ProgressFile.model_validate(data)
    except ValidationError as error:
        faults += [Fault(0, _where(one["loc"]), _rule(one["msg"])) for one in error.errors() if one["loc"] != ("plan",)]
        raise JobError(faults[:MOST_FAULTS], file) from None
    if faults:
        raise JobError(faults, file)
    return read


def _where(place: Iterable[object]) -> str:
    """Return the place of a fault in a file as it is written, such as ``told[0].length``."""
    found = ""
    for part in place:
        found += f"[{part}]" if isinstance(part, int) else ("." if found else "") + _plain(str(part))
    return found


def _plain(text: str) -> str:
    return "".join(char if char.isascii() and char.isprintable() else "?" for char in text)[:60]


def _rule(text: str) -> str:
    """Return what pydantic finds wrong as a rule."""
    text = _plain(text.replace("Input should be", "must be").replace("Field required", "must be there"))
    return text if text.startswith("must") else f"must be right: {text}"


def _shown(value: object) -> str:
    """Return a value fit for one line of a message."""
    text = ascii(value)
    return text if len(text) <= 60 else text[:57] + "..."
