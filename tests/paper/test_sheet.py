"""What stands on a printed sheet can be read back out of the PDF, on any page, in any script."""

from __future__ import annotations

from datetime import UTC, datetime
from io import BytesIO

from PIL import Image
from pypdf import PdfReader

from refit.paper.sheet import Column, Sheet

MOMENT = datetime(2026, 11, 25, 14, 0, tzinfo=UTC)


def a_sheet(size: str = "A4") -> Sheet:
    return Sheet(
        title="Custody receipt",
        boat="Sallow Tern",
        made="made Wed 25 Nov 14:00",
        moment=MOMENT,
        size="Letter" if size == "Letter" else "A4",
    )


def read(sheet: Sheet) -> PdfReader:
    return PdfReader(BytesIO(sheet.finish()))


def words(sheet: Sheet) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in read(sheet).pages)


def test_everything_put_on_a_sheet_is_on_it() -> None:
    sheet = a_sheet()
    sheet.sentence("The top frame left.")
    sheet.facts([("Piece", "Top frame"), ("Note", "")])
    sheet.heading("Conditions")
    sheet.table([Column("What"), Column("Parts", figures=True)], [["left", "4"]])
    sheet.caution("The data sheet decides.")
    sheet.ticks([("Straps", False), ("Lights", True)])
    sheet.signatures(["Handed over by", "Received by"])
    said = words(sheet)
    for text in (
        "Custody receipt", "Sallow Tern", "The top frame left.", "Piece", "Top frame", "Conditions",
        "What", "Parts", "The data sheet decides.", "☐", "☑", "Handed over by", "Received by",
        "page 1 of 1", "made Wed 25 Nov 14:00",
    ):  # fmt: skip
        assert text in said, text
    assert "Note" not in said


def test_a_long_table_says_its_head_on_every_page() -> None:
    sheet = a_sheet()
    sheet.table([Column("What"), Column("Said", 3)], [["row", "words " * 30]] * 60)
    pages = read(sheet).pages
    assert len(pages) > 2
    assert all("What" in page.extract_text() for page in pages)
    assert f"page 2 of {len(pages)}" in pages[1].extract_text()


def test_pictures_that_do_not_fit_go_to_the_next_page() -> None:
    content = BytesIO()
    Image.new("RGB", (800, 600), (90, 130, 150)).save(content, "JPEG")
    sheet = a_sheet()
    sheet.pictures([(content.getvalue(), f"picture {number}") for number in range(20)])
    pages = read(sheet).pages
    assert len(pages) > 1
    assert "picture 19" in pages[-1].extract_text()


def test_letters_of_other_scripts_are_written() -> None:
    sheet = a_sheet()
    sheet.sentence("Größe, Żagiel, Λέμβος, лодка, הערה")
    said = words(sheet)
    for text in ("Größe", "Żagiel", "Λέμβος", "лодка"):
        assert text in said


def test_both_sizes_of_paper() -> None:
    points = {size: read(a_sheet(size)).pages[0].mediabox for size in ("A4", "Letter")}
    # ISO 216: 210 by 297 mm; ANSI/ASME Y14.1 size A: 8.5 by 11 in. One point is 1/72 in.
    assert [round(float(x) * 25.4 / 72) for x in (points["A4"].width, points["A4"].height)] == [
        210, 297,
    ]  # fmt: skip
    assert [round(float(x) / 72, 2) for x in (points["Letter"].width, points["Letter"].height)] == [
        8.5, 11.0,
    ]  # fmt: skip


def test_the_same_contents_make_the_same_file() -> None:
    assert a_sheet().finish() == a_sheet().finish()
