"""What if: changes tried on a refit without touching it, then applied or thrown away.

The sandbox is a transaction that is rolled back: the changes are written by the services that
would write them for good, the document is read, and everything is undone. Both documents are
planned as of the same moment, from the same plan before, and compared. Nobody else ever sees
those rows, and the plan of the refit stays as it is.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import TypeVar

from django.db import transaction

from refit.accounts.models import User
from refit.interchange.document import RefitDocument
from refit.interchange.export import export_refit
from refit.nudges import nudge
from refit.work.models import Actor, Refit
from refit.work.wording import say_count

from .agreed import agreed_part
from .baselines_yardstick import Yardstick
from .models import Plan, WhatIf
from .solve import Dates, NoPlan, Solved, solve
from .whatif_changes import Change, Impossible, Writing
from .whatif_compare import Outcome, Side, compare

Read = TypeVar("Read")

MOST = 30
"""Changes in one sandbox."""
SOON_OLD = timedelta(hours=1)
"""How long a comparison is good for while nothing changes: time passes in both plans alike."""
PATIENCE = 2.0
"""Seconds of planning that somebody waits for; what takes longer is left to the worker."""


class Outdated(Exception):
    """The refit has changed since the comparison was made: look at the new one first."""


class CannotApply(Exception):
    """The changes cannot be made; the message is a sentence."""


def sandbox_of(refit: Refit, user: User) -> WhatIf:
    """The sandbox of this user, unsaved if there is none yet."""
    found = WhatIf.objects.filter(refit=refit, user=user).first()
    sandbox = found or WhatIf(refit=refit, user=user)
    sandbox.refit = refit
    return sandbox


def try_change(sandbox: WhatIf, change: Change) -> None:
    """Add a change to the sandbox. Raises CannotApply when it is full."""
    with transaction.atomic():
        locked = _locked(sandbox)
        if len(locked.changes) >= MOST:
            raise CannotApply(
                f"{say_count(MOST, 'change')} at once are enough: apply or discard them."
            )
        _set(sandbox, locked, [*locked.changes, change | {"id": secrets.token_hex(4)}])


def take_out(sandbox: WhatIf, change_id: str) -> None:
    """Take one change out again; nothing happens if it is not there."""
    with transaction.atomic():
        locked = _locked(sandbox)
        _set(sandbox, locked, [one for one in locked.changes if one["id"] != change_id])


def _locked(sandbox: WhatIf) -> WhatIf:
    """The stored row, made if there is none: two windows of one user must not undo each other."""
    made, _ = WhatIf.objects.get_or_create(refit=sandbox.refit, user_id=sandbox.user_id)
    return WhatIf.objects.select_for_update().get(pk=made.pk)


def _set(sandbox: WhatIf, locked: WhatIf, changes: list[Change]) -> None:
    locked.changes, locked.outcome = changes, None
    locked.save(update_fields=["changes", "outcome"])
    sandbox.pk, sandbox.changes, sandbox.outcome = locked.pk, changes, None
    sandbox._state.adding = False


def discard(sandbox: WhatIf) -> None:
    """Throw all of it away."""
    WhatIf.objects.filter(refit=sandbox.refit, user_id=sandbox.user_id).delete()


def is_current(sandbox: WhatIf, now: datetime) -> bool:
    """Whether the comparison kept is one of the refit as it is now."""
    return (
        sandbox.outcome is not None
        and sandbox.outcome_at is not None
        and sandbox.outcome_version == sandbox.refit.version
        and sandbox.outcome_at > now - SOON_OLD
        and sandbox.refit.today(sandbox.outcome_at) == sandbox.refit.today(now)
    )


def work_out(sandbox: WhatIf, *, actor: Actor, now: datetime) -> bool:
    """Compare anew and keep the comparison, at once if planning is quick; else the worker does it.

    False if it was left to the worker.
    """
    plan = Plan.objects.current(sandbox.refit)
    if plan is not None and 2 * plan.seconds > PATIENCE:
        from .tasks import work_out_what_if

        nudge(work_out_what_if, sandbox.pk)
        return False
    work_out_now(sandbox, actor=actor, now=now)
    return True


def work_out_now(sandbox: WhatIf, *, actor: Actor, now: datetime) -> Outcome:
    """Compare anew, and keep the comparison."""
    refit = Refit.objects.get(pk=sandbox.refit.pk)
    plan = Plan.objects.current(refit)
    dates: Dates = (
        []
        if plan is None
        else list(plan.packages.values_list("package__code", "start", "work_finish", "finish"))
    )
    version = refit.version
    before_document = export_refit(refit)
    after_document, problems = _in_the_sandbox(refit, plan, sandbox.changes, actor, now)
    before = _side(before_document, now, dates)
    after = _side(after_document, now, dates)
    outcome = compare(before, after, _yardstick(refit, before, after), now=now)
    outcome["problems"] = problems
    sandbox.outcome, sandbox.outcome_version, sandbox.outcome_at = outcome, version, now
    if sandbox.pk is not None:  # the user may have changed or discarded it meanwhile
        WhatIf.objects.filter(pk=sandbox.pk, changes=sandbox.changes).update(
            outcome=outcome, outcome_version=version, outcome_at=now
        )
    return outcome


class _Undo(Exception):
    """Ends the transaction that is the sandbox."""


def _in_the_sandbox(
    refit: Refit, plan: Plan | None, changes: list[Change], actor: Actor, now: datetime
) -> tuple[RefitDocument, dict[str, str]]:
    """The document with the changes, and for those that cannot be made, by id, the reason."""
    problems: dict[str, str] = {}

    def write() -> None:
        writing = Writing(Refit.objects.get(pk=refit.pk), actor, now, plan)
        for change in changes:
            try:
                with transaction.atomic():
                    writing.write(change)
            except Impossible as reason:
                problems[change["id"]] = str(reason)

    return sandboxed(refit, write, export_refit), problems


def sandboxed(refit: Refit, write: Callable[[], object], read: Callable[[Refit], Read]) -> Read:
    """What ``read`` finds after ``write``; whatever was written is undone."""
    found: list[Read] = []
    try:
        with transaction.atomic():
            write()
            found.append(read(refit))
            raise _Undo
    except _Undo:
        pass
    return found[0]


def _side(document: RefitDocument, now: datetime, dates: Dates) -> Side:
    document = agreed_part(document)
    try:
        return Side(document, solve(document, now, dates))
    except NoPlan as reason:
        return Side.failed(document, reason)


def _yardstick(refit: Refit, *sides: Side) -> Yardstick | None:
    moments = [m for side in sides if side.solved is not None for m in _moments(side.solved)]
    return Yardstick(refit, min(moments), max(moments)) if moments else None


def _moments(solved: Solved) -> list[datetime]:
    moment = solved.built.clock.moment
    return [
        moment(minutes)
        for answer in solved.answers.values()
        for minutes in (answer.planned.start, answer.planned.finish)
    ]


def apply_what_if(sandbox: WhatIf, *, actor: Actor, now: datetime) -> int:
    """Make the changes for good, all or none, and empty the sandbox; how many there were.

    Raises Outdated if the refit is not what was compared, CannotApply if a change is impossible or
    nothing could be planned with them. The caller plans anew.
    """
    outcome = sandbox.outcome
    if outcome is None or not sandbox.changes:
        raise CannotApply("There is nothing to apply.")
    if outcome["problems"]:
        raise CannotApply("Take out what cannot be done first.")
    if outcome["trouble"] and not outcome["trouble_before"]:
        raise CannotApply("With these changes no plan can be made: " + " ".join(outcome["trouble"]))
    refit = Refit.objects.get(pk=sandbox.refit.pk)
    if refit.version != sandbox.outcome_version:
        raise Outdated
    with transaction.atomic():
        writing = Writing(refit, actor, now, Plan.objects.current(refit))
        for change in sandbox.changes:
            try:
                writing.write(change)
            except Impossible as reason:
                raise CannotApply(f"{change['said']}: {reason}") from reason
        # Nobody else can raise the version from the first write on; before it somebody may have.
        refit.refresh_from_db(fields=["version"])
        if refit.version != sandbox.outcome_version + writing.versions:
            raise Outdated
        discard(sandbox)
    sandbox.refit.version = refit.version
    return len(sandbox.changes)
