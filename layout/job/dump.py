"""The one writer of YAML: ruamel's round trip, no line broken, words quoted where some reader would take them amiss."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from decimal import Decimal
from functools import lru_cache
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.nodes import ScalarNode
from ruamel.yaml.representer import RoundTripRepresenter

from layout.job.text import resolve

WIDE = 1_000_000
"""Line width at which nothing is broken into lines [characters]."""
FLOW_WIDTH = 110
"""A list or mapping no wider than this is written on one line [characters]."""
_OLD_WORDS = {"y", "n", "yes", "no", "on", "off"}
"""Words that readers of YAML 1.1 take for true and false."""


class _Representer(RoundTripRepresenter):
    def ignore_aliases(self, data: Any) -> bool:
        """Write everything out."""
        return True

    def text(self, value: str) -> ScalarNode:
        """Write a text, quoted where it would not be read as text."""
        misread = value.lower() in _OLD_WORDS or resolve(value) != value
        return self._node("str", value, '"' if misread else None)

    def number(self, value: Decimal) -> ScalarNode:
        """Write a number without an exponent."""
        plain = format(value, "f")
        return self._node("float" if "." in plain else "int", plain, None)

    def _node(self, kind: str, value: str, style: str | None) -> ScalarNode:
        node: ScalarNode = self.represent_scalar(f"tag:yaml.org,2002:{kind}", value, style=style)
        return node


_Representer.add_representer(str, _Representer.text)
_Representer.add_representer(Decimal, _Representer.number)


def dumped(value: Any) -> str:
    """Return mappings, lists, texts and numbers as YAML; what holds no mapping further in goes on one line if it fits.
    """
    return _written(_laid_out(value, 0, 0))


@lru_cache(maxsize=4096, typed=True)
def scalar(value: str | int | float | Decimal | bool | None) -> str:
    """Return a scalar as it may stand within brackets, and so anywhere."""
    row = CommentedSeq([value])
    row.fa.set_flow_style()
    return _written(row).strip()[1:-1].strip()


def _written(tree: Any) -> str:
    yaml = YAML(typ="rt", pure=True)
    yaml.Representer = _Representer
    yaml.width, yaml.allow_unicode = WIDE, True
    yaml.indent(mapping=2, sequence=4, offset=2)
    out = io.StringIO()
    yaml.dump(tree, out)
    return out.getvalue()


def _laid_out(value: Any, indent: int, before: int) -> Any:
    """Return a value as ruamel's nodes, each on one line or one entry a line.

    ``indent`` is where the keys of a mapping start when it takes lines of its own, ``before`` how much stands on the
    line before the value [characters].
    """
    if isinstance(value, Mapping):
        made: Any = CommentedMap(
            (key, _laid_out(item, indent + 2, indent + len(key) + 2)) for key, item in value.items())
    elif isinstance(value, Sequence) and not isinstance(value, str):
        made = CommentedSeq(_laid_out(item, indent + 2, indent + 2) for item in value)
    else:
        return value
    if not value or _is_leaf(value) and before + _width(value) <= FLOW_WIDTH:
        made.fa.set_flow_style()
    return made


def _is_leaf(value: Any) -> bool:
    """Tell whether a list or mapping holds no mapping further in, so that one line shows it well."""
    if isinstance(value, Mapping):
        return all(isinstance(item, str) or not isinstance(item, (Mapping, Sequence)) for item in value.values())
    return isinstance(value, str) or not any(isinstance(item, Mapping) for item in value)


def _width(value: Any) -> int:
    """Return how wide a value is on one line [characters], quotes aside."""
    if isinstance(value, Mapping):
        return sum(len(key) + 4 + _width(item) for key, item in value.items())
    if isinstance(value, Sequence) and not isinstance(value, str):
        return sum(2 + _width(item) for item in value)
    return len(str(value))
