"""1xx: every file of a packet is as it was written, byte for byte, by the sums in SHA256SUMS."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

from layout.audit.files import NotReadable, read_bytes, read_text
from layout.audit.findings import Findings

SUMS = "SHA256SUMS"
_LINE = re.compile(r"([0-9a-f]{64})  ([^\n]+)\n")


def check_sealed(folder: Path, book: Findings) -> None:
    """Note the files that are not as they were written; what lies in the folder besides is nobody's concern."""
    try:
        text = read_text(folder / SUMS)
        if not _LINE.match(text) or _LINE.sub("", text):
            raise NotReadable(102, SUMS, "a sum and a name on each line", "other lines")
        for total, name in _LINE.findall(text):
            if ".." in name.split("/") or name.startswith("/"):
                raise NotReadable(102, SUMS, "names inside the packet", name[:60])
            if hashlib.sha256(read_bytes(folder / name)).hexdigest() != total:
                book.note(109, name, "the file as it was written", "another")
    except NotReadable as error:
        book.note(error.number, error.place, error.needed, error.found)
