"""Writes of `refit.contracts`. Only what the plan depends on raises the refit's version."""

from .changes import (
    Announcement,
    Word,
    ask_owner,
    carry_out,
    decide_change,
    make_change,
    withdraw_change,
)
from .orders import (
    Part,
    Terms,
    TextMoved,
    agree_order,
    agreement_of,
    change_terms,
    end_order,
    make_order,
)
from .payments import log_hours, note_payment, take_back_payment
from .quotes import (
    Answer,
    accept_quote,
    answer_inquiry,
    ask_for_quotes,
    close_inquiry,
    pass_on_inquiry,
)

__all__ = [
    "Announcement",
    "Answer",
    "Part",
    "Terms",
    "TextMoved",
    "Word",
    "accept_quote",
    "agree_order",
    "agreement_of",
    "answer_inquiry",
    "ask_for_quotes",
    "ask_owner",
    "carry_out",
    "change_terms",
    "close_inquiry",
    "decide_change",
    "end_order",
    "log_hours",
    "make_change",
    "make_order",
    "note_payment",
    "pass_on_inquiry",
    "take_back_payment",
    "withdraw_change",
]
