"""File and sheet names stay clean, allowed and apart whatever the job's names hold."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from helpers.crew_plan import crew_plan
from layout.names import clean, drawing_stems, elevation_files, file_stems
from layout.packet.names import sheet_names


@pytest.mark.parametrize("text, name", [
    ("South", "south"), ("Süd / West #2", "sud-west-2"), ("../../etc/passwd", "etc-passwd"), ("C:\\x", "c-x"),
    ("🌊", ""), ("خندق", ""), ("-", ""), ("a" * 300, "a" * 60), ("<script>alert(1)</script>", "script-alert-1-script"),
])
def test_clean(text: str, name: str) -> None:
    assert clean(text) == name


def test_reserved_empty_and_equal_names_stay_apart() -> None:
    assert file_stems(["con", "NUL", "lpt1", "", "🌊", "A b", "a-b", "a b 2", "A B"], instead="face") == [
        "con-face", "nul-face", "lpt1-face", "face", "face-2", "a-b", "a-b-2", "a-b-2-2", "a-b-3"]


@given(st.lists(st.text(), max_size=12))
def test_stems_are_always_safe(labels: list[str]) -> None:
    stems = file_stems(labels, instead="face")
    assert len(set(stems)) == len(labels)
    assert all(re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", stem) and len(stem) < 80 for stem in stems)


@given(st.lists(st.text(), max_size=12))
def test_sheet_names_are_always_allowed(labels: list[str]) -> None:
    names = sheet_names(labels, taken=["Summary"])
    assert len({name.casefold() for name in names} | {"summary", "history"}) == len(labels) + 2
    for name in names:
        assert 0 < len(name.encode("utf-16-le")) // 2 <= 31
        assert not re.search(r"[\[\]:*?/\\\x00-\x1f]", name) and name == name.strip("'")


def test_another_layer_s_drawings_are_named_after_it_and_change_no_other_name() -> None:
    faces = [("A", "Süd", "drainage"), ("A", "Süd", "membrane"), ("A sud", "drainage", "membrane"),
             ("", "🌊", "membrane")]
    assert drawing_stems(faces) == {
        ("A", "Süd", "membrane"): "a-sud", ("A sud", "drainage", "membrane"): "a-sud-drainage",
        ("", "🌊", "membrane"): "face", ("A", "Süd", "drainage"): "a-sud-drainage-2"}


def test_each_face_has_its_own_file() -> None:
    assert elevation_files(crew_plan(run="North wing").job) == {
        ("North wing", "South"): "elevations/north-wing-south.svg",
        ("North wing", "Return"): "elevations/north-wing-return.svg"}
