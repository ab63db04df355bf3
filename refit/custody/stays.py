"""Which packages a vendor does on a piece during one stay, and what “ready” means for them.

Only reading and reckoning; ``services.py`` writes.

A piece can be at the same shop twice. A handoff out of the shop ends one stay: only the packages
of that stay are promised or finished with it, never those of the next one.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db.models import Q

from refit.work.models import Dependency, WorkPackage

from .models import Handoff, HandoffState


def packages_of_stay(handoff: Handoff) -> list[WorkPackage]:
    """Unfinished packages of the vendor of the origin that use the piece there, in this stay.

    The one after which the piece leaves comes first. Empty where the origin is nobody's shop: our
    own crew says itself when it has finished something.
    """
    if handoff.origin.vendor_id is None:
        return []
    candidates = list(
        WorkPackage.objects.filter(
            vendor_id=handoff.origin.vendor_id,
            place_id=handoff.origin_id,
            finished_at=None,
            piece_uses__piece_id=handoff.piece_id,
        )
    )
    last = [package for package in candidates if package.pk == handoff.after_package_id]
    others = [package for package in candidates if package.pk != handoff.after_package_id]
    if not others:
        return last
    next_stay = _packages_of_later_stays(handoff)
    return last + [package for package in others if package.pk not in next_stay]


def _packages_of_later_stays(handoff: Handoff) -> set[int]:
    """Ids that belong to a later stay of the piece at the same place, with all that follows them.

    Later are: what a handoff back to this place is for, what another handoff out of here comes
    after (unless it comes before this one's package), and all that waits for this one's package.
    """
    waiting: dict[int, set[int]] = {}
    for before, after in Dependency.objects.filter(refit_id=handoff.refit_id).values_list(
        "before_id", "after_id"
    ):
        waiting.setdefault(before, set()).add(after)

    def following(ids: Iterable[int]) -> set[int]:
        seen: set[int] = set()
        ahead = list(ids)
        while ahead:
            for after in waiting.get(ahead.pop(), ()):
                if after not in seen:
                    seen.add(after)
                    ahead.append(after)
        return seen

    starts: set[int] = set()
    others = (
        Handoff.objects.open()
        .filter(piece_id=handoff.piece_id)
        .exclude(pk=handoff.pk)
        .filter(Q(destination_id=handoff.origin_id) | Q(origin_id=handoff.origin_id))
    )
    for other in others:
        if other.destination_id == handoff.origin_id and other.for_package_id:
            starts.add(other.for_package_id)
        elif other.origin_id == handoff.origin_id and other.after_package_id:
            before_this_one = handoff.after_package_id in following([other.after_package_id])
            if not before_this_one and other.after_package_id != handoff.after_package_id:
                starts.add(other.after_package_id)
    last = {handoff.after_package_id} if handoff.after_package_id else set()
    return (starts | following(starts | last)) - last


def others_still_in_work(handoff: Handoff, package: WorkPackage) -> bool:
    """Whether another piece of the package is at the same place and not yet said to be ready."""
    return (
        Handoff.objects.filter(
            state=HandoffState.PLANNED, origin_id=handoff.origin_id, after_package=package
        )
        .exclude(pk=handoff.pk)
        .filter(piece__place_id=handoff.origin_id)
        .exists()
    )


def latest_promise(handoff: Handoff, package: WorkPackage, at: datetime) -> datetime:
    """The latest date promised for any piece of the package that leaves this place."""
    promises = (
        Handoff.objects.filter(
            state=HandoffState.PLANNED,
            origin_id=handoff.origin_id,
            after_package=package,
            promised_at__isnull=False,
        )
        .exclude(pk=handoff.pk)
        .values_list("promised_at", flat=True)
    )
    return max([at, *(promise for promise in promises if promise is not None)])


def end_of_work(package: WorkPackage, ready: datetime) -> datetime:
    """When the work ended if the piece can be collected at ``ready``.

    Ready to collect means that the hold (the cure) is over too, so the work ended a hold earlier.
    """
    return ready - timedelta(minutes=package.hold_minutes)


def start_and_end(
    package: WorkPackage, *, ready: datetime, arrived: datetime | None
) -> tuple[datetime, datetime]:
    """Actual start and finish of a package whose pieces can be collected at ``ready``.

    A start that nobody noted is when the piece arrived, or else the finish itself.
    """
    ended = end_of_work(package, ready)
    started = package.started_at or min(arrived or ended, ended)
    return started, max(ended, started)
