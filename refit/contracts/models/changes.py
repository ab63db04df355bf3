"""Change orders: scope, money and days beyond what was agreed, and the owner's word on them.

The finding that a change order comes from is named by a lazy foreign key; what is decided about
findings is the business of `refit.quality`.
"""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from refit.work.models import Refit, WorkPackage

from .amounts import money


class ChangeState(models.TextChoices):
    DRAFT = "draft", "not sent yet"
    ASKED = "asked", "waits for the owner"
    APPROVED = "approved", "approved"
    DECLINED = "declined", "declined"
    WITHDRAWN = "withdrawn", "withdrawn"


class ChangeOrders(models.QuerySet["ChangeOrder"]):
    def waiting(self) -> ChangeOrders:
        """For the owner's word."""
        return self.filter(state=ChangeState.ASKED)


class ChangeOrder(models.Model):
    """Either a package outside the agreed scope is taken into it (``extra_minutes`` None), or a
    package of the scope takes so many more minutes of working time.

    ``launch_before`` … ``bill_after`` are what was announced: computed by planning (`prospects`)
    for ``announced_version`` of the refit, when the owner was asked.
    """

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="change_orders")
    code = models.CharField(max_length=20)
    title = models.CharField(max_length=160)
    reason = models.TextField()
    finding = models.ForeignKey(
        "quality.Finding", on_delete=models.SET_NULL, null=True, blank=True,
        related_name="change_orders",
    )  # fmt: skip
    package = models.ForeignKey(WorkPackage, on_delete=models.PROTECT, related_name="change_orders")
    extra_minutes = models.PositiveIntegerField("more working time", null=True, blank=True)
    price = models.DecimalField(max_digits=12, decimal_places=2)
    """Below zero where less is to be done."""
    price_basis = models.CharField("where the price comes from", max_length=160, blank=True)
    state = models.CharField(
        max_length=10, choices=ChangeState, default=ChangeState.DRAFT, editable=False
    )
    made_at = models.DateTimeField()
    decide_by = models.DateTimeField(null=True, blank=True)
    asked_at = models.DateTimeField(null=True, blank=True, editable=False)
    launch_before = models.DateTimeField(null=True, blank=True, editable=False)
    launch_after = models.DateTimeField(null=True, blank=True, editable=False)
    days = models.IntegerField(null=True, blank=True, editable=False)
    """Calendar days by which the launch moves."""
    bill_before = money(editable=False)
    bill_after = money(editable=False)
    announced_version = models.PositiveIntegerField(default=0, editable=False)

    objects = ChangeOrders.as_manager()

    class Meta:
        ordering = ["code"]
        constraints = [
            models.UniqueConstraint(fields=["refit", "code"], name="one_change_order_a_code"),
            models.UniqueConstraint(
                fields=["package"],
                condition=Q(extra_minutes=None) & ~Q(state__in=["declined", "withdrawn"]),
                name="a_package_comes_into_scope_once",
                violation_error_message="There is a change order for this package already.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.title}"

    @property
    def is_open(self) -> bool:
        return self.state in (ChangeState.DRAFT, ChangeState.ASKED)


class ConsentWay(models.TextChoices):
    PAGE = "page", "on the private page"
    TELEPHONE = "telephone", "by telephone"
    IN_PERSON = "in person", "in person"
    WRITING = "writing", "in writing"


class Consent(models.Model):
    """The owner's word on a change order, yes or no. Never altered, never removed: the database
    refuses.

    What California's boat repair law asks to be noted of an oral consent (Harbors and Navigation
    Code 410–418): date, time, name, telephone number called, the parts and the work, and the total.
    Other States and countries ask other things; local law decides.
    """

    change = models.OneToOneField(ChangeOrder, on_delete=models.PROTECT, related_name="consent")
    is_yes = models.BooleanField()
    given_at = models.DateTimeField()
    way = models.CharField(max_length=10, choices=ConsentWay)
    name = models.CharField(max_length=120)
    phone = models.CharField(max_length=40, blank=True)
    noted_by = models.CharField(max_length=120, blank=True)
    link = models.CharField(max_length=16, blank=True)
    what = models.TextField()
    price = models.DecimalField(max_digits=12, decimal_places=2)
    days = models.IntegerField(null=True, blank=True)
    launch_after = models.DateTimeField(null=True, blank=True)
    bill_after = money()
    note = models.TextField(blank=True)
    digest = models.CharField(max_length=64)

    class Meta:
        ordering = ["given_at", "id"]
        constraints = [
            models.CheckConstraint(
                name="a_telephone_consent_names_the_number",
                condition=~Q(way="telephone") | ~Q(phone=""),
                violation_error_message="Say which number was called.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.name} {'approved' if self.is_yes else 'declined'} {self.change.code}"
