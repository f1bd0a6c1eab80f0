"""Words in a job file: names, dates, choices, yes and no."""

from __future__ import annotations

import datetime
import difflib
from dataclasses import dataclass
from typing import Annotated, Any

from layout.job.kind import BadValue, Flaw, Kind, ReadingContext
from layout.job.limits import FIRST_YEAR, LAST_YEAR, MAX_NAME


@dataclass(frozen=True)
class Words(Kind):
    """One line of text; a bare number is taken as its text, so that a job may be numbered 2031."""

    most: int = MAX_NAME
    empty: bool = False

    def check(self, value: object, told: ReadingContext) -> str:
        """Return the text, spaces at its ends taken off."""
        if isinstance(value, int) and not isinstance(value, bool):
            value = str(value)
        if not isinstance(value, str):
            hint = "what follows a # is a comment: put such text in quotes" if value is None else ""
            raise BadValue(Flaw((), "must be text", hint=hint))
        text = value.strip()
        if not text and not self.empty:
            raise BadValue(Flaw((), "must not be empty", "nothing"))
        if len(text) > self.most:
            raise BadValue(Flaw((), f"must have at most {self.most} characters", f"{len(text):,}"))
        if not text.isprintable():
            raise BadValue(Flaw((), "must be one line of printable text"))
        return text

    def json_schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        return {"type": ["string", "integer"], **({} if self.empty else {"minLength": 1}), "maxLength": self.most}


Name = Annotated[str, Words()]
OneLine = Annotated[str, Words(most=200, empty=True)]


@dataclass(frozen=True)
class Day(Kind):
    """A date, kept as text such as 2026-05-04."""

    def check(self, value: object, told: ReadingContext) -> str:
        """Return the date."""
        try:
            day = datetime.date.fromisoformat(value) if isinstance(value, str) and len(value) == 10 else None
        except ValueError:
            day = None
        if day is None:
            raise BadValue(Flaw((), "must be a date such as 2026-05-04"))
        if not FIRST_YEAR <= day.year <= LAST_YEAR:
            raise BadValue(Flaw((), f"must be a date from {FIRST_YEAR} to {LAST_YEAR}"))
        return day.isoformat()

    def json_schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        return {"type": "string", "format": "date"}


Date = Annotated[str, Day()]


@dataclass(frozen=True)
class Choice(Kind):
    """One of a few words."""

    words: tuple[str, ...]
    also: tuple[tuple[str, str], ...] = ()
    """What people write instead, and the word they mean."""

    def check(self, value: object, told: ReadingContext) -> str:
        """Return the word."""
        if not isinstance(value, str) or value not in self.words:
            meant = self._meant(value)
            raise BadValue(Flaw((), f"must be {', '.join(self.words[:-1])} or {self.words[-1]}",
                                hint=f"did you mean {meant}?" if meant else ""))
        return value

    def _meant(self, value: object) -> str:
        """Return the word that is likely meant; nothing when none is."""
        said = value.strip().lower() if isinstance(value, str) else ""
        near = difflib.get_close_matches(said[:MAX_NAME], self.words, n=1, cutoff=0.75)
        return dict(self.also).get(said) or (near[0] if near else "")

    def json_schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        return {"type": "string", "enum": list(self.words)}


@dataclass(frozen=True)
class YesNo(Kind):
    """True or false."""

    def check(self, value: object, told: ReadingContext) -> bool:
        """Return it."""
        if not isinstance(value, bool):
            said = str(value).strip().lower()
            meant = "true" if said in ("yes", "y", "on") else "false" if said in ("no", "n", "off") else ""
            raise BadValue(Flaw((), "must be true or false", hint=f"write {meant}" if meant else ""))
        return value

    def json_schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        return {"type": "boolean"}


Flag = Annotated[bool, YesNo()]
