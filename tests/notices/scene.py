"""A refit with one manager, one vendor who holds a frame, and what tests of notices do with it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from refit.accounts.models import User
from refit.custody.models import Handoff
from refit.notices.picture import look
from refit.notices.planner import plan_notices
from refit.notices.sending import sweep
from refit.notices.services import write_notices
from refit.notices.things import Thing
from refit.planning.models import Plan, PlanState
from refit.work.models import Piece, Place, Refit, Vendor
from tests.builders import NOW, a_handoff, a_member, a_package, a_piece, a_place, a_refit, a_vendor


@dataclass
class Scene:
    refit: Refit
    manager: User
    vendor: Vendor
    shed: Place
    shop: Place
    frame: Piece

    def handoff(self, due_at: datetime, **fields: Any) -> Handoff:
        """The frame shall come back from the vendor."""
        return a_handoff(self.frame, self.shop, self.shed, due_at=due_at, **fields)

    def plan(self, launch_at: datetime, computed_at: datetime = NOW) -> Plan:
        """A current plan with that launch; the one before it is earlier."""
        Plan.objects.filter(refit=self.refit).update(state=PlanState.EARLIER)
        return Plan.objects.create(
            refit=self.refit,
            refit_version=self.refit.version,
            computed_at=computed_at,
            seconds=0.01,
            launch_at=launch_at,
        )

    def things(self, now: datetime = NOW) -> list[Thing]:
        return plan_notices(look(self.refit, now))

    def write(self, now: datetime = NOW) -> int:
        return write_notices(refit=self.refit, now=now)

    def pass_time(self, start: datetime, end: datetime, minutes: int = 10) -> None:
        """Let the schedule run, every so many minutes."""
        now = start
        while now <= end:
            moment = now
            write_notices(refit=self.refit, now=moment)
            sweep(clock=lambda: moment)  # noqa: B023
            now += timedelta(minutes=minutes)


def a_scene(zone: str = "UTC") -> Scene:
    refit = a_refit(time_zone=zone)
    manager = a_member(refit, name="Runa Ostlund")
    vendor = a_vendor(
        refit,
        name="Brackwater Metalwork",
        contact="Jory Penhale",
        phone="01632 960114",
        email="shop@brackwater.example",
    )
    shed = a_place(refit, name="Our shed", kind="home", phone="01632 960100")
    shop = a_place(refit, name="Brackwater yard", vendor=vendor)
    frame = a_piece(refit, tag="ST-07", name="Windshield frame", place=shop)
    return Scene(refit, manager, vendor, shed, shop, frame)


__all__ = ["NOW", "Scene", "a_package", "a_scene"]
