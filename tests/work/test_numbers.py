"""Decimals as people type them."""

from __future__ import annotations

from decimal import Decimal

import pytest

from refit.work.numbers import UnreadableNumber, read_number


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("1250", "1250"),
        ("1250.50", "1250.5"),
        ("1250,50", "1250.5"),
        ("12,5", "12.5"),
        ("1,250.75", "1250.75"),
        ("1.250,75", "1250.75"),
        ("1 250,75", "1250.75"),
        ("1\u202f250", "1250"),
        ("1250,500", "1250.5"),
        ("0,125", "0.125"),
        ("-6.77", "-6.77"),
        ("−6,77", "-6.77"),
        (".5", "0.5"),
    ],
)
def test_numbers_are_read_with_point_or_comma(text: str, number: str) -> None:
    assert read_number(text) == Decimal(number)


def test_a_comma_before_three_digits_is_not_guessed_at() -> None:
    with pytest.raises(UnreadableNumber) as caught:
        read_number("1,250")
    assert str(caught.value) == (
        "“1,250” can be read in two ways; write it without a comma, as 1250 or 1.250."
    )


@pytest.mark.parametrize("text", ["", "twelve", "1e5", "NaN", "1,2,3", "--4", "٣", "9" * 50])
def test_what_is_no_number_is_refused(text: str) -> None:
    with pytest.raises(UnreadableNumber, match="is not a number"):
        read_number(text)
