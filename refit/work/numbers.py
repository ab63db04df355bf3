"""Decimals as people type them, with point or comma, with or without groups of thousands."""

from __future__ import annotations

import re
from decimal import Decimal

from .wording import say_typed

_GROUPED = re.compile(r"-?\d{1,3}(?:[ \u00a0\u202f'’]\d{3})+(?=$|[.,])")


class UnreadableNumber(ValueError):
    """The text is no number, or could be two; the message is a sentence for whoever typed it."""


def read_number(text: str) -> Decimal:
    """A decimal. Raises `UnreadableNumber`, also where a comma can be read in two ways."""
    number = text.strip().replace("−", "-")
    if _GROUPED.match(number):
        number = re.sub(r"[ \u00a0\u202f'’]", "", number)
    if re.fullmatch(r"-?[1-9]\d{0,2}(,\d{3})+\.\d+", number, re.ASCII):
        number = number.replace(",", "")
    elif re.fullmatch(r"-?[1-9]\d{0,2}(\.\d{3})+,\d+", number, re.ASCII):
        number = number.replace(".", "").replace(",", ".")
    elif re.fullmatch(r"-?[1-9]\d{0,2}(,\d{3})+", number, re.ASCII):
        raise UnreadableNumber(
            f"{say_typed(text)} can be read in two ways; write it without a comma, "
            f"as {number.replace(',', '')} or {number.replace(',', '.', 1)}."
        )
    elif number.count(",") == 1 and "." not in number:
        number = number.replace(",", ".")
    if not re.fullmatch(r"-?(\d{1,20}(\.\d*)?|\.\d+)", number, re.ASCII) or len(number) > 40:
        raise UnreadableNumber(f"{say_typed(text)} is not a number.")
    return Decimal(number)
