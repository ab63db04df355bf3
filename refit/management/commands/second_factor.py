"""``manage.py second_factor``: who has a second step at sign-in, and switching it off for somebody.

For whoever runs the installation, when phone and recovery codes are both lost. Make sure first that
it is really that person who asks.
"""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from refit.accounts.models import SecondFactor, User
from refit.accounts.second_factor import factor_of, switch_off


class Command(BaseCommand):
    help = "Says who has a second step at sign-in; with --off, switches it off for one person."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("email", nargs="?", help="e-mail address of the account")
        parser.add_argument("--off", action="store_true", help="switch it off for this account")
        # Read by manage.py, before the settings; declared here for --help.
        parser.add_argument("--data", help="folder for database, uploads and mail; default var/")

    def handle(self, *, email: str | None, off: bool, **_options: Any) -> None:
        if email is None:
            if off:
                raise CommandError("Name the account: second_factor somebody@example.org --off")
            self._list()
            return
        user = User.objects.filter(email__iexact=email).first()
        if user is None:
            raise CommandError(f"There is no account with the address {email}.")
        if not off:
            self.stdout.write(f"{user.email}: {'on' if factor_of(user) else 'off'}")
        elif switch_off(user=user):
            self.stdout.write(f"{user.email}: switched off. The password alone signs in now.")
        else:
            self.stdout.write(f"{user.email}: it was off already.")

    def _list(self) -> None:
        on = set(
            SecondFactor.objects.filter(confirmed_at__isnull=False).values_list("user", flat=True)
        )
        for user in User.objects.order_by("email"):
            self.stdout.write(f"{user.email}: {'on' if user.pk in on else 'off'}")
