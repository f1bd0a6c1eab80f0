"""Changes put into the text of a job file where they belong; every other byte stays, comments and order with it.

What comes out is read again and must say exactly what the changes mean, else nothing is returned. Where one value is
used in several places (an anchor and its aliases) it is first written out in each of them.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from ruamel.yaml.error import YAMLError

from layout.errors import LayoutError
from layout.job.change import Change, changed
from layout.job.splice import spliced, writer_of
from layout.job.text import read_tree, yaml_tokens
from layout.job.tree import Path, Token, Unreadable, spell

__all__ = ["Change", "changed", "rewritten"]


def rewritten(text: str, changes: Iterable[Change], *, file: str = "") -> str:
    """Return the text of a job file with changes in it.

    Parameters
    ----------
    text
        YAML or JSON that can be read.
    changes
        Made one after the other.
    file
        Name of the file; one that ends in .json stays JSON.

    Raises
    ------
    LayoutError
        When a change has no place in the file, or cannot be written so that the file says just that.
    """
    for change in changes:
        meant = changed(_plain(text, file), change)
        for way in (spliced, _parted):
            try:
                written = way(text, change, as_json=_is_json(text, file))
                if _same(_plain(written, file), meant):
                    break
            except (LayoutError, YAMLError, LookupError, TypeError, ValueError):
                continue
        else:
            raise LayoutError(f"{spell(change.path)}: cannot be written into the file as it stands")
        text = written
    return text


def _plain(text: str, file: str) -> object:
    try:
        return read_tree(text, file=file)[0].plain()
    except Unreadable as error:
        raise LayoutError(error.fault.text(file)) from None


def _is_json(text: str, file: str) -> bool:
    if file.lower().endswith(".json"):
        return True
    try:
        return text.lstrip().startswith("{") and isinstance(json.loads(text), dict)
    except ValueError:
        return False


def _same(one: object, other: object) -> bool:
    """Tell whether two plain values say the same; a number that is whole may be written either way."""
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(_same(one[key], other[key]) for key in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_same, one, other))
    return type(one) is type(other) and (one == other or one != one)


# --- where a value is used in several places -----------------------------------------------------

def _parted(text: str, change: Change, *, as_json: bool) -> str:
    """Write what each alias stands for in its place, then put the change in."""
    if as_json:
        return json.dumps(changed(json.loads(text), change), indent=2, ensure_ascii=False) + "\n"
    plain = _plain(text, "")
    starts = [0, *(at + 1 for at, char in enumerate(text) if char == "\n")]
    writer = writer_of(text)
    for path, token in reversed(list(_aliases(text))):
        value = plain
        for step in path:
            value = value[step]  # type: ignore[index]
        start = starts[token.place[0] - 1] + token.place[1] - 1
        text = text[:start] + writer.flow(value) + text[start + 1 + len(token.anchor or ""):]
    return spliced(text, change, as_json=False)


def _aliases(text: str) -> Iterator[tuple[Path, Token]]:
    """Yield where the aliases of a YAML text stand."""
    stack: list[tuple[bool, list[Any]]] = []  # of each open mapping or list: which it is, and its latest step

    def begin() -> None:
        if stack and not stack[-1][0]:
            stack[-1][1][0] += 1

    for token in yaml_tokens(text):
        if token.kind == "end":
            stack.pop()
            if stack and stack[-1][0]:
                stack[-1][1][0] = None
            continue
        if stack and stack[-1][0] and stack[-1][1][0] is None:
            stack[-1][1][0] = token.text  # a key
            continue
        begin()
        if token.kind in ("list", "mapping"):
            stack.append((token.kind == "mapping", [None if token.kind == "mapping" else -1]))
            continue
        if token.kind == "alias":
            yield tuple(steps[0] for _, steps in stack), token
        if stack and stack[-1][0]:
            stack[-1][1][0] = None
