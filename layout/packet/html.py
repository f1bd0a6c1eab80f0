"""packet.html: one file for the phone. No network, nothing outside itself."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape

from layout.records import Plan


def html(plan: Plan, svgs: Mapping[str, str]) -> str:
    """Return packet.html."""
    return f"<!doctype html><meta charset=utf-8><title>{escape(plan.job.info.name)}</title>"
