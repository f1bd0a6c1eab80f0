"""Reads the words of a PDF back, page by page, from its bytes: what a printer would put on the paper.

Only what the packet's own PDF is made of is understood: a cross-reference table, pages with one deflated stream of
content each, and faces with two-byte codes and a map to Unicode (ISO 32000-1, 7.5, 7.8, 9.4, 9.10.3). Anything else
is no reading, and said so.
"""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Iterator, Mapping
from pathlib import Path

from layout.audit.files import NotReadable, read_bytes

MOST_BYTES = 200_000_000
"""A PDF, or a page of one unpacked, larger than this is not read."""

_ENTRY = re.compile(rb"(\d{10}) (\d{5}) ([nf])")
_REFERENCE = re.compile(rb"(\d+) 0 R")
_RANGE = re.compile(rb"<([0-9a-fA-F]{4})>\s*<([0-9a-fA-F]{4})>\s*\[([^\]]*)\]")
_TOKEN = re.compile(  # each begins with a letter of its own, which is quickly looked for
    rb"/(\w+)\s+[-0-9.]+\s+Tf|\([^()\\]*(?:\\.[^()\\]*)*\)|B(?<=\bB)T\b|E(?<=\bE)T\b", re.DOTALL)
_ESCAPED = re.compile(rb"\\(?:([0-7]{1,3})|(.))", re.DOTALL)
_CODE = struct.Struct(">H")
_PLAIN = {b"n": b"\n", b"r": b"\r", b"t": b"\t", b"b": b"\b", b"f": b"\f"}


def read_pdf(path: Path) -> list[list[str]]:
    """Return the texts of each page in the order they are written.

    Parameters
    ----------
    path
        The file.

    Raises
    ------
    NotReadable
        When the file is missing, or is not a PDF of the kind that the packet holds.
    """
    data = read_bytes(path)
    try:
        return _pages(_Objects(data))
    except (ValueError, KeyError, IndexError, zlib.error, UnicodeDecodeError, RecursionError) as error:
        raise NotReadable(102, path.name, "a PDF with pages of text", type(error).__name__) from None


class _Objects:
    """The numbered objects of a PDF, found by its cross-reference table."""

    def __init__(self, data: bytes) -> None:
        if not data.startswith(b"%PDF-"):
            raise ValueError("no PDF")
        self.data = data
        start = int(data[data.rindex(b"startxref") + 9:].split()[0])
        head = re.compile(rb"xref\s+0 (\d+)\s+").match(data, start)
        if not head:
            raise ValueError("no table of objects")
        entries = _ENTRY.findall(data, head.end(), head.end() + 20 * int(head[1]))
        self.places = {number: int(place) for number, (place, _, used) in enumerate(entries) if used == b"n"}
        trailer = data[data.index(b"trailer", start):]
        self.root = _reference(trailer, b"Root")

    def body(self, number: int) -> bytes:
        """Return an object's dictionary or value."""
        head = re.compile(rb"\s*\d+ 0 obj\s*").match(self.data, self.places[number])
        if not head:
            raise ValueError("no object")
        end = re.compile(rb"\bstream\r?\n|\bendobj\b").search(self.data, head.end())
        if not end:
            raise ValueError("an object without end")
        return self.data[head.end():end.start()]

    def stream(self, number: int) -> bytes:
        """Return what an object's stream holds, unpacked."""
        body = self.body(number)
        begin = self.data.index(b"stream", self.places[number] + len(body)) + 6
        begin += 2 if self.data[begin:begin + 2] == b"\r\n" else 1
        length = re.search(rb"/Length\s+(\d+)(\s+0 R)?", body)
        if not length:
            raise ValueError("a stream without its length")
        size = int(self.body(int(length[1]))) if length[2] else int(length[1])
        packed = self.data[begin:begin + size]
        if b"/FlateDecode" not in body:
            return packed
        opened = zlib.decompressobj()
        text = opened.decompress(packed, MOST_BYTES)
        if opened.unconsumed_tail:
            raise ValueError("a stream beyond reading")
        return text


def _reference(body: bytes, key: bytes) -> int:
    found = re.search(rb"/" + key + rb"\s+(\d+)\s+0\s+R", body)
    if not found:
        raise ValueError(f"no {key!r}")
    return int(found[1])


def _pages(objects: _Objects) -> list[list[str]]:
    pages = []
    faces: dict[int, Mapping[int, str]] = {}
    for number in _kids(objects, _reference(objects.body(objects.root), b"Pages"), 0):
        body = objects.body(number)
        fonts = objects.body(_reference(objects.body(_reference(body, b"Resources")), b"Font"))
        named: dict[bytes, Mapping[int, str]] = {}
        for name, font in re.findall(rb"/(\w+)\s+(\d+) 0 R", fonts):
            if int(font) not in faces:
                faces[int(font)] = _letters(objects, int(font))
            named[name] = faces[int(font)]
        pages.append(list(_texts(objects.stream(_reference(body, b"Contents")), named)))
    return pages


def _kids(objects: _Objects, number: int, depth: int) -> Iterator[int]:
    """Yield the pages of a tree of pages, in order."""
    if depth > 8:
        raise ValueError("pages within pages without end")
    body = objects.body(number)
    if not re.search(rb"/Type\s*/Pages\b", body):
        yield number
        return
    listed = re.search(rb"/Kids\s*\[([^\]]*)\]", body)
    if not listed:
        raise ValueError("no pages")
    for kid in _REFERENCE.findall(listed[1]):
        yield from _kids(objects, int(kid), depth + 1)


class _Letters(dict[int, str]):
    """A face's letters by their codes."""

    def __missing__(self, code: int) -> str:
        return "\N{REPLACEMENT CHARACTER}"


def _letters(objects: _Objects, font: int) -> _Letters:
    """Return a face's map from codes to letters; empty when it has none: its text cannot be read."""
    body = objects.body(font)
    letters = _Letters()
    if b"/ToUnicode" not in body:
        return letters
    for first, last, listed in _RANGE.findall(objects.stream(_reference(body, b"ToUnicode"))):
        codes = range(int(first, 16), int(last, 16) + 1)
        for code, text in zip(codes, re.findall(rb"<([0-9a-fA-F]+)>", listed), strict=True):
            letters[code] = bytes.fromhex(text.decode()).decode("utf-16-be")
    return letters


def _texts(content: bytes, faces: Mapping[bytes, Mapping[int, str]]) -> Iterator[str]:
    """Yield each text of a page: what stands between BT and ET."""
    letters: Mapping[int, str] = _Letters()
    text = ""
    for match in _TOKEN.finditer(content):
        token = match[0]
        if token == b"BT":
            text = ""
        elif token == b"ET":
            yield text
        elif match[1]:
            letters = faces[match[1]]
        else:
            codes = _ESCAPED.sub(_unescaped, token[1:-1])
            text += "".join([letters[code] for (code,) in _CODE.iter_unpack(codes[:len(codes) // 2 * 2])])


def _unescaped(match: re.Match[bytes]) -> bytes:
    return bytes([int(match[1], 8)]) if match[1] else _PLAIN.get(match[2], match[2])
