"""Who is told what, and when: the one place that decides it.

Pure: from a `Picture` to `Thing`s. It is asked every minute, and once more just before a letter
goes: what it does not say then is no longer true, and is not told. So each rule states a condition
on the present, never an event that passes between two looks.

Rules by the file they stand in. ``rules_pieces``:

1. *Due back soon*: two days before, on Friday for a date on a weekend's far side: vendor, manager.
2. *Overdue*: when the time has passed, again after 1, 3, 7 days, then weekly: vendor, manager.
3. *Ready to collect*: at once: manager, crew.
4. *Coming to you*: two days before, as for what is due back; when it leaves, at once: vendor.

``rules_packages``:

5. *Booking tomorrow*: the morning before: vendor, manager.
6. *Booking to confirm*: 14, 7, 3 days and a day before, while nobody at the shop has agreed to it:
   vendor, manager. Not while an answer to the invitation stands, and the vendor not in the two
   days after the invitation went.
7. *Hold ended*: the morning of that day: manager, crew.

``rules_requests``:

12. *Invitation to a booking*: at once when it is booked, moved or taken back: vendor.

``rules_decisions``:

8. *Decision waiting*: the next morning, again after 3, 7 days, then weekly; on the last day at
   once: manager; the owner, where the owner is asked.

``rules_plan``:

9. *Promise changed*: at once, with what it does to the launch: manager.
10. *Launch moved*: the next morning: owner, manager.
11. *No plan could be made*: at once, when it stays so for ten minutes: manager.

``rules_papers``:

12. *Insurance running out*: 14, 7, 3 days and a day before a cover ends too soon, then weekly:
    vendor, manager.

``rules_money``:

13. *Quote running out*: 7, 3 days and a day before: manager.
14. *Goods to order*: 7, 3 days and a day before the last day to order, that day, then after 1, 3, 7
    days, then weekly: manager.
15. *Change order waiting*: at once, again after 2, 5 days, then weekly: owner; the manager in the
    digest.

“At once” waits for the morning in the quiet hours. What a person wishes otherwise comes last, for
all rules alike (``wishes.py``), and so does that mail to a dead address is not written. The other
intervals are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from refit.work.dates import USUAL, dates_in

from . import (
    rules_decisions,
    rules_money,
    rules_packages,
    rules_papers,
    rules_pieces,
    rules_plan,
    rules_requests,
)
from .picture import Picture
from .things import Thing

RULES: tuple[Callable[[Picture], Iterator[Thing]], ...] = (
    rules_pieces.due_soon,
    rules_pieces.overdue,
    rules_pieces.ready,
    rules_pieces.coming,
    rules_packages.booking_tomorrow,
    rules_packages.booking_to_confirm,
    rules_packages.hold_ended,
    rules_requests.booking_request,
    rules_decisions.decision_waiting,
    rules_plan.promise_changed,
    rules_plan.launch_moved,
    rules_plan.no_plan,
    rules_papers.insurance_running_out,
    rules_money.quote_running_out,
    rules_money.goods_to_order,
    rules_money.change_waiting,
)


def plan_notices(picture: Picture) -> list[Thing]:
    """All there is to tell now or by the next morning or two, whether told already or not, as
    those who are told wish it."""
    wishes = picture.wishes
    things: list[Thing] = []
    for language in sorted({USUAL, *wishes.languages.values()}):
        with dates_in(language):
            things += [
                thing
                for rule in RULES
                for thing in rule(picture)
                if wishes.language(thing.person.key) == language
                and thing.person.email.lower() not in picture.dead
            ]
    return wishes.apply(things, picture.refit)
