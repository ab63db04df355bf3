"""When goods must be ordered: one reckoning for the page, the cash and the reminders."""

from __future__ import annotations

from datetime import date, timedelta

from refit.work.models import Refit

from .models import Goods


def order_by_day(goods: Goods, needed: date, refit: Refit) -> date:
    """The last day to order what is needed on ``needed``, with the refit's margin."""
    return needed - timedelta(days=goods.lead_days + refit.goods_margin_days)
