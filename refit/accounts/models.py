"""Users, their part in a refit, and private links: who may see what.

The refit and the vendor are named by lazy foreign keys (``"work.Refit"``): the code here knows
nothing of them, only the database looks up the chain, for integrity.
"""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime, timedelta
from typing import Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models.functions import Cast, Lower
from django.utils import timezone


class UserAccounts(BaseUserManager["User"]):
    def create_user(self, email: str, password: str | None = None, **fields: Any) -> User:
        user = self.model(email=self.normalize_email(email).strip(), **fields)
        user.set_password(password)
        user.full_clean(exclude=["password"])
        user.save(using=self._db)
        return user

    def get_by_natural_key(self, username: str | None) -> User:
        return self.get(email__iexact=username)


class User(AbstractBaseUser):
    """Somebody with a password: a manager or one of the crew."""

    email = models.EmailField("e-mail address", unique=True)
    name = models.CharField(max_length=120)
    is_active = models.BooleanField(default=True)
    created_at = models.DateTimeField(default=timezone.now, editable=False)

    USERNAME_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]

    objects: ClassVar[UserAccounts] = UserAccounts()

    class Meta:
        constraints = [
            models.UniqueConstraint(Lower("email"), name="one_account_an_address"),
        ]

    def __str__(self) -> str:
        return self.name or self.email


class SecondFactor(models.Model):
    """The secret that a person's authenticator app shares with us (RFC 6238, six digits, 30 s).

    Asked for at sign-in once ``confirmed_at`` is set. ``last_step`` is the time step of the latest
    code that was taken: a code is good once. The secret has to be kept as it is, because codes are
    computed from it; who can read the database can compute them.
    """

    user = models.OneToOneField(User, on_delete=models.CASCADE, related_name="second_factor")
    secret = models.CharField(max_length=64)
    made_at = models.DateTimeField()
    confirmed_at = models.DateTimeField(null=True, blank=True)
    last_step = models.BigIntegerField(default=0)

    def __str__(self) -> str:
        return f"second factor of {self.user}"


class RecoveryCode(models.Model):
    """One of the codes for the day the phone is lost. Only a hash is kept; good once."""

    factor = models.ForeignKey(
        SecondFactor, on_delete=models.CASCADE, related_name="recovery_codes"
    )
    code_hash = models.CharField(max_length=64)
    used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["factor", "code_hash"], name="one_code_of_a_kind"),
        ]

    def __str__(self) -> str:
        return f"recovery code of {self.factor.user}"


class Role(models.TextChoices):
    MANAGER = "manager", "refit manager"
    CREW = "crew", "crew"
    READER = "reader", "may look"


class Membership(models.Model):
    """A user's part in one refit."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="memberships")
    refit = models.ForeignKey("work.Refit", on_delete=models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=10, choices=Role, default=Role.MANAGER)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["user", "refit"], name="one_role_a_refit"),
        ]

    def __str__(self) -> str:
        return f"{self.user}, {self.get_role_display()}"


class LinkKind(models.TextChoices):
    """Whom a private link was made for, and whether it opens a page or a calendar."""

    OWNER = "owner", "owner's page"
    VENDOR = "vendor", "vendor's page"
    OWNER_FEED = "owner-feed", "owner's calendar"
    VENDOR_FEED = "vendor-feed", "vendor's calendar"
    MANAGER_FEED = "manager-feed", "manager's calendar"
    CREW_FEED = "crew-feed", "calendar of one of the crew"
    PLACE_FEED = "place-feed", "calendar of a place"
    BOAT_FEED = "boat-feed", "calendar of the boat"


FEED_KINDS = (
    LinkKind.OWNER_FEED,
    LinkKind.VENDOR_FEED,
    LinkKind.MANAGER_FEED,
    LinkKind.CREW_FEED,
    LinkKind.PLACE_FEED,
    LinkKind.BOAT_FEED,
)


def hash_token(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


class PrivateLinks(models.QuerySet["PrivateLink"]):
    def live(self, now: datetime) -> PrivateLinks:
        """Not revoked, not expired, and not too long after the close-out of the refit.

        A link that is given out after the close-out counts its days from then.
        """
        days = models.ExpressionWrapper(
            Cast("refit__link_days", models.IntegerField()) * models.Value(timedelta(days=1)),
            # Said, because SQLite would otherwise subtract it from a moment as a bare number.
            models.DurationField(),
        )
        after = models.ExpressionWrapper(
            models.Value(now, models.DateTimeField()) - days, models.DateTimeField()
        )
        return self.filter(
            models.Q(refit__closed_at=None)
            | models.Q(refit__closed_at__gt=after)
            | models.Q(created_at__gt=after),
            models.Q(expires_at=None) | models.Q(expires_at__gt=now),
            revoked_at=None,
        )

    def for_token(self, token: str) -> PrivateLink | None:
        """The link with this token, whether live or not; None if there never was one."""
        rows = self.select_related("refit", "vendor", "crew_member", "place")
        return rows.filter(token_hash=hash_token(token)).first()


class PrivateLink(models.Model):
    """A door for one party to one refit. Only a hash of its token is kept.

    ``public_id`` stands in addresses and is no secret: without the token (or the signed cookie
    that the token set) it opens nothing.
    """

    refit = models.ForeignKey("work.Refit", on_delete=models.CASCADE, related_name="links")
    kind = models.CharField(max_length=20, choices=LinkKind)
    vendor = models.ForeignKey(
        "work.Vendor", on_delete=models.CASCADE, related_name="links", null=True, blank=True
    )
    crew_member = models.ForeignKey(
        "work.CrewMember", on_delete=models.CASCADE, related_name="links", null=True, blank=True
    )
    place = models.ForeignKey(
        "work.Place", on_delete=models.CASCADE, related_name="links", null=True, blank=True
    )
    public_id = models.CharField(max_length=16, unique=True, editable=False)
    token_hash = models.CharField(max_length=64, unique=True, editable=False)
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    expires_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_used_at = models.DateTimeField(null=True, blank=True)
    asks_code = models.BooleanField(default=False)
    """Whether a browser that shows the token is asked for a mailed code as well, once."""

    objects = PrivateLinks.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="vendor_links_name_a_vendor",
                condition=models.Q(kind__startswith="vendor", vendor__isnull=False)
                | (~models.Q(kind__startswith="vendor") & models.Q(vendor__isnull=True)),
            ),
            models.CheckConstraint(
                name="crew_calendars_name_a_member",
                condition=models.Q(kind="crew-feed", crew_member__isnull=False)
                | (~models.Q(kind="crew-feed") & models.Q(crew_member__isnull=True)),
            ),
            models.CheckConstraint(
                name="place_calendars_name_a_place",
                condition=models.Q(kind="place-feed", place__isnull=False)
                | (~models.Q(kind="place-feed") & models.Q(place__isnull=True)),
            ),
        ]

    def __str__(self) -> str:
        party = self.vendor or self.crew_member or self.place or self.get_kind_display()
        return f"private link of {party}"

    @property
    def is_feed(self) -> bool:
        return self.kind in FEED_KINDS

    @property
    def ends_at(self) -> datetime | None:
        """When it ends or ended, by whichever comes first; None while nothing ends it."""
        after_close_out = None
        if self.refit.closed_at is not None:
            counts_from = max(self.refit.closed_at, self.created_at)
            after_close_out = counts_from + timedelta(days=self.refit.link_days)
        ends = (self.revoked_at, self.expires_at, after_close_out)
        return min((moment for moment in ends if moment), default=None)

    def is_live(self, now: datetime) -> bool:
        """As `PrivateLinks.live` says it of rows."""
        return self.revoked_at is None and (self.ends_at is None or self.ends_at > now)

    def used(self, now: datetime) -> None:
        """Note the last use, at most once a minute: a refresh is not worth a write."""
        PrivateLink.objects.filter(pk=self.pk).exclude(
            last_used_at__gt=now - timedelta(minutes=1)
        ).update(last_used_at=now)


class LinkCode(models.Model):
    """A code that was mailed to the holder of a private link. Only a keyed hash is kept.

    Good once, for a short while and for few tries; a newer one ends it.
    """

    link = models.ForeignKey(PrivateLink, on_delete=models.CASCADE, related_name="codes")
    code_hash = models.CharField(max_length=64)
    made_at = models.DateTimeField()
    tries = models.PositiveSmallIntegerField(default=0)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["made_at", "id"]
        indexes = [models.Index(fields=["link", "-made_at"])]

    def __str__(self) -> str:
        return f"code for {self.link}"


def new_token() -> str:
    """256 random bits, as RFC 4648 url-safe base64."""
    return secrets.token_urlsafe(32)


class Invitations(models.QuerySet["Invitation"]):
    def open(self, now: datetime) -> Invitations:
        """Not used, not taken back, not run out."""
        return self.filter(used_at=None, revoked_at=None, expires_at__gt=now)

    def for_token(self, token: str, now: datetime) -> Invitation | None:
        """The open invitation with this token; None for any other, whatever became of it."""
        return (
            self.open(now)
            .select_related("refit__boat")
            .filter(token_hash=hash_token(token))
            .first()
        )


class Invitation(models.Model):
    """An offer of a part in a refit to whoever holds the link. Only a hash of its token is kept.

    Good once: ``used_at``. ``email`` becomes the address of the account that is made by it.
    """

    refit = models.ForeignKey("work.Refit", on_delete=models.CASCADE, related_name="invitations")
    email = models.EmailField("e-mail address")
    role = models.CharField(max_length=10, choices=Role, default=Role.CREW)
    token_hash = models.CharField(max_length=64, unique=True, editable=False)
    invited_by = models.CharField(max_length=120)
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    objects = Invitations.as_manager()

    class Meta:
        ordering = ["created_at", "id"]

    def __str__(self) -> str:
        return f"{self.email}, {self.get_role_display()}"


class LoginFailures(models.QuerySet["LoginFailure"]):
    def recent(self, now: datetime, span: timedelta) -> LoginFailures:
        return self.filter(at__gt=now - span)


class LoginFailure(models.Model):
    """One refused sign-in: who was tried, from which address. Kept for a day."""

    email = models.CharField(max_length=254)
    """As typed, in small letters: there need not be such an account."""
    address = models.CharField(max_length=45)
    at = models.DateTimeField()

    objects = LoginFailures.as_manager()

    class Meta:
        indexes = [models.Index(fields=["address", "email", "at"])]

    def __str__(self) -> str:
        return f"{self.email} from {self.address}"
