"""The words in which a change order is put to the owner; what is kept as consented to."""

from __future__ import annotations

from refit.work.wording import say_count, say_day, say_money, say_working_time

from .models import ChangeOrder

THE_LAW = (
    "What is noted here is what California's boat repair law asks for (Harbors and Navigation Code"
    " 410–418): date, time, who, which number, what and how much. Your own law decides."
)


def say_days(days: int | None) -> str:
    """“the launch moves 3 days later”."""
    if days is None:
        return "what it does to the launch is not known"
    if not days:
        return "the launch stays where it is"
    return f"the launch moves {say_count(abs(days), 'day')} {'later' if days > 0 else 'earlier'}"


def change_text(change: ChangeOrder) -> str:
    """Whole, line by line. Nothing in it moves unless somebody announces other figures."""
    refit = change.refit
    lines = [f"Change order {change.code}: {change.title}", f"Why: {change.reason.strip()}"]
    if change.package.scope.strip() and change.extra_minutes is None:
        lines.append(f"What is done: {change.package.scope.strip()}")
    if change.extra_minutes is not None:
        said = say_working_time(change.extra_minutes, refit.hours_a_day)
        lines.append(f"{change.package.title} takes {said} more.")
    price = say_money(change.price, refit.currency)
    basis = f" ({change.price_basis})" if change.price_basis else ""
    lines.append(f"Price: {price}{basis}")
    said = say_days(change.days)
    if change.launch_after is not None:
        day = refit.local(change.launch_after).date()
        said += f", {say_day(day)} {day.year}"
    lines.append(f"Days: {said}")
    if change.bill_before is not None and change.bill_after is not None:
        lines.append(
            f"The bill: {say_money(change.bill_after, refit.currency)} instead of"
            f" {say_money(change.bill_before, refit.currency)}"
        )
    return "\n".join(lines) + "\n"
