"""A progress file that came as a chain of codes: the texts read from the codes, one a line, in any order."""

from __future__ import annotations

import base64
import binascii
import re
import zlib

PART = re.compile(r"LAPWRIGHT2 ([0-9]{1,4})/([0-9]{1,4}) ([0-9a-f]{8}) ([zj]?[A-Za-z0-9_-]+)")
MOST_BYTES = 5_000_000
"""What a chain holds unpacked is no larger."""


class NoChain(ValueError):
    """The texts are no whole chain; the message says what is wrong."""


def is_chain(text: str) -> bool:
    """Tell whether a text looks like the texts of codes."""
    return text.lstrip("\ufeff \t\r\n").startswith("LAPWRIGHT2 ")


def unchained(text: str) -> str:
    """Return the progress file that a chain holds.

    Parameters
    ----------
    text
        The texts of the codes, one a line; a code read twice is as good as once.

    Raises
    ------
    NoChain
        When a code is missing, or of another chain, or was read wrong.
    """
    parts: dict[int, str] = {}
    heads: set[tuple[str, str]] = set()
    for line in text.lstrip("\ufeff").split("\n"):
        match = PART.fullmatch(line.strip())
        if match:
            parts[int(match[1])] = match[4]
            heads.add((match[2], match[3]))
        elif line.strip():
            raise NoChain("must be the text of a code on every line")
    if len(heads) != 1:
        raise NoChain("must be the codes of one chain")
    count, check = heads.pop()
    missing = [str(number) for number in range(1, int(count) + 1) if number not in parts]
    if missing:
        raise NoChain(f"must have all {count} codes; missing: {', '.join(missing[:20])}")
    whole = "".join(parts[number] for number in range(1, int(count) + 1))
    if f"{zlib.crc32(whole.encode('ascii')):08x}" != check:
        raise NoChain("must be the codes as they are shown; one was read wrong")
    try:
        raw = base64.urlsafe_b64decode(whole[1:] + "=" * (-(len(whole) - 1) % 4))
        if whole[0] == "z":
            raw = zlib.decompressobj().decompress(raw, MOST_BYTES)
        return raw.decode("utf-8")
    except (binascii.Error, zlib.error, UnicodeDecodeError):
        raise NoChain("must be the codes as they are shown; they hold no file") from None
