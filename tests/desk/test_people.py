"""People of a refit: invited, joined, given another part, removed; never without a manager."""

from __future__ import annotations

import smtplib
from datetime import timedelta
from typing import Any
from urllib.parse import urlsplit

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from refit.accounts.models import Invitation, Membership, Role, User
from refit.accounts.parts import NotOpen, invite, join
from refit.work.models import JournalEntry, Refit
from tests.builders import a_member, a_refit, a_user

from .people import check_crew_may_not, check_only_members_post, signed_in

pytestmark = pytest.mark.django_db
PASSWORD = "tern-on-a-post-31"


def _url(refit: Refit, name: str = "people", *args: object) -> str:
    return reverse(f"desk:{name}", args=[refit.slug, *args])


def _invite(refit: Refit, **data: str) -> tuple[Any, str]:
    """The answer, and the path of the address that it shows."""
    sent = {"email": "ola@refit.example", "role": "crew"} | data
    answer = signed_in(refit).post(_url(refit), sent)
    assert answer.status_code == 200
    return answer, urlsplit(answer.context["made"].address).path


def _join(path: str, client: Client | None = None, **data: str) -> Any:
    sent = {"name": "Ola Marsh", "password": PASSWORD} | data
    return (client or Client()).post(path, sent)


def test_somebody_invited_makes_an_account_and_is_in() -> None:
    refit = a_refit()
    _, path = _invite(refit)
    client = Client()
    shown = client.get(path).content.decode()
    assert "ola@refit.example" in shown
    assert "Sallow Tern" in shown
    answer = _join(path, client)
    assert answer["Location"] == f"/r/{refit.slug}/"
    assert client.get(answer["Location"]).status_code == 200
    user = User.objects.get(email="ola@refit.example")
    assert user.check_password(PASSWORD)
    assert Membership.objects.get(user=user).role == Role.CREW
    verbs = [str(entry) for entry in JournalEntry.objects.order_by("id")]
    assert verbs == ["Runa Ostlund invited ola@refit.example, crew", "Ola Marsh joined as crew"]
    refit.refresh_from_db()
    assert refit.version == 1


def test_an_invitation_is_good_once() -> None:
    refit = a_refit()
    _, path = _invite(refit)
    assert _join(path).status_code == 302
    assert Client().get(path).status_code == 404
    assert _join(path, name="Somebody else").status_code == 404
    assert refit.memberships.filter(role=Role.CREW).count() == 1


def test_opening_the_link_uses_it_up_for_nobody() -> None:
    refit = a_refit()
    _, path = _invite(refit)
    for _ in range(3):
        assert Client().get(path).status_code == 200
        assert Client().head(path).status_code == 200
    assert Invitation.objects.get().used_at is None


def test_an_invitation_ends_when_its_time_is_over_or_it_is_taken_back_or_made_anew() -> None:
    refit = a_refit()
    _, expired = _invite(refit)
    Invitation.objects.update(expires_at=timezone.now() - timedelta(minutes=1))
    _, taken_back = _invite(refit)
    last = Invitation.objects.latest("id")
    signed_in(refit).post(_url(refit, "invitation-end", last.pk))
    _, replaced = _invite(refit)
    _, good = _invite(refit)
    for path in (expired, taken_back, replaced, "/invited/nobody-made-this/"):
        assert Client().get(path).status_code == 404
        assert _join(path).status_code == 404
    assert not User.objects.filter(email="ola@refit.example").exists()
    assert Client().get(good).status_code == 200


def test_two_at_the_same_moment_cannot_both_join() -> None:
    refit = a_refit()
    now = timezone.now()
    invitation, _ = invite(
        refit=refit, email="ola@refit.example", role=Role.CREW, invited_by="Runa", now=now
    )
    join(invitation=invitation, user=a_user(), now=now)
    with pytest.raises(NotOpen):
        join(invitation=invitation, user=a_user(), now=now)
    assert refit.memberships.count() == 1


def test_a_weak_password_is_refused_at_its_field_and_nothing_is_stored() -> None:
    refit = a_refit()
    _, path = _invite(refit)
    answer = _join(path, password="12345678")
    assert answer.status_code == 200
    assert answer.context["form"].errors["password"]
    assert not User.objects.filter(email="ola@refit.example").exists()
    assert Invitation.objects.get().used_at is None


def test_who_has_an_account_signs_in_and_joins_with_it() -> None:
    refit = a_refit()
    user = a_user("ola@refit.example", name="Ola Marsh")
    _, path = _invite(refit, email="Ola@Refit.example", role="reader")
    page = Client().get(path).content.decode()
    assert f"/account/sign-in?next={path}" in page
    client = Client()
    client.force_login(user)
    assert client.get(f"/r/{refit.slug}/").status_code == 404
    assert client.post(path)["Location"] == f"/r/{refit.slug}/"
    assert Membership.objects.get(user=user).role == Role.READER
    assert User.objects.filter(email__iexact="ola@refit.example").count() == 1


def test_without_signing_in_nobody_takes_over_an_account_by_an_invitation() -> None:
    refit = a_refit()
    user = a_user("ola@refit.example")
    _, path = _invite(refit)
    assert _join(path).status_code == 200
    user.refresh_from_db()
    assert not user.check_password(PASSWORD)
    assert not refit.memberships.filter(user=user).exists()


def test_who_has_a_part_already_is_not_invited_and_an_invitation_changes_no_part() -> None:
    refit = a_refit()
    member = a_member(refit, Role.MANAGER, email="ola@refit.example", name="Ola Marsh")
    answer = signed_in(refit).post(_url(refit), {"email": "OLA@refit.example", "role": "reader"})
    assert answer.context["form"].errors["email"] == ["Ola Marsh has a part in this refit already."]
    _, path = _invite(refit, email="second@refit.example", role="reader")
    client = Client()
    client.force_login(member)
    assert client.post(path).status_code == 200
    assert Membership.objects.get(user=member).role == Role.MANAGER
    assert Invitation.objects.get().used_at is None


def test_the_link_is_shown_once_and_kept_nowhere() -> None:
    refit = a_refit()
    answer, path = _invite(refit)
    token = path.split("/")[2]
    assert token in answer.content.decode()
    assert token not in signed_in(refit).get(_url(refit)).content.decode()
    assert token not in str(list(Invitation.objects.values()))
    assert token not in str(list(JournalEntry.objects.values()))


def test_the_link_is_mailed_if_wished() -> None:
    refit = a_refit()
    _invite(refit)
    assert mail.outbox == []
    answer, path = _invite(refit, by_mail="on")
    (letter,) = mail.outbox
    assert letter.to == ["ola@refit.example"]
    assert path in letter.body
    assert letter.message()["Auto-Submitted"] == "auto-generated"
    assert "The link was mailed" in answer.content.decode()


def test_a_mail_that_cannot_be_sent_is_told_and_the_link_is_still_there(settings: Any) -> None:
    settings.EMAIL_BACKEND = "tests.desk.test_people.NoMail"
    answer, path = _invite(a_refit(), by_mail="on")
    body = answer.content.decode()
    assert "could not be sent" in body
    assert "no such mailbox" in body
    assert path in body


def test_without_a_mail_server_nothing_is_said_to_be_mailed(settings: Any) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    answer, path = _invite(a_refit(), by_mail="on")
    body = answer.content.decode()
    assert "No mail was sent" in body
    assert "was mailed" not in body
    assert path in body


class NoMail:
    def __init__(self, **_options: object) -> None: ...

    def send_messages(self, _messages: object) -> int:
        raise smtplib.SMTPDataError(550, b"no such mailbox")


def test_a_part_is_changed_and_holds_at_the_next_request() -> None:
    refit = a_refit()
    client = signed_in(refit, Role.READER)
    member = refit.memberships.get(role=Role.READER)
    assert client.get(_url(refit, "settings")).status_code == 403
    signed_in(refit).post(_url(refit, "person-role", member.pk), {"role": "manager"})
    assert client.get(_url(refit, "settings")).status_code == 200
    entry = JournalEntry.objects.latest("id")
    assert (entry.verb, entry.after) == ("changed the part of", {"role": "manager"})


def test_who_is_removed_sees_nothing_at_the_next_request_and_keeps_the_account() -> None:
    refit = a_refit()
    client = signed_in(refit, Role.CREW)
    member = refit.memberships.get(role=Role.CREW)
    assert client.get(_url(refit, "today")).status_code == 200
    answer = signed_in(refit).post(_url(refit, "person-end", member.pk), follow=True)
    assert "does not see this refit any more" in answer.content.decode()
    assert client.get(_url(refit, "today")).status_code == 404
    assert User.objects.filter(pk=member.user_id, is_active=True).exists()
    assert JournalEntry.objects.latest("id").verb == "ended the part of"


@pytest.mark.parametrize(("name", "data"), [("person-end", {}), ("person-role", {"role": "crew"})])
def test_the_last_manager_stays(name: str, data: dict[str, str]) -> None:
    refit = a_refit()
    client = signed_in(refit)
    sleeping = a_member(refit)
    User.objects.filter(pk=sleeping.pk).update(is_active=False)
    me = refit.memberships.exclude(user=sleeping).get()
    answer = client.post(_url(refit, name, me.pk), data, follow=True)
    assert "is the only manager of this refit" in answer.content.decode()
    assert refit.memberships.filter(role=Role.MANAGER).count() == 2
    assert not JournalEntry.objects.exists()
    a_member(refit)
    assert client.post(_url(refit, name, me.pk), data).status_code == 302
    assert not refit.memberships.filter(pk=me.pk, role=Role.MANAGER).exists()


def test_a_part_that_does_not_exist_is_not_given() -> None:
    refit = a_refit()
    client = signed_in(refit)
    me = refit.memberships.get()
    answer = client.post(_url(refit, "person-role", me.pk), {"role": "harbour master"}, follow=True)
    assert "Choose what they may do" in answer.content.decode()
    assert client.post(_url(refit), {"email": "x", "role": "king"}).context[
        "form"
    ].errors.keys() == {
        "email",
        "role",
    }
    assert not Invitation.objects.exists()


def test_only_managers_of_this_refit_may() -> None:
    refit = a_refit()
    a_member(refit)
    pk = refit.memberships.get().pk
    for name in ("person-role", "person-end"):
        check_only_members_post(refit, _url(refit, name, pk), {"role": "reader"})
        check_crew_may_not(refit, _url(refit, name, pk), {"role": "reader"})
    assert refit.memberships.get(pk=pk).role == Role.MANAGER
