"""LibreOffice edits a workbook by a script in its own Basic, as a person would by hand, and saves it as .xlsx."""

from __future__ import annotations

from pathlib import Path
from xml.sax.saxutils import escape

from tests.support.paper import office

_HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n'
_LIBRARIES = """<!DOCTYPE library:libraries PUBLIC "-//OpenOffice.org//DTD OfficeDocument 1.0//EN" "libraries.dtd">
<library:libraries xmlns:library="http://openoffice.org/2000/library">
 <library:library library:name="Standard" library:link="false"/>
</library:libraries>
"""
_LIBRARY = """<!DOCTYPE library:library PUBLIC "-//OpenOffice.org//DTD OfficeDocument 1.0//EN" "library.dtd">
<library:library xmlns:library="http://openoffice.org/2000/library" library:name="Standard" library:readonly="false"
 library:passwordprotected="false">{element}</library:library>
"""
_MODULE = """<!DOCTYPE script:module PUBLIC "-//OpenOffice.org//DTD OfficeDocument 1.0//EN" "module.dtd">
<script:module xmlns:script="http://openoffice.org/2000/script" script:name="Module1" script:language="StarBasic">
{code}</script:module>
"""
# Without it the first start of a new profile puts its own empty module over ours.
_STARTED = """<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Setup/Office"><prop oor:name="ooSetupInstCompleted" oor:op="fuse"><value>true</value>
</prop></item></oor:items>
"""
# CellOf: the cell of a row, counted from 1, in the column with a heading.
_CODE = """
Function PlaceOf(sheet, heading) As Long
  Dim place As Long
  PlaceOf = -1
  For place = 0 To 60
    If sheet.getCellByPosition(place, 0).String = heading Then PlaceOf = place
  Next place
End Function

Function CellOf(sheet, number, heading)
  CellOf = sheet.getCellByPosition(PlaceOf(sheet, heading), number - 1)
End Function

Function EndOf(sheet)
  Dim cursor As Object
  cursor = sheet.createCursor()
  cursor.gotoEndOfUsedArea(False)
  EndOf = cursor.RangeAddress
End Function

Sub SortBy(sheet, heading)
  Dim fields(0) As New com.sun.star.table.TableSortField
  Dim how(1) As New com.sun.star.beans.PropertyValue
  fields(0).Field = PlaceOf(sheet, heading)
  fields(0).IsAscending = False
  how(0).Name = "SortFields"
  how(0).Value = fields()
  how(1).Name = "ContainsHeader"
  how(1).Value = True
  corner = EndOf(sheet)
  sheet.getCellRangeByPosition(0, 0, corner.EndColumn, corner.EndRow).sort(how())
End Sub

Sub MoveFirst(sheet, heading)
  Dim place As Long
  sheet.Columns.insertByIndex(0, 1)
  place = PlaceOf(sheet, heading)
  corner = EndOf(sheet)
  moved = sheet.getCellRangeByPosition(place, 0, place, corner.EndRow).RangeAddress
  sheet.moveRange(sheet.getCellByPosition(0, 0).CellAddress, moved)
  sheet.Columns.removeByIndex(place, 1)
End Sub

Sub Main
  Dim doc As Object
  Dim opened(0) As New com.sun.star.beans.PropertyValue
  Dim kept(0) As New com.sun.star.beans.PropertyValue
  On Error GoTo Trouble
  opened(0).Name = "Hidden"
  opened(0).Value = True
  doc = StarDesktop.loadComponentFromURL(ConvertToURL("{source}"), "_blank", 0, opened())
{lines}
  kept(0).Name = "FilterName"
  kept(0).Value = "Calc MS Excel 2007 XML"
  doc.storeToURL(ConvertToURL("{target}"), kept())
  doc.close(True)
  Exit Sub
Trouble:
  Open "{trouble}" For Output As #1
  Print #1, Error$ & " in line " & Erl
  Close #1
End Sub
"""


def edited_by_office(file: Path, lines: str, folder: Path) -> Path:
    """Let LibreOffice open a workbook, run lines of Basic on it (`doc`), and save it; return the new file.

    The lines may use `CellOf(sheet, row, heading)`, `SortBy sheet, heading` (descending), `MoveFirst sheet, heading`.
    """
    target, trouble = folder / f"edited-{file.name}", folder / "trouble.txt"
    basic = folder / "office" / "user" / "basic"
    (basic / "Standard").mkdir(parents=True)
    for name, element in (("script", '<library:element library:name="Module1"/>'), ("dialog", "")):
        (basic / f"{name}.xlc").write_text(_HEAD + _LIBRARIES, encoding="utf-8")
        (basic / "Standard" / f"{name}.xlb").write_text(_HEAD + _LIBRARY.format(element=element), encoding="utf-8")
    (basic.parent / "registrymodifications.xcu").write_text(_HEAD + _STARTED, encoding="utf-8")
    code = _CODE.format(source=file, target=target, trouble=trouble, lines=lines)
    (basic / "Standard" / "Module1.xba").write_text(_HEAD + _MODULE.format(code=escape(code)), encoding="utf-8")
    office(f"-env:UserInstallation={(folder / 'office').absolute().as_uri()}", "macro:///Standard.Module1.Main()")
    assert not trouble.exists(), trouble.read_text(encoding="utf-8")
    return target
