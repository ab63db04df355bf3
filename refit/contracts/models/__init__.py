"""What is agreed for money: quotes, work orders, change orders, goods, payments, hours."""

from .changes import ChangeOrder, ChangeState, Consent, ConsentWay
from .goods import Goods
from .money import LoggedHours, Payment
from .orders import Agreement, Basis, Instalment, WorkOrder
from .quotes import Inquiry, Quote, QuoteState

__all__ = [
    "Agreement",
    "Basis",
    "ChangeOrder",
    "ChangeState",
    "Consent",
    "ConsentWay",
    "Goods",
    "Inquiry",
    "Instalment",
    "LoggedHours",
    "Payment",
    "Quote",
    "QuoteState",
    "WorkOrder",
]
