"""Recalculates a spreadsheet with LibreOffice: every stored result of a formula is taken out first."""

from __future__ import annotations

import re
import shutil
import subprocess
import zipfile
from pathlib import Path

import openpyxl
import pytest

OFFICE = shutil.which("soffice") or shutil.which("libreoffice")
needs_office = pytest.mark.skipif(OFFICE is None, reason="LibreOffice Calc (soffice) is not installed")


def recalculated(path: Path, place: Path) -> openpyxl.Workbook:
    """Return a workbook as LibreOffice works it out.

    Parameters
    ----------
    path
        The workbook.
    place
        A folder for what is made on the way.
    """
    place.mkdir(parents=True, exist_ok=True)
    bare = place / "bare.xlsx"
    with zipfile.ZipFile(path) as book, zipfile.ZipFile(bare, "w") as out:
        for name in book.namelist():
            data = book.read(name)
            if name.startswith("xl/worksheets/"):
                text = data.decode("utf-8")
                data = re.sub(r"(<c [^>]*>)(<f>.*?</f>)<v>.*?</v>", r"\1\2", text).encode("utf-8")
            out.writestr(name, data)
    made = place / "made"
    subprocess.run(
        [str(OFFICE), f"-env:UserInstallation=file://{place}/profile", "--headless", "--convert-to", "xlsx",
         "--outdir", str(made), str(bare)],
        check=True, capture_output=True, timeout=180,
    )
    return openpyxl.load_workbook(made / "bare.xlsx", data_only=True)


def formulas(path: Path) -> list[tuple[str, str, object]]:
    """Return (sheet, cell, stored value) of every formula of a workbook."""
    written, values = openpyxl.load_workbook(path), openpyxl.load_workbook(path, data_only=True)
    return [(sheet.title, cell.coordinate, values[sheet.title][cell.coordinate].value)
            for sheet in written.worksheets for row in sheet.iter_rows() for cell in row if cell.data_type == "f"]
