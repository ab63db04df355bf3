"""Plans as they were computed: dates, moves, causes, and what could not be kept."""

from __future__ import annotations

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models

from refit.custody.models import Handoff
from refit.work.models import JournalEntry, Piece, Place, Refit, WorkPackage


class PlanState(models.TextChoices):
    CURRENT = "current", "current"
    EARLIER = "earlier", "replaced by a later one"


class Plans(models.QuerySet["Plan"]):
    def current(self, refit: Refit) -> Plan | None:
        """The plan that is shown; None before the first one."""
        return self.filter(refit=refit, state=PlanState.CURRENT).first()

    def earlier(self, refit: Refit) -> Plans:
        """Those replaced by a later one, the latest first."""
        return self.filter(refit=refit, state=PlanState.EARLIER).order_by("-computed_at", "-id")


class Plan(models.Model):
    """One answer of the planner. Exactly one a refit is current.

    ``refit_version`` is the version it was computed from: a lower number than the refit's means
    that a newer plan is on its way. ``trouble`` is a sentence when no plan could be made (a ring of
    dependencies, a contradiction); such a plan has no dates, and the last good one stays current.
    ``notes`` are sentences: first what could not be kept (bookings, deadlines, windows) with what
    can be done about it, then what the plan had to assume. ``launch_at`` is the finish of the
    launch package, or of everything if no package is the launch. ``seconds`` is what computing and
    storing took, without reading opening hours into calendars (mostly done once a process).
    """

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="plans")
    state = models.CharField(max_length=10, choices=PlanState, default=PlanState.CURRENT)
    refit_version = models.PositiveIntegerField()
    computed_at = models.DateTimeField()
    seconds = models.FloatField()
    launch_at = models.DateTimeField(null=True)
    finish_at = models.DateTimeField(null=True)
    driving = models.JSONField(default=list)
    """Codes of the packages that drive the launch, first to last."""
    because = models.TextField(blank=True)
    """Where the chain of the driving packages begins, as a sentence."""
    notes = models.JSONField(default=list, encoder=DjangoJSONEncoder)
    shortfalls = models.JSONField(default=list, encoder=DjangoJSONEncoder)
    """What could not be kept: objects with ``kind`` ("booking", "deadline", "window"), ``package``
    and, of a window, ``before`` (codes), ``wanted`` and ``got`` (moments)."""

    objects = Plans.as_manager()

    class Meta:
        ordering = ["-computed_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["refit"], condition=models.Q(state="current"), name="one_current_plan"
            )
        ]

    def __str__(self) -> str:
        return f"plan of {self.refit}, {self.computed_at:%Y-%m-%d %H:%M}"


class PlannedPackage(models.Model):
    """Dates of one package in one plan, why it starts then, and how long it may slip."""

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="packages")
    package = models.ForeignKey(WorkPackage, on_delete=models.CASCADE, related_name="planned")
    start = models.DateTimeField()
    work_finish = models.DateTimeField()
    finish = models.DateTimeField()
    slip_minutes = models.PositiveIntegerField(null=True)
    """Elapsed minutes it may start later without moving the launch; None if it does not matter."""
    slip_note = models.TextField(blank=True)
    """What it would run into first if it started later, and after how long; a sentence or empty."""
    drives = models.BooleanField(default=False)
    cause_kind = models.CharField(max_length=20, blank=True)
    cause = models.TextField(blank=True)
    """The one binding cause of its start, as a sentence that begins in lower case."""
    behind = models.CharField(max_length=20, blank=True)
    """Code of the package behind that cause; following it leads back to what nobody waits for."""

    class Meta:
        ordering = ["start", "id"]
        constraints = [
            models.UniqueConstraint(fields=["plan", "package"], name="planned_once_a_plan")
        ]

    def __str__(self) -> str:
        return f"{self.package.code} {self.start:%Y-%m-%d %H:%M}"


class PlannedMove(models.Model):
    """A piece must get from place to place; follows from the plan.

    Pieces that are on the boat while it moves have no moves of their own.
    """

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="moves")
    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="planned_moves")
    origin = models.ForeignKey(Place, on_delete=models.CASCADE, related_name="+")
    destination = models.ForeignKey(Place, on_delete=models.CASCADE, related_name="+")
    after_package = models.ForeignKey(
        WorkPackage, on_delete=models.CASCADE, null=True, related_name="+"
    )
    for_package = models.ForeignKey(
        WorkPackage, on_delete=models.CASCADE, null=True, related_name="+"
    )
    free_at = models.DateTimeField()
    depart = models.DateTimeField()
    arrive = models.DateTimeField()
    leave_by = models.DateTimeField(null=True)
    needed_at = models.DateTimeField(null=True)
    handoff = models.ForeignKey(Handoff, on_delete=models.SET_NULL, null=True, related_name="moves")
    """The handoff by which it is carried out."""

    class Meta:
        ordering = ["depart", "id"]

    def __str__(self) -> str:
        return f"{self.piece}, {self.origin} to {self.destination}"


class PlanTrouble(models.Model):
    """Why the last attempt gave no plan. Gone as soon as one succeeds."""

    refit = models.OneToOneField(Refit, on_delete=models.CASCADE, related_name="plan_trouble")
    refit_version = models.PositiveIntegerField()
    at = models.DateTimeField()
    sentence = models.TextField()
    codes = models.JSONField(default=list)

    def __str__(self) -> str:
        return self.sentence


class PlanSource(models.Model):
    """The refit document that a plan was computed from, as compressed JSON. Goes with its plan.

    Written and read by `refit.planning.ledger_sources`.
    """

    plan = models.OneToOneField(Plan, on_delete=models.CASCADE, related_name="source")
    document = models.BinaryField()

    def __str__(self) -> str:
        return f"what the {self.plan} was computed from"


class Baselines(models.QuerySet["Baseline"]):
    def chosen(self, refit: Refit) -> Baseline | None:
        """The one that others are compared with; None if none was kept."""
        return self.filter(refit=refit, is_chosen=True).first()


class Baseline(models.Model):
    """A plan that was kept under a name. It has rows of its own: no pruning, no later edit and no
    removed package changes it. ``computed_at``: when the plan was; ``kept_at``: when it was kept.
    """

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="baselines")
    name = models.CharField(max_length=80)
    note = models.CharField(max_length=240, blank=True)
    computed_at = models.DateTimeField()
    kept_at = models.DateTimeField()
    kept_by = models.CharField(max_length=120)
    launch_at = models.DateTimeField(null=True)
    ledger_window = models.PositiveIntegerField(default=0)
    """The last window of the delay ledger that had been written by then."""
    is_chosen = models.BooleanField(default=False)

    objects = Baselines.as_manager()

    class Meta:
        ordering = ["-kept_at", "-id"]
        constraints = [
            models.UniqueConstraint(fields=["refit", "name"], name="one_baseline_a_name"),
            models.UniqueConstraint(
                fields=["refit"], condition=models.Q(is_chosen=True), name="one_chosen_baseline"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class BaselinePackage(models.Model):
    """Dates and money of one package as they were kept; ``package`` is None once it is removed."""

    baseline = models.ForeignKey(Baseline, on_delete=models.CASCADE, related_name="packages")
    package = models.ForeignKey(
        WorkPackage, on_delete=models.SET_NULL, null=True, related_name="kept"
    )
    code = models.CharField(max_length=20)
    title = models.CharField(max_length=160)
    start = models.DateTimeField()
    work_finish = models.DateTimeField()
    finish = models.DateTimeField()
    budget = models.DecimalField(max_digits=12, decimal_places=2, null=True)
    agreed_price = models.DecimalField(max_digits=12, decimal_places=2, null=True)

    class Meta:
        ordering = ["start", "id"]

    def __str__(self) -> str:
        return f"{self.code} {self.title}"


class LedgerKind(models.TextChoices):
    """What moved the launch."""

    OPENED = "opened", "first plan"
    TIME = "time", "time passed, work not done"
    PROMISE = "promise", "a promised date"
    PROGRESS = "progress", "a report of progress"
    FINDING = "finding", "a finding became work"
    SCOPE = "scope", "work added, changed or dropped"
    ORDER = "order", "what waits for what"
    BOOKING = "booking", "an agreed date"
    HOURS = "hours", "opening hours or a closure"
    CREW = "crew", "our crew"
    PIECE = "piece", "where a piece is"
    SHEETS = "sheets", "an import"
    SETTINGS = "settings", "other settings"
    PLANNER = "planner", "the planner found another order"
    PENDING = "pending", "being told apart"
    SEVERAL = "several", "several things, not told apart"


class LedgerEntries(models.QuerySet["LedgerEntry"]):
    def last_of(self, refit: Refit) -> LedgerEntry | None:
        return self.filter(refit=refit).order_by("-position").first()


class LedgerEntry(models.Model):
    """One cause that moved the launch, from one moment to another.

    The entries of a refit are a chain in the order of ``position``: each begins where the one
    before ended. So their sum is the drift since the first, in elapsed time, in calendar days and
    in working days alike. The first has kind `OPENED` and moves nothing. ``party``: whose work or
    shop it was, empty if nobody's; ``actor``: who did what the journal says, empty for time.
    ``plan`` is the one that brought it, as long as that is kept.
    """

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="ledger")
    plan = models.ForeignKey(Plan, on_delete=models.SET_NULL, null=True, related_name="ledger")
    position = models.PositiveIntegerField()
    at = models.DateTimeField()
    kind = models.CharField(max_length=10, choices=LedgerKind)
    launch_before = models.DateTimeField()
    launch_after = models.DateTimeField()
    said = models.TextField()
    """What happened, a sentence without a full stop."""
    party = models.CharField(max_length=120, blank=True)
    actor = models.CharField(max_length=120, blank=True)
    package = models.ForeignKey(
        WorkPackage, on_delete=models.SET_NULL, null=True, related_name="ledger"
    )
    journal = models.ForeignKey(
        JournalEntry, on_delete=models.SET_NULL, null=True, related_name="+"
    )

    objects = LedgerEntries.as_manager()

    class Meta:
        ordering = ["position"]
        verbose_name_plural = "ledger entries"
        constraints = [
            models.UniqueConstraint(fields=["refit", "position"], name="ledger_is_a_chain")
        ]

    def __str__(self) -> str:
        return self.said


class WhatIf(models.Model):
    """A sandbox: changes that one user tries on one refit; nothing of it is in force.

    ``changes``: a list of objects with ``kind`` and its fields (`refit.planning.whatif_changes`).
    ``outcome``: both plans compared, as of ``outcome_version`` of the refit; None if not computed.
    """

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="what_ifs")
    user = models.ForeignKey("accounts.User", on_delete=models.CASCADE, related_name="+")
    changes = models.JSONField(default=list, encoder=DjangoJSONEncoder)
    outcome = models.JSONField(null=True, encoder=DjangoJSONEncoder)
    outcome_version = models.PositiveIntegerField(default=0)
    outcome_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["refit", "user"], name="one_what_if_each")]

    def __str__(self) -> str:
        return f"what {self.user} tries on {self.refit}"


class SearchState(models.TextChoices):
    WAITING = "waiting", "waiting to begin"
    RUNNING = "running", "looking"
    FOUND = "found", "an earlier launch was found"
    NOTHING = "nothing", "nothing better was found"
    OVERTAKEN = "overtaken", "the refit was changed meanwhile"
    DIED = "died", "it broke off"


LIVE = (SearchState.WAITING, SearchState.RUNNING)


class PlanSearches(models.QuerySet["PlanSearch"]):
    def live(self) -> PlanSearches:
        """Those that are to end yet, dead ones that nobody has buried among them."""
        return self.filter(state__in=LIVE)

    def newest(self, refit: Refit) -> PlanSearch | None:
        return self.filter(refit=refit).order_by("-id").first()


class PlanSearch(models.Model):
    """One search for an earlier launch, asked for by somebody; written by `planning.searching`.

    ``lease_until``: whoever carries it out renews it; past that, they have died. ``launch_before``
    is that of ``plan_before``, from which it starts; ``launch_at`` the best so far, ``bound_at``
    the moment before which no launch can be, as far as is known. ``moved``, once a plan was found:
    objects with ``code``, ``title``, ``before`` and ``after`` (the starts), those that move most
    first. ``said``: how it ended, where the state alone does not say it.
    """

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="searches")
    refit_version = models.PositiveIntegerField()
    plan_before = models.ForeignKey(Plan, on_delete=models.SET_NULL, null=True, related_name="+")
    plan_after = models.ForeignKey(Plan, on_delete=models.SET_NULL, null=True, related_name="+")
    asked_by = models.CharField(max_length=120)
    asked_at = models.DateTimeField()
    limit_seconds = models.PositiveIntegerField()
    state = models.CharField(max_length=10, choices=SearchState, default=SearchState.WAITING)
    lease_until = models.DateTimeField()
    stop_wanted = models.BooleanField(default=False)
    ended_at = models.DateTimeField(null=True)
    seconds = models.FloatField(default=0)
    launch_before = models.DateTimeField()
    launch_at = models.DateTimeField()
    bound_at = models.DateTimeField(null=True)
    proved = models.BooleanField(default=False)
    missed_before = models.PositiveIntegerField(default=0)
    missed = models.PositiveIntegerField(default=0)
    moved = models.JSONField(default=list, encoder=DjangoJSONEncoder)
    said = models.CharField(max_length=400, blank=True)

    objects = PlanSearches.as_manager()

    class Meta:
        ordering = ["-id"]
        verbose_name_plural = "plan searches"
        constraints = [
            models.UniqueConstraint(
                fields=["refit"],
                condition=models.Q(state__in=["waiting", "running"]),
                name="one_search_at_a_time",
            )
        ]

    def __str__(self) -> str:
        return f"search for a plan of {self.refit}, {self.asked_at:%Y-%m-%d %H:%M}"

    @property
    def is_live(self) -> bool:
        return self.state in LIVE


class PlanRisk(models.Model):
    """How sure the launch of one plan is, from `runs` runs of it. Written by `planning.risk`.

    ``p10`` … ``p90``: the moment by which that many runs of a hundred are afloat. ``wanted_share``:
    the share of runs afloat by the end of the day wanted, None if none was wanted. ``drives``: by
    code of the package, the share of runs in which it drives the launch, those without left out.
    ``promises``: objects with ``code``, ``vendor``, ``gain`` (elapsed minutes that the launch comes
    earlier on average if this return is never late) and ``drives`` (share of runs in which its
    lateness drives the launch), the one that matters most first. ``bases``: objects with
    ``vendor`` and ``returns``, the returns on record that its lateness rests on, 0 if assumed.
    """

    plan = models.OneToOneField(Plan, on_delete=models.CASCADE, related_name="risk")
    runs = models.PositiveIntegerField()
    p10 = models.DateTimeField()
    p50 = models.DateTimeField()
    p80 = models.DateTimeField()
    p90 = models.DateTimeField()
    mean = models.DateTimeField()
    wanted_share = models.FloatField(null=True)
    drives = models.JSONField(default=dict)
    promises = models.JSONField(default=list)
    bases = models.JSONField(default=list)
    seconds = models.FloatField()

    def __str__(self) -> str:
        return f"how sure the {self.plan} is"


class Prospect(models.Model):
    """What a quote or a change order that is not decided would do to the launch and the bill.

    Good for one ``refit_version`` and one ``stamp`` (the digest of its terms); see `prospects`.
    """

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="prospects")
    kind = models.CharField(max_length=10)
    subject_id = models.BigIntegerField()
    refit_version = models.PositiveIntegerField()
    stamp = models.CharField(max_length=64)
    computed_at = models.DateTimeField()
    launch_before = models.DateTimeField(null=True)
    launch_after = models.DateTimeField(null=True)
    days = models.IntegerField(null=True)
    bill_before = models.DecimalField(max_digits=14, decimal_places=2)
    bill_after = models.DecimalField(max_digits=14, decimal_places=2)
    trouble = models.TextField(blank=True)
    """Why it cannot be done, or not planned, as sentences."""

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["kind", "subject_id"], name="one_prospect_a_thing")
        ]

    def __str__(self) -> str:
        return f"prospect of {self.kind} {self.subject_id}"
