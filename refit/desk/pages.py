"""What every page of the desk shares: who may open it, its refit, its zone, its frame.

A view below the desk looks like this, decorators always in this order::

    @require_safe                      # or require_POST, require_http_methods
    @manager_page()                    # everybody of the refit looks, managers change
    def packages(request: DeskRequest, refit: Refit) -> HttpResponse: ...

``manager_page(Role.CREW)`` lets the crew change as well; ``manager_page(only=True)`` keeps even
looking to those who may change (pages that are nothing but a form). What is on a page and what
an act does is not here.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from functools import cached_property, wraps
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from refit.accounts.models import Membership, Role, User
from refit.planning.models import Plan, PlanState, PlanTrouble
from refit.work.models import Actor, Refit


class Desk:
    """One member at one refit at one moment; templates know it as ``request.desk``.

    Each query runs when first asked for, so a page pays only for what it shows.
    """

    def __init__(self, *, refit: Refit, user: User, role: Role, now: datetime) -> None:
        self.refit = refit
        self.user = user
        self.role = role
        self.now = now
        self.may_change = role == Role.MANAGER
        self.may_report = role in (Role.MANAGER, Role.CREW)
        """May record progress and handoffs."""

    @cached_property
    def today(self) -> Any:
        return self.refit.today(self.now)

    @property
    def week(self) -> int:
        """Week of the refit, counted from its first day; 0 or less before it."""
        return int((self.today - self.refit.start) // timedelta(days=7)) + 1

    @cached_property
    def plan(self) -> Plan | None:
        """The plan that this page shows; None when there never was one."""
        current = Plan.objects.filter(refit=self.refit, state=PlanState.CURRENT)
        return current.select_related("risk").first()

    @cached_property
    def trouble(self) -> PlanTrouble | None:
        """Why the last attempt gave no plan, if it gave none."""
        try:
            return self.refit.plan_trouble
        except PlanTrouble.DoesNotExist:
            return None

    @property
    def is_fresh(self) -> bool:
        """Nothing has changed since the plan shown was computed."""
        return self.plan is not None and self.plan.refit_version >= self.refit.version

    @property
    def is_waiting(self) -> bool:
        """A newer plan is being computed: there is none yet of this version, and no refusal."""
        refused = self.trouble is not None and self.trouble.refit_version >= self.refit.version
        return not self.is_fresh and not refused

    def forget_plan(self) -> None:
        """After a change: read the plan again when it is next asked for."""
        self.__dict__.pop("plan", None)
        self.__dict__.pop("trouble", None)


class DeskRequest(HttpRequest):
    """A request that passed `manager_page`."""

    desk: Desk
    user: User


def actor_of(request: DeskRequest) -> Actor:
    """The signed-in member as the journal names them."""
    return Actor(
        name=request.user.name or request.user.email,
        side="manager" if request.desk.role == Role.MANAGER else "crew",
        user_id=request.user.pk,
    )


def manager_page(
    *also: Role, only: bool = False
) -> Callable[[Callable[..., HttpResponse]], Callable[..., HttpResponse]]:
    """Open a page of one refit (``slug`` in its path) to its members; to others it does not exist.

    Managers may change; the roles in ``also`` too; all others get 403 with a sentence. The view
    receives the refit in place of the slug, runs in the refit's zone and finds `Desk` at
    ``request.desk``.
    """
    may_change = {Role.MANAGER, *also}

    def decorate(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
        @login_required
        @wraps(view)
        def page(request: DeskRequest, slug: str, *args: Any, **kwargs: Any) -> HttpResponse:
            membership = (
                Membership.objects.filter(user=request.user, refit__slug=slug)
                .select_related("refit__boat", "refit__plan_trouble")
                .first()
            )
            if membership is None:
                raise Http404
            refit: Refit = membership.refit
            role = Role(membership.role)
            request.desk = Desk(refit=refit, user=request.user, role=role, now=timezone.now())
            with timezone.override(refit.zone):
                if role not in may_change and (only or request.method not in ("GET", "HEAD")):
                    return render(request, "desk/not_yours.html", {"refit": refit}, status=403)
                return view(request, refit, *args, **kwargs)

        return page

    return decorate
