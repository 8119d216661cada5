"""Is every file read within bounds: bombs, locked files, far cells, and what is no workbook?"""

import random
import struct
import time
from collections.abc import Iterable
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from zipfile import ZIP_DEFLATED, ZipFile

import pytest
from openpyxl import Workbook

from backoffice.errors import Refused
from backoffice.interchange.workbook import MOST_COLUMNS, MOST_ROWS, read_grids
from tests.interchange.books_in import saved

SECONDS = 2
_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml"
PARTS = {
    "[Content_Types].xml": f'<Types xmlns="{_PACKAGE}/content-types"><Default Extension="rels"'
    ' ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default'
    ' Extension="xml" ContentType="application/xml"/><Override PartName="/xl/workbook.xml"'
    f' ContentType="{_TYPE}.sheet.main+xml"/><Override PartName="/xl/worksheets/sheet1.xml"'
    f' ContentType="{_TYPE}.worksheet+xml"/></Types>',
    "_rels/.rels": f'<Relationships xmlns="{_PACKAGE}/relationships"><Relationship Id="rId1"'
    f' Type="{_OFFICE}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
    "xl/workbook.xml": f'<workbook xmlns="{_MAIN}" xmlns:r="{_OFFICE}"><sheets><sheet name="S"'
    ' sheetId="1" r:id="rId1"/></sheets></workbook>',
    "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{_PACKAGE}/relationships"><Relationship'
    f' Id="rId1" Type="{_OFFICE}/worksheet" Target="worksheets/sheet1.xml"/></Relationships>',
}


def packed(folder: Path, body: Iterable[str], *, before: str = "", **parts: str) -> Path:
    """Write a workbook whose one sheet holds the rows given as XML."""
    path = folder / "old.xlsx"
    with ZipFile(path, "w", ZIP_DEFLATED) as whole:
        for name, text in (PARTS | parts).items():
            whole.writestr(name, text)
        with whole.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as sheet:
            head = f'<?xml version="1.0"?>{before}<worksheet xmlns="{_MAIN}"><sheetData>'
            sheet.write(head.encode())
            for piece in body:
                sheet.write(piece.encode())
            sheet.write(b"</sheetData></worksheet>")
    return path


def cell(at: str, value: str = "1") -> str:
    row = "".join(filter(str.isdigit, at))
    return f'<row r="{row}"><c r="{at}"><v>{value}</v></c></row>'


def refused(path: Path) -> str:
    """Give the code a file is refused with, which must not take long."""
    start = time.perf_counter()
    with pytest.raises(Refused) as caught:
        read_grids(path)
    assert time.perf_counter() - start < SECONDS
    return caught.value.code.removeprefix("workbook.")


def test_the_parts_written_by_hand_make_a_workbook(tmp_path: Path) -> None:
    (grid,) = read_grids(packed(tmp_path, [cell("B2", "58")]))

    assert (grid.sheet, grid.rows) == ("S", ((), (None, 58)))


def test_types_are_kept(tmp_path: Path) -> None:
    row = ["text", 3, 2.5, True, datetime.fromisoformat("2026-10-05"), None, " x "]
    (grid,) = read_grids(saved(tmp_path, {"S": [row]}))

    assert grid.rows == (tuple(row),)
    assert [type(value) for value in grid.rows[0]] == [type(value) for value in row]


def test_merged_cells_are_filled_down_and_marked(tmp_path: Path) -> None:
    rows = [["a", "b"], [None, "c"], [None, "d"], ["e", None]]
    (grid,) = read_grids(saved(tmp_path, {"S": rows}, merged={"S": ["A1:A3"]}))

    assert [row[0] for row in grid.rows] == ["a", "a", "a", "e"]
    assert grid.carried == {(2, 1), (3, 1)}


def test_a_formula_without_a_stored_result_is_marked(tmp_path: Path) -> None:
    (grid,) = read_grids(saved(tmp_path, {"S": [[1, "=A1+1"], [2, 3]]}))

    assert grid.rows[0] == (1,)
    assert grid.unanswered == {(1, 2)}


def test_empty_formatted_cells_far_out_do_no_harm(tmp_path: Path) -> None:
    far = '<row r="1048576"><c r="XFD1048576" s="0"/></row>'
    (grid,) = read_grids(packed(tmp_path, [cell("A1"), far]))

    assert grid.rows == ((1,),)


@pytest.mark.parametrize("at", ["XFD1048576", "A1048576", f"A{MOST_ROWS + 1}", "ZZ1"])
def test_a_cell_far_out_is_refused(tmp_path: Path, at: str) -> None:
    assert refused(packed(tmp_path, [cell("A1"), cell(at)])) == "far_cell"


def test_more_rows_than_a_practice_has_are_refused(tmp_path: Path) -> None:
    rows = ("<row/>" * 1_000 for _ in range(6_000))

    assert refused(packed(tmp_path, rows)) == "too_large"


def test_more_cells_than_a_practice_has_are_refused(tmp_path: Path) -> None:
    rows = ("<row>" + "<c><v>1</v></c>" * 150 + "</row>" for _ in range(5_000))

    assert refused(packed(tmp_path, rows)) == "too_large"


@pytest.mark.parametrize("megabytes", [70, 250])
def test_a_file_that_unpacks_to_far_more_is_refused(tmp_path: Path, megabytes: int) -> None:
    path = packed(tmp_path, (" " * 1_000_000 for _ in range(megabytes)))

    assert path.stat().st_size < 1_000_000
    assert refused(path) == "too_large"


def test_a_size_that_lies_is_refused(tmp_path: Path) -> None:
    path = packed(tmp_path, (" " * 1_000_000 for _ in range(250)))
    raw = bytearray(path.read_bytes())
    name = raw.rfind(b"xl/worksheets/sheet1.xml")
    entry = raw.rfind(b"PK\x01\x02", 0, name)
    struct.pack_into("<I", raw, entry + 24, 1_000)
    path.write_bytes(raw)

    assert refused(path) == "unreadable"


def test_many_shared_texts_are_refused(tmp_path: Path) -> None:
    texts = f'<sst xmlns="{_MAIN}">' + "<si><t/></si>" * 500_000 + "</sst>"

    assert refused(packed(tmp_path, [cell("A1")], **{"xl/sharedStrings.xml": texts})) == "too_large"


def test_entities_are_refused(tmp_path: Path) -> None:
    laughs = "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 10))
    before = f'<!DOCTYPE worksheet [<!ENTITY a0 "ha">{laughs}]>'
    text = '<row r="1"><c r="A1" t="inlineStr"><is><t>&a9;</t></is></c></row>'

    assert refused(packed(tmp_path, [text], before=before)) == "unreadable"


def test_a_file_of_the_disk_is_never_read_into_a_sheet(tmp_path: Path) -> None:
    (tmp_path / "secret").write_text("secret", encoding="utf-8")
    before = f'<!DOCTYPE worksheet [<!ENTITY s SYSTEM "file://{tmp_path}/secret">]>'
    text = '<row r="1"><c r="A1" t="inlineStr"><is><t>&s;</t></is></c></row>'

    assert refused(packed(tmp_path, [text], before=before)) == "unreadable"


def test_two_parts_of_one_name_are_refused(tmp_path: Path) -> None:
    path = packed(tmp_path, [cell("A1")])
    with ZipFile(path, "a") as whole, pytest.warns(UserWarning, match="Duplicate"):
        whole.writestr("xl/workbook.xml", PARTS["xl/workbook.xml"])

    assert refused(path) == "too_large"


@pytest.mark.parametrize(
    ("raw", "code"),
    [
        (b"", "empty"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, "old_kind"),
        (
            b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + "EncryptedPackage".encode("utf-16-le"),
            "locked",
        ),
        (b"PK\x03\x04 and no more", "unreadable"),
        (b"%PDF-1.7\n1 0 obj", "not_one"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "not_one"),
        (b"a,b\n" * (MOST_ROWS + 1), "too_large"),
        (b"," * (MOST_COLUMNS + 1), "too_large"),
        (b"x" * 20_000_001, "too_large"),
    ],
    ids=["empty", "old", "locked", "cut short", "PDF", "picture", "rows", "columns", "bytes"],
)
def test_what_is_no_workbook_is_refused(tmp_path: Path, raw: bytes, code: str) -> None:
    path = tmp_path / "old.csv"
    path.write_bytes(raw)

    assert refused(path) == code


def test_a_zip_of_something_else_and_a_missing_file_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "old.xlsx"
    with ZipFile(path, "w") as whole:
        whole.writestr("word/document.xml", "<w/>")

    assert refused(path) == "not_one"
    assert refused(tmp_path / "nowhere.xlsx") == "not_there"
    assert refused(tmp_path) in ("not_there", "unreadable")


def test_a_part_locked_inside_the_zip_is_refused(tmp_path: Path) -> None:
    path = packed(tmp_path, [cell("A1")])
    raw = bytearray(path.read_bytes())
    entry = raw.find(b"PK\x01\x02")
    raw[entry + 8] |= 1
    path.write_bytes(raw)

    assert refused(path) == "locked"


def test_a_protected_sheet_without_a_password_on_the_file_is_read(tmp_path: Path) -> None:
    book = Workbook()
    book.worksheets[0].append(["Client", "Phone"])
    book.worksheets[0].protection.set_password("x")
    book.worksheets[0].protection.enable()
    book.save(tmp_path / "old.xlsx")

    assert read_grids(tmp_path / "old.xlsx")[0].rows == (("Client", "Phone"),)


@pytest.mark.parametrize("seed", range(8))
def test_a_damaged_workbook_is_read_or_refused_and_nothing_else(tmp_path: Path, seed: int) -> None:
    dice = random.Random(seed)
    rows = [["Name", "Phone", "Paid"], *[[f"N{n}", n, f"=A{n}"] for n in range(20)]]
    whole = saved(tmp_path, {"S": rows}, merged={"S": ["A2:A4"]}).read_bytes()
    path = tmp_path / "bad.xlsx"
    for _ in range(40):
        raw = bytearray(whole)
        for _ in range(dice.randint(1, 12)):
            raw[dice.randrange(len(raw))] = dice.randrange(256)
        path.write_bytes(raw[: dice.choice([len(raw), dice.randrange(len(raw))])])
        with suppress(Refused):
            read_grids(path)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("sign", [";", ",", "\t", "|"])
def test_text_files_as_programs_write_them(tmp_path: Path, encoding: str, sign: str) -> None:
    path = tmp_path / "clients.csv"
    lines = [["Name", "Ort"], ["Jörn Böhm", f"Süd{sign} hinten"], ["", "x"]]
    quoted = "\r\n".join(sign.join(f'"{cell}"' for cell in line) for line in lines)
    path.write_bytes(quoted.encode(encoding))

    (grid,) = read_grids(path)

    assert grid.sheet == "clients"
    assert grid.rows == (("Name", "Ort"), ("Jörn Böhm", f"Süd{sign} hinten"), (None, "x"))
