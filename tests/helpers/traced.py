"""The faults of a drawing that is traced."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from layout.errors import JobError
from layout.job.trace import trace


def faults_of(path: Path, **how: Any) -> list[str]:
    """Return the faults told of a drawing, each one printable line."""
    with pytest.raises(JobError) as caught:
        trace(path, **how)
    lines = caught.value.lines()
    assert lines and all(line.isprintable() for line in lines)
    return lines


def on(layer: str, **more: Any) -> dict[str, Any]:
    """Return the attributes of something on a layer."""
    return {"dxfattribs": {"layer": layer, **more}}
