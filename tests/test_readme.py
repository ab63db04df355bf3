"""The manual says what the code does."""

from pathlib import Path

from refit.interchange.writing import columns_as_markdown

README = Path(__file__).parent.parent / "README.md"


def test_the_manual_documents_every_column_of_the_sheets() -> None:
    assert columns_as_markdown().strip() in README.read_text()
