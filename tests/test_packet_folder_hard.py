"""The packet's folder where the system lacks something, or another run gets in between."""

from __future__ import annotations

import ctypes
import errno
import os
from pathlib import Path
from typing import Any

import pytest

from helpers.folders import FILES, listing, write
from layout.errors import LayoutError
from layout.packet import folder as folder_module


def test_a_system_that_cannot_exchange_two_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No renameat2, as on other systems: the older packet is renamed aside, the new one in."""
    def no_library(name: str | None, **how: Any) -> Any:
        raise OSError("no C library")

    monkeypatch.setattr(ctypes, "CDLL", no_library)
    for _ in range(2):
        write(tmp_path / "p")
    assert sorted(listing(tmp_path / "p")) == FILES
    assert os.listdir(tmp_path) == ["p"]


def test_a_system_without_locks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What a killed run left cannot be told from a live run's there, so it is left alone."""
    place = tmp_path / "p"
    left = tmp_path / (folder_module.hidden_prefix(place) + "lapwright-new-x")
    left.mkdir()
    monkeypatch.setattr(folder_module, "fcntl", None)
    write(place)
    assert sorted(listing(place)) == FILES
    assert sorted(os.listdir(tmp_path)) == sorted([left.name, "p"])


def test_an_older_packet_left_aside_goes_where_there_is_a_newer_one(tmp_path: Path) -> None:
    place = tmp_path / "p"
    write(place)
    aside = tmp_path / (folder_module.hidden_prefix(place) + "lapwright-old-x")
    (aside / "packet").mkdir(parents=True)
    write(place)
    assert os.listdir(tmp_path) == ["p"]


def test_a_new_folder_taken_by_another_run_is_made_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Between making its folder and locking it, another run may take it for one left behind, or put its own there."""
    real_open, real_same, opened = os.open, os.path.samestat, []

    def taken_once(path: Any, flags: int, *more: Any, **how: Any) -> int:
        if "lapwright-new-" in str(path) and not opened:
            opened.append(path)
            os.rmdir(path)
        return real_open(path, flags, *more, **how)

    compared: list[bool] = []

    def other_once(one: os.stat_result, other: os.stat_result) -> bool:
        compared.append(True)
        return len(compared) > 1 and real_same(one, other)

    monkeypatch.setattr(os, "open", taken_once)
    monkeypatch.setattr(os.path, "samestat", other_once)
    write(tmp_path / "p")
    assert len(opened) == 1 and len(compared) >= 2
    assert sorted(listing(tmp_path / "p")) == FILES
    monkeypatch.undo()
    assert len(os.listdir(tmp_path)) == 2  # the folder that was held to be another's
    write(tmp_path / "p")
    assert os.listdir(tmp_path) == ["p"]


@pytest.mark.parametrize("code", [errno.EXDEV, errno.EROFS, errno.EIO])
def test_a_rename_that_can_never_work_is_not_tried_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int,
) -> None:
    tried = []

    def rename(source: Path, target: Path) -> None:
        tried.append(target)
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(os, "rename", rename)
    with pytest.raises(LayoutError, match=f"cannot be written: {os.strerror(code)}"):
        write(tmp_path / "p")
    assert tried == [tmp_path / "p"]
    assert os.listdir(tmp_path) == []


def test_an_older_packet_that_cannot_be_moved_stays(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    place = tmp_path / "p"
    write(place)
    before = listing(place)

    def rename(source: Path, target: Path) -> None:
        raise OSError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(folder_module, "exchange", lambda one, other: False)
    monkeypatch.setattr(os, "rename", rename)
    with pytest.raises(LayoutError, match="cannot be written: Permission denied"):
        write(place)
    monkeypatch.undo()
    assert listing(place) == before
    assert os.listdir(tmp_path) == ["p"]
