"""A real LibreOffice Calc at work: cells typed into a workbook by a macro, saved as .xlsx and .ods.

Comes in: a workbook, cells to type. Goes out: the saved files, and what other cells then show.
"""

import subprocess
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

MACRO = """
Sub Fill(source As String, todo As String, target As String)
    Dim hiding(0) As New com.sun.star.beans.PropertyValue
    Dim kinds(0) As New com.sun.star.beans.PropertyValue
    Dim doc As Object, oneCell As Object
    Dim handle As Integer, told As String, seen As String, parts As Variant
    hiding(0).Name = "Hidden"
    hiding(0).Value = True
    doc = StarDesktop.loadComponentFromURL(ConvertToURL(source), "_blank", 0, hiding())
    seen = ""
    handle = FreeFile
    Open todo For Input As #handle
    Do While Not EOF(handle)
        Line Input #handle, told
        parts = Split(told, Chr(9))
        If UBound(parts) &gt; 2 Then
            oneCell = doc.Sheets.getByName(parts(0)).getCellRangeByName(parts(1))
            If parts(2) = "read" Then
                seen = seen &amp; parts(0) &amp; Chr(9) &amp; parts(1)
                seen = seen &amp; Chr(9) &amp; oneCell.getString() &amp; Chr(10)
            ElseIf parts(2) = "text" Then
                oneCell.setString(parts(3))
            Else
                oneCell.setFormula(parts(3))
            End If
        End If
    Loop
    Close #handle
    kinds(0).Name = "FilterName"
    kinds(0).Value = "Calc MS Excel 2007 XML"
    doc.storeToURL(ConvertToURL(target &amp; ".xlsx"), kinds())
    kinds(0).Value = "calc8"
    doc.storeToURL(ConvertToURL(target &amp; ".ods"), kinds())
    doc.close(True)
    handle = FreeFile
    Open target &amp; ".log" For Output As #handle
    Print #handle, seen
    Close #handle
End Sub
"""
MODULE = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE script:module PUBLIC "-//OpenOffice.org//DTD OfficeDocument 1.0//EN" "module.dtd">\n'
    '<script:module xmlns:script="http://openoffice.org/2000/script" script:name="Module1" '
    'script:language="StarBasic">{}</script:module>\n'
)


@dataclass(frozen=True)
class Typed:
    """What is typed into a cell: `typed` as a person would (12, 3.50, 2027-03-20), or kept as text."""

    sheet: str
    cell: str
    value: object
    is_text: bool = False


def fill(workbook: Path, cells: Iterable[Typed], target: Path, read: Iterable[tuple[str, str]] = ()) -> dict[str, str]:
    """Types into a workbook and saves it as target.xlsx and target.ods; returns what other cells then show."""
    profile = target.parent / "profile"
    program = ["soffice", f"-env:UserInstallation=file://{profile}", "--headless", "--norestore"]
    module = profile / "user" / "basic" / "Standard" / "Module1.xba"
    if not module.exists():
        subprocess.run([*program, "--terminate_after_init"], capture_output=True, timeout=120, check=False)
    module.write_text(MODULE.format(MACRO), encoding="utf-8")
    lines = [
        f"{one.sheet}\t{one.cell}\t{'text' if one.is_text else 'typed'}\t{one.value}" for one in cells
    ] + [f"{sheet}\t{cell}\tread\t" for sheet, cell in read]  # fmt: skip
    todo = target.with_suffix(".todo")
    todo.write_text("\n".join(lines) + "\n", encoding="utf-8")
    macro = f"macro:///Standard.Module1.Fill({workbook},{todo},{target})"
    done = subprocess.run([*program, macro], capture_output=True, text=True, timeout=120, check=False)
    log = target.with_suffix(".log")
    assert log.exists(), f"Calc did not finish: {done.stdout}{done.stderr}"
    shown = [line.split("\t") for line in log.read_text(encoding="utf-8").splitlines() if line.strip()]
    return {f"{sheet}!{cell}": value for sheet, cell, value in shown}
