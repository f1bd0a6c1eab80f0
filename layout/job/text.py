"""Text of a job file to tokens; every oddity of YAML and JSON dies here."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError, YAMLError
from ruamel.yaml.events import (
    AliasEvent, DocumentStartEvent, Event, MappingEndEvent, MappingStartEvent, NodeEvent, ScalarEvent,
    SequenceEndEvent,
)
from ruamel.yaml.reader import ReaderError

from layout.errors import Fault
from layout.job.limits import MAX_DEPTH, MAX_LINE, MAX_LINES
from layout.job.slips import LONGEST, ParserStop, slip
from layout.job.tree import Place, Scalar, Token, Unreadable, Value, grow, show

_INT = re.compile(r"[-+]?[0-9]{1,18}")
_FLOAT = re.compile(r"[-+]?(?:[0-9]+\.[0-9]*|\.[0-9]+|[0-9]+)(?:[eE][-+]?[0-9]{1,4})?")
_WORDS: dict[str, Scalar] = {
    "": None, "~": None, "null": None, "Null": None, "NULL": None,
    "true": True, "True": True, "TRUE": True, "false": False, "False": False, "FALSE": False,
    ".nan": float("nan"), ".NaN": float("nan"), ".NAN": float("nan"), "NaN": float("nan"),
    ".inf": float("inf"), ".Inf": float("inf"), ".INF": float("inf"), "+.inf": float("inf"),
    "-.inf": float("-inf"), "-.Inf": float("-inf"), "-.INF": float("-inf"),
    "Infinity": float("inf"), "-Infinity": float("-inf"),
}


def resolve(text: str) -> Scalar:
    """Return what a plain scalar means: YAML 1.2's core schema without octal, hexadecimal and dates."""
    if text in _WORDS:
        return _WORDS[text]
    if _INT.fullmatch(text):
        return int(text)
    if len(text) <= 60 and _FLOAT.fullmatch(text):
        return float(text)
    return text


def read_tree(text: str, *, file: str = "") -> tuple[Value, list[tuple[Place, Fault]]]:
    """Read the text of a job file.

    Parameters
    ----------
    text
        YAML 1.2, or JSON.
    file
        Name of the file; one that ends in .json is read as nothing else.

    Returns
    -------
    tuple
        The tree, and what is wrong in it already (keys given twice) with its place.

    Raises
    ------
    Unreadable
        When the text cannot be read to its end, or is too deep or too large.
    """
    only_json = file.lower().endswith(".json")
    if not only_json and not text.lstrip().startswith("{"):
        return grow(yaml_tokens(text))
    try:
        json.loads(text, parse_int=str, parse_float=str)
    except json.JSONDecodeError as error:
        if not only_json and max(map(len, text.splitlines())) <= MAX_LINE:
            return grow(yaml_tokens(text))
        raise Unreadable(Fault(error.lineno, "", f"cannot be read as JSON: {error.msg.lower()}")) from None
    except RecursionError:
        raise Unreadable(Fault(1, "", f"must not be nested deeper than {MAX_DEPTH} levels")) from None
    return grow(_json_tokens(text))


# --- JSON --------------------------------------------------------------------------------------

_JSON = re.compile(
    r'''[\s,:]*(?:(?P<string>"(?:[^"\\]|\\.)*")|(?P<open>[\[{])|(?P<close>[\]}])'''
    r'''|(?P<word>[^\s,:"\[\]{}]+))'''
)


def _json_tokens(text: str) -> Iterator[Token]:
    """Yield the tokens of text that is known to be JSON."""
    line, start, seen = 1, 0, 0
    for match in _JSON.finditer(text):
        at = match.start(match.lastgroup or 0)
        line += text.count("\n", seen, at)
        start = max(start, text.rfind("\n", seen, at) + 1)
        seen = at
        place = Place(line, at - start + 1)
        word = match[match.lastgroup or 0]
        if match.lastgroup == "string":
            string = json.loads(word)
            yield Token("scalar", place, string, string or "''")
        elif match.lastgroup == "word":
            yield Token("scalar", place, resolve(word), word)
        elif match.lastgroup == "close":
            yield Token("end", place)
        else:
            yield Token("list" if word == "[" else "mapping", place)


# --- YAML --------------------------------------------------------------------------------------

def yaml_tokens(text: str) -> Iterator[Token]:
    """Yield the tokens of YAML text; raises ``Unreadable`` where it cannot be read on."""
    _measure(text)
    documents = 0
    for event in _yaml_events(text):
        place = Place(event.start_mark.line + 1, event.start_mark.column + 1)
        if isinstance(event, DocumentStartEvent):
            documents += 1
            if documents > 1:
                raise Unreadable(Fault(place[0], "", "must be one document, without a second one after ---"))
        elif isinstance(event, (MappingEndEvent, SequenceEndEvent)):
            yield Token("end", place)
        elif isinstance(event, NodeEvent):
            yield _yaml_token(event, place)


def _measure(text: str) -> None:
    """Refuse text on which the YAML parser would take very long: too many lines, or one that is too long."""
    lines = text.splitlines() or [""]
    if len(lines) > MAX_LINES:
        raise Unreadable(Fault(1, "", f"must have at most {MAX_LINES:,} lines", f"{len(lines):,}"))
    longest = max(range(len(lines)), key=lambda index: len(lines[index]))
    if len(lines[longest]) > MAX_LINE:
        raise Unreadable(Fault(longest + 1, "", f"must have lines of at most {MAX_LINE:,} characters",
                               f"{len(lines[longest]):,}"))


def _yaml_token(event: NodeEvent, place: Place) -> Token:
    if isinstance(event, AliasEvent):
        return Token("alias", place, anchor=event.anchor)
    tag = getattr(event, "tag", None)
    if tag is not None and str(tag) != "!":
        raise Unreadable(Fault(place[0], "", "must not have a YAML tag", show(str(tag))))
    if isinstance(event, ScalarEvent):
        quoted = event.style in ("'", '"', "|", ">")
        if event.style in ("'", '"') and event.start_mark.line != event.end_mark.line and ": " in event.value:
            raise Unreadable(Fault(place.line, "", "must close the quote that opens here", show(event.value)))
        text = event.value or ("''" if quoted else "")
        return Token("scalar", place, event.value if quoted else resolve(event.value), text, event.anchor)
    return Token("mapping" if isinstance(event, MappingStartEvent) else "list", place, anchor=event.anchor)


def _yaml_events(text: str) -> Iterator[Event]:
    try:
        yield from YAML(typ="safe", pure=True).parse(text)
    except ReaderError as error:
        line = text.count("\n", 0, error.position) + 1
        raise Unreadable(Fault(line, "", "must not hold control characters", f"#x{error.character:04x}")) from None
    except MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        opened = error.context_mark or mark
        problem = " ".join(str(error.problem or error.context or "").split())
        lines = [line[:LONGEST] for line in text.splitlines()] or [""]
        stop, begun = (min(at.line, len(lines) - 1) if at else 0 for at in (mark, opened))
        raise Unreadable(slip(ParserStop(lines, stop, begun, problem))) from None
    except (YAMLError, ValueError, RecursionError) as error:
        raise Unreadable(Fault(1, "", f"cannot be read as YAML: {show(str(error), most=120)}")) from None
