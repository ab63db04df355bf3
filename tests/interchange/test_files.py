"""Files of all kinds: encodings, workbooks, zips, and what tries to pass for one."""

from __future__ import annotations

import io
import zipfile
from datetime import datetime, timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook

from refit.interchange import reading
from refit.interchange.columns import SHEETS
from refit.interchange.document import RefitDocument, check_document
from refit.interchange.export import export_refit
from refit.interchange.merging import habits_of, merge
from refit.interchange.reading import SheetError, Tables, read_files
from refit.interchange.writing import (
    columns_as_markdown,
    csv_files,
    csv_template,
    workbook,
    workbook_template,
)
from tests.builders import NOW

from .documents import a_document, documents
from .sheets import as_csv, as_xlsx, take_in, the_refit


def refused(*files: tuple[str, bytes]) -> list[str]:
    with pytest.raises(SheetError) as caught:
        read_files(files)
    return [problem.sentence for problem in caught.value.problems]


def a_zip(entries: dict[str, bytes]) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in entries.items():
            archive.writestr(name, content)
    return file.getvalue()


# --- CSV -------------------------------------------------------------------------------------


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_separator_and_encoding_are_found_out(separator: str, encoding: str) -> None:
    rows = as_csv(["Name", "trade"], ["Røst & Sønner", "vev, søm; seil"], separator=separator)
    table = read_files([("vendors.csv", rows.decode().encode(encoding))]).tables[0]
    assert table.headings == ["name", "trade"]
    assert table.rows == [(2, ["Røst & Sønner", "vev, søm; seil"])]


def test_text_that_is_not_unicode_is_refused() -> None:
    assert refused(("vendors.csv", "name\nRøst".encode("latin-1"))) == [
        "vendors.csv: The file is neither an Excel workbook nor text in UTF-8; save it as one of "
        "them."
    ]


def test_rows_are_counted_as_a_spreadsheet_counts_them() -> None:
    text = 'sep=;\r\n name * ;trade\r\n\r\n"Gull\r\nCanvas";sails\r\n;;\r\nTern;\r\n'
    table = read_files([("vendors.csv", text.encode())]).tables[0]
    assert table.rows == [(4, ["Gull\nCanvas", "sails"]), (6, ["Tern"])]


def test_a_file_is_known_by_its_headings_when_its_name_says_nothing() -> None:
    table = read_files([("from the office.csv", as_csv(["tag", "name"], ["ST-01", "Hatch"]))])
    assert table.tables[0].kind == "pieces"
    assert refused(
        (
            "list.csv",
            as_csv(["name"], ["Bow"]),
        )
    ) == [
        "list.csv: Neither its name nor its headings say what it holds. Sheets and files are "
        "called places, vendors, papers, crew, zones, pieces, packages, dependencies, distances."
    ]


def test_an_apostrophe_before_a_formula_comes_off() -> None:
    table = read_files([("zones.csv", as_csv(["name"], ["'=Bow"], ["'Stern"]))]).tables[0]
    assert table.rows == [(2, ["=Bow"]), (3, ["'Stern"])]


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "There is nothing in it, not even headings."),
        (b"\n\n,,\n", "There is nothing in it, not even headings."),
        (b'name\n"' + b"x" * 200_000, "The file is no CSV: field larger than field limit"),
        (b"x" * (5 * 1024 * 1024 + 1), "The file is larger than 5 MB."),
        (b"\xd0\xcf\x11\xe0rest", "This is an old Excel workbook; save it as .xlsx."),
        (b"PK\x03\x04 and nothing", "The file is damaged: it cannot be unpacked."),
        (as_csv(["name"], *[[f"Zone {n}"] for n in range(5001)]), "more than 5000 rows"),
        (as_csv([f"column {n}" for n in range(81)]), "more than 80 columns"),
    ],
)
def test_files_that_cannot_be_read_get_a_sentence(content: bytes, said: str) -> None:
    assert said in refused(("zones.csv", content))[0]


def test_two_files_of_a_kind_are_not_mixed() -> None:
    rows = as_csv(["name"], ["Bow"])
    assert refused(("zones.csv", rows), ("zones (2).csv", rows)) == [
        "zones: There are two sheets or files of this kind."
    ]


def test_every_bad_file_is_named() -> None:
    assert len(refused(("a.csv", b""), ("b.xlsx", b"PKx"), ("c.csv", b"\xff"))) == 3


# --- Excel -----------------------------------------------------------------------------------


def test_cells_of_a_workbook_mean_what_they_show() -> None:
    rows: list[list[Any]] = [
        ["code", "title", "place", "likely", "budget", "promised", "takes a bay"],
        [7, "Coat", "Shed", timedelta(hours=1, minutes=30), 0.1 + 0.2,
         datetime.fromisoformat("2026-12-04 14:00"), True],
    ]  # fmt: skip
    table = read_files([("a.xlsx", as_xlsx(packages=rows))]).tables[0]
    assert table.rows == [(2, ["7", "Coat", "Shed", "1:30", "0.3", "2026-12-04 14:00", "yes"])]


def test_a_day_without_a_time_of_day_stays_one() -> None:
    book = load_workbook(io.BytesIO(as_xlsx(packages=[["code", "promised"], ["A", 1]])))
    cell = book.worksheets[0]["B2"]
    cell.value = datetime.fromisoformat("2026-12-04")
    cell.number_format = "yyyy-mm-dd"
    file = io.BytesIO()
    book.save(file)
    assert read_files([("a.xlsx", file.getvalue())]).tables[0].rows == [(2, ["A", "2026-12-04"])]


def test_other_sheets_of_a_workbook_are_left_and_named_but_a_slip_is_not() -> None:
    sheets = {"zones": [["name"], ["Bow"]], "Sums": [["what", "ever"]], "notes": [["read me"]]}
    assert read_files([("a.xlsx", as_xlsx(**sheets))]).unread == ["Sums"]
    assert refused(("a.xlsx", as_xlsx(zones=[["name"], ["Bow"]], pakages=[["code"]]))) == [
        "pakages: No sheet has this name. Did you mean “packages”?"
    ]


def test_a_workbook_with_one_sheet_needs_no_name_for_it() -> None:
    tables = read_files([("a.xlsx", as_xlsx(Sheet1=[["tag", "name"], ["ST-1", "Hatch"]]))])
    assert tables.tables[0].kind == "pieces"


def test_formulas_without_a_result_and_errors_are_named_by_their_row() -> None:
    assert refused(("a.xlsx", as_xlsx(zones=[["name"], ["Bow"], ["=A2"]]))) == [
        "zones, row 3: A cell holds a formula without a result; put in the result itself."
    ]
    assert refused(("a.xlsx", as_xlsx(zones=[["name"], ["#REF!"]]))) == [
        "zones, row 2: A cell holds the error #REF!."
    ]


def test_a_workbook_that_unpacks_into_too_much_is_not_unpacked() -> None:
    far = a_zip({"[Content_Types].xml": b"", "xl/a.xml": b"\0" * (60 * 1024 * 1024)})
    assert refused(("a.xlsx", far)) == ["a.xlsx: The file unpacks into far more than it should."]
    dense = a_zip({"[Content_Types].xml": b"", "xl/a.xml": b"\0" * (2 * 1024 * 1024)})
    assert refused(("a.xlsx", dense)) == ["a.xlsx: The file unpacks into far more than it should."]
    many = a_zip({f"{n}.csv": b"x" for n in range(201)})
    assert refused(("a.zip", many)) == ["a.zip: The file has more than 200 parts inside."]


def test_a_workbook_of_very_many_cells_is_refused_before_they_are_read() -> None:
    cells = b"<sheet>" + b"".join(b'<c r="A%d"/>' % n for n in range(300_001)) + b"</sheet>"
    many = a_zip({"[Content_Types].xml": b"", "xl/worksheets/sheet1.xml": cells})
    assert refused(("a.xlsx", many)) == ["a.xlsx: The workbook has more than 300,000 cells."]


def test_a_workbook_with_entities_of_its_own_is_refused() -> None:
    bomb = b'<!DOCTYPE a [<!ENTITY b "bbbb">]><a>&b;</a>'
    assert refused(("a.xlsx", a_zip({"[Content_Types].xml": bomb}))) == [
        "a.xlsx: The file is no workbook that a spreadsheet program wrote."
    ]


def test_a_cell_far_out_does_not_make_the_reader_count_to_it() -> None:
    book = load_workbook(io.BytesIO(as_xlsx(zones=[["name"], ["Bow"]])))
    book.worksheets[0]["XFD1048576"] = "far"
    file = io.BytesIO()
    book.save(file)
    assert read_files([("a.xlsx", file.getvalue())]).tables[0].rows == [(2, ["Bow"])]


# --- out and in again --------------------------------------------------------------------------


def what_changes(document: RefitDocument, name: str, content: bytes) -> tuple[list[Any], Any]:
    merged = merge(document, read_files([(name, content)]), now=NOW)
    changes = [(one.new, one.changed) for one in merged.changes if one.new or one.changed]
    return merged.problems, changes


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(documents())
def test_what_is_written_as_csv_changes_nothing_when_it_is_read(document: RefitDocument) -> None:
    assert what_changes(document, "a.zip", csv_files(document)) == ([], [])


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(documents())
def test_what_is_written_as_a_workbook_changes_nothing_when_it_is_read(
    document: RefitDocument,
) -> None:
    assert what_changes(document, "a.xlsx", workbook(document)) == ([], [])


def test_text_that_looks_like_a_formula_stays_text_in_a_workbook() -> None:
    document = check_document(a_document(zones=[{"name": '=HYPERLINK("x")'}]))
    book = load_workbook(io.BytesIO(workbook(document)))
    assert book["zones"]["A2"].data_type == "s"
    text = zipfile.ZipFile(io.BytesIO(csv_files(document))).read("zones.csv").decode("utf-8-sig")
    assert text == 'name\r\n"\'=HYPERLINK(""x"")"\r\n'


@pytest.mark.django_db
@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_a_whole_refit_can_be_carried_into_an_empty_one_by_sheets(form: str) -> None:
    roads = [
        {"origin": "Home shed", "destination": "Coating booth", "kilometres": "38.5"},
        {"origin": "Coating booth", "destination": "Home shed", "minutes": 50},
    ]
    full = the_refit(distances=roads)
    document = export_refit(full)
    content = csv_files(document) if form == "csv" else workbook(document)
    lists: dict[str, list[Any]] = {sheet.kind: [] for sheet in SHEETS}
    empty = the_refit(**lists)
    take_in(empty, ("all.xlsx", content))
    carried = export_refit(empty)
    for kind in lists:
        assert carried[kind] == document[kind]  # type: ignore[literal-required]


def test_the_template_reads_as_sheets_without_rows() -> None:
    habits = habits_of(check_document(a_document()))
    for name, content in (("a.xlsx", workbook_template(habits)), ("a.zip", csv_template(habits))):
        tables = read_files([(name, content)])
        assert [(table.kind, table.rows) for table in tables.tables] == [
            (sheet.kind, []) for sheet in SHEETS
        ]
        assert tables.unread == []


def test_a_refit_in_feet_has_feet_in_its_template_and_reads_both() -> None:
    data = a_document()
    data["refit"]["units"] = "us"
    document = check_document(data)
    headings = read_files([("a.xlsx", workbook(document))]).tables[5].headings
    assert "length ft" in headings
    for heading, value, metres in (("length ft", "10", "3.048"), ("length m", "2,5", "2.5")):
        rows = as_csv(["tag", heading], ["ST-03", value])
        merged = merge(document, read_files([("pieces.csv", rows)]), now=NOW)
        assert merged.document["pieces"][1]["length_m"] == metres


def test_the_manual_has_a_line_for_every_column() -> None:
    text = columns_as_markdown()
    for sheet in SHEETS:
        assert f"### {sheet.kind}\n" in text
        for column in sheet.columns:
            assert f"{column.name}** (needed) | " in text or f"| {column.name} | " in text
            assert "|" not in column.meaning + column.cell.how + column.example


def test_examples_in_the_notes_can_be_read() -> None:
    habits = habits_of(check_document(a_document()))
    for sheet in SHEETS:
        for column in sheet.columns:
            if column.example:
                column.cell.read(column.example, habits, {})


def test_tables_survive_being_kept_as_json() -> None:
    tables = read_files([("zones.csv", as_csv(["name"], ["Bow"]))])
    assert Tables.from_json(tables.as_json()) == tables


# --- anything at all ---------------------------------------------------------------------------

GOOD_XLSX = workbook(check_document(a_document()))
GOOD_CSV = csv_files(check_document(a_document()))


@settings(max_examples=120, deadline=None)
@given(st.binary(max_size=300), st.sampled_from(["", "PK", "PK\x03\x04", "code,title\n"]))
def test_any_bytes_are_read_or_refused_with_sentences(content: bytes, start: str) -> None:
    try_to_read("packages.csv", start.encode() + content)


@settings(max_examples=120, deadline=None)
@given(st.sampled_from([GOOD_XLSX, GOOD_CSV]), st.data())
def test_a_file_with_bytes_spoiled_is_read_or_refused(good: bytes, data: st.DataObject) -> None:
    spoiled = bytearray(good)
    for _ in range(data.draw(st.integers(1, 6))):
        spoiled[data.draw(st.integers(0, len(spoiled) - 1))] = data.draw(st.integers(0, 255))
    cut = data.draw(st.integers(0, 40))
    try_to_read("a.xlsx", bytes(spoiled[: len(spoiled) - cut]))


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_a_workbook_with_one_part_spoiled_is_read_or_refused(data: st.DataObject) -> None:
    """The parts are packed again, so that checksums hold and the XML itself is what is wrong."""
    parts = {
        entry.filename: zipfile.ZipFile(io.BytesIO(GOOD_XLSX)).read(entry)
        for entry in zipfile.ZipFile(io.BytesIO(GOOD_XLSX)).infolist()
    }
    name = data.draw(st.sampled_from(sorted(parts)))
    part = bytearray(parts[name])
    at = data.draw(st.integers(0, len(part) - 1))
    part[at : at + data.draw(st.integers(0, 30))] = data.draw(st.binary(max_size=12))
    parts[name] = bytes(part)
    try_to_read("a.xlsx", a_zip(parts))


TYPED = st.sampled_from(
    ["", "H01", "Home shed", "2 d", "-1", "1e9", "=1", "\x00", "yes", "2026-12-04 08:00", "ST-03",
     "finish-to-start", "x" * 400, "9" * 30, "\ud7ff", "24:00", "8-12", "٣ d", "\u2028"]
)  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(SHEETS), st.data())
def test_any_cells_under_good_headings_are_merged_or_refused(
    sheet: Any, data: st.DataObject
) -> None:
    document = check_document(a_document())
    head = [column.name for column in sheet.columns]
    rows = data.draw(st.lists(st.lists(TYPED, max_size=len(head) + 1), max_size=4))
    try:
        tables = read_files([(f"{sheet.kind}.csv", as_csv(head, *rows))])
    except SheetError as error:
        assert error.problems  # noqa: PT017
        return
    merged = merge(document, tables, now=NOW)
    if not merged.problems:
        check_document(merged.document)


def try_to_read(name: str, content: bytes) -> None:
    try:
        tables = read_files([(name, content)])
    except SheetError as error:
        assert error.problems  # noqa: PT017
        return
    merge(check_document(a_document()), tables, now=NOW)


def test_the_caps_are_those_that_the_documentation_names() -> None:
    assert (reading.MOST_BYTES, reading.MOST_UNPACKED) == (5 * 1024**2, 50 * 1024**2)
