"""The second step at sign-in: switching on, being asked, recovery, the limit, switching off."""

from __future__ import annotations

import base64
import io
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.utils import timezone

from refit.accounts import second_factor as factors
from refit.accounts.models import LoginFailure, RecoveryCode, SecondFactor, User
from refit.accounts.waiting import GOOD_FOR_SECONDS
from refit.backup import back_up, models
from tests.builders import NOW, a_user

pytestmark = pytest.mark.django_db
GOOD = "bilge-pump-7"
PAGE = "/account/second-factor"

# RFC 6238, appendix B, SHA-1, secret "12345678901234567890": seconds and the code of 8 digits. Ours
# has 6, which are its last six (RFC 4226, 5.3: the same number modulo 10^digits).
RFC_6238 = [
    (59, "94287082"),
    (1111111109, "07081804"),
    (1111111111, "14050471"),
    (1234567890, "89005924"),
    (2000000000, "69279037"),
    (20000000000, "65353130"),
]
RFC_SECRET = base64.b32encode(b"12345678901234567890").decode()


@pytest.mark.parametrize(("seconds", "code"), RFC_6238)
def test_codes_are_those_of_the_standard(seconds: int, code: str) -> None:
    step = factors.step_of(datetime.fromtimestamp(seconds, UTC))
    assert factors.code_of(RFC_SECRET, step) == code[-6:]


def code_at(factor: SecondFactor, moment: datetime) -> str:
    return factors.code_of(factor.secret, factors.step_of(moment))


def a_factor(user: User, now: datetime = NOW) -> tuple[SecondFactor, list[str]]:
    """Switched on at ``now``, and its recovery codes."""
    factor = factors.prepare(user=user, now=now)
    codes = factors.confirm(factor=factor, code=code_at(factor, now), now=now)
    assert codes is not None
    factor.refresh_from_db()
    return factor, codes


def half_signed_in(user: User) -> Client:
    client = Client()
    answer = client.post(
        "/account/sign-in", {"email": user.email, "password": GOOD, "next": "/new/"}
    )
    assert answer.headers["Location"] == "/account/code"
    assert "_auth_user_id" not in client.session
    return client


def test_it_is_set_up_with_password_picture_and_code_and_then_asked_for() -> None:
    user = a_user()
    client = Client()
    client.force_login(user)
    assert "Set it up" in client.get(PAGE).content.decode()
    refused = client.post(f"{PAGE}/start", {"current": "wrong"})
    assert "That is not your password." in refused.content.decode()
    assert not SecondFactor.objects.exists()
    page = client.post(f"{PAGE}/start", {"current": GOOD}, follow=True).content.decode()
    factor = SecondFactor.objects.get()
    assert "data:image/svg+xml" in page
    assert " ".join(re.findall("....", factor.secret)) in page
    # Not asked for before a code has shown that the app has it.
    assert (
        Client()
        .post("/account/sign-in", {"email": user.email, "password": GOOD})
        .headers["Location"]
        == "/"
    )
    wrong = client.post(f"{PAGE}/on", {"code": "000000"})
    assert "not the code" in wrong.content.decode()
    made = client.post(f"{PAGE}/on", {"code": code_at(factor, timezone.now())}).content.decode()
    codes = re.findall(r"<li>(\w{4}-\w{4}-\w{4})</li>", made)
    assert len(codes) == factors.RECOVERY_CODES == RecoveryCode.objects.count()
    page = client.get(PAGE).content.decode()
    assert "10 recovery codes left" in page
    assert factor.secret not in page
    assert not any(code in page for code in codes)
    half_signed_in(user)


def test_password_and_code_sign_in_and_lead_where_one_wanted_to_go() -> None:
    user = a_user()
    factor, _ = a_factor(user)
    client = half_signed_in(user)
    answer = client.post("/account/code", {"code": code_at(factor, timezone.now())})
    assert answer.headers["Location"] == "/new/"
    assert client.session["_auth_user_id"] == str(user.pk)


def test_half_signed_in_nothing_opens() -> None:
    user = a_user()
    a_factor(user)
    client = half_signed_in(user)
    for page in ("/", PAGE, "/account/password"):
        assert client.get(page).headers["Location"].startswith("/account/sign-in")


def test_without_the_password_no_code_is_asked_for() -> None:
    user = a_user()
    factor, _ = a_factor(user)
    client = Client()
    assert client.get("/account/code").headers["Location"] == "/account/sign-in"
    answer = client.post("/account/code", {"code": code_at(factor, timezone.now())})
    assert answer.headers["Location"] == "/account/sign-in"
    assert "_auth_user_id" not in client.session


def test_a_code_is_good_once() -> None:
    user = a_user()
    factor, _ = a_factor(user)
    later = NOW + timedelta(minutes=5)
    code = code_at(factor, later)
    assert factors.take_app_code(factor=factor, code=code, now=later)
    assert not factors.take_app_code(factor=factor, code=code, now=later)
    # Nor an earlier one that would still be near enough.
    earlier = code_at(factor, later - timedelta(seconds=30))
    assert not factors.take_app_code(factor=factor, code=earlier, now=later)


@pytest.mark.parametrize(("aside", "taken"), [(-60, False), (-30, True), (30, True), (60, False)])
def test_a_clock_may_be_half_a_minute_off(aside: int, taken: bool) -> None:
    factor, _ = a_factor(a_user())
    later = NOW + timedelta(minutes=5)
    code = code_at(factor, later + timedelta(seconds=aside))
    assert factors.take_app_code(factor=factor, code=code, now=later) is taken


@pytest.mark.parametrize("typed", ["", "12345", "1234567", "abcdef", "١٢٣٤٥٦", "12 34 5x"])
def test_what_is_no_code_is_refused(typed: str) -> None:
    factor, _ = a_factor(a_user())
    later = NOW + timedelta(minutes=5)
    assert not factors.take_app_code(factor=factor, code=typed, now=later)


def test_a_recovery_code_signs_in_once_and_is_kept_as_a_hash() -> None:
    user = a_user()
    _, codes = a_factor(user)
    assert codes[0].replace("-", "") not in str(list(RecoveryCode.objects.values()))
    client = half_signed_in(user)
    client.post("/account/code", {"code": f" {codes[0].upper()} "})
    assert "_auth_user_id" in client.session
    again = half_signed_in(user).post("/account/code", {"code": codes[0]})
    assert "That code is not right." in again.content.decode()
    assert RecoveryCode.objects.filter(used_at=None).count() == factors.RECOVERY_CODES - 1


def test_new_recovery_codes_end_the_old_ones() -> None:
    user = a_user()
    factor, old = a_factor(user)
    client = Client()
    client.force_login(user)
    refused = client.post(f"{PAGE}/recovery", {"current": "wrong"})
    assert "That is not your password." in refused.content.decode()
    page = client.post(f"{PAGE}/recovery", {"current": GOOD}).content.decode()
    new = re.findall(r"<li>(\w{4}-\w{4}-\w{4})</li>", page)
    assert len(set(new) - set(old)) == factors.RECOVERY_CODES
    assert not factors.take_recovery_code(factor=factor, code=old[0], now=NOW)
    assert factors.take_recovery_code(factor=factor, code=new[0], now=NOW)


def test_after_five_wrong_codes_even_the_right_one_waits() -> None:
    user = a_user()
    factor, codes = a_factor(user)

    def attempt(code: str, minutes: int = 0, address: str = "192.0.2.1") -> str:
        now = NOW + timedelta(minutes=10 + minutes)
        return factors.check_code(user=user, code=code, address=address, now=now)

    for _ in range(factors.TRIES):
        assert "not right" in attempt("000000")
    assert "Too many wrong codes" in attempt(codes[0])
    assert attempt(codes[0], minutes=16) == ""
    # One more machine each time does not give one more set of tries without end.
    for number in range(factors.TRIES_ANYWHERE):
        attempt("000000", minutes=40, address=f"198.51.100.{number}")
    later = NOW + timedelta(minutes=50)
    assert "Too many" in attempt(code_at(factor, later), minutes=40, address="203.0.113.9")


def test_the_right_password_does_not_clear_the_count_of_wrong_codes() -> None:
    user = a_user()
    a_factor(user)
    for _ in range(factors.TRIES):
        half_signed_in(user).post("/account/code", {"code": "000000"})
    answer = half_signed_in(user).post("/account/code", {"code": "000000"})
    assert "Too many wrong codes" in answer.content.decode()
    assert LoginFailure.objects.count() == factors.TRIES


def test_a_new_password_or_ten_minutes_end_the_half_way() -> None:
    user = a_user()
    factor, _ = a_factor(user)
    client = half_signed_in(user)
    session = client.session
    kept = dict(session["waits_for_code"])
    kept["at"] -= GOOD_FOR_SECONDS + 1
    session["waits_for_code"] = kept
    session.save()
    assert client.get("/account/code").status_code == 302
    client = half_signed_in(user)
    user.set_password("tarred-marline-9")
    user.save()
    client.post("/account/code", {"code": code_at(factor, timezone.now())})
    assert "_auth_user_id" not in client.session


def test_it_is_switched_off_with_the_password_and_forgotten() -> None:
    user = a_user()
    a_factor(user)
    client = Client()
    client.force_login(user)
    assert "not your password" in client.post(f"{PAGE}/off", {"current": "x"}).content.decode()
    assert SecondFactor.objects.exists()
    client.post(f"{PAGE}/off", {"current": GOOD})
    assert not SecondFactor.objects.exists()
    assert not RecoveryCode.objects.exists()
    assert (
        Client()
        .post("/account/sign-in", {"email": user.email, "password": GOOD})
        .headers["Location"]
        == "/"
    )


def test_setting_up_again_leaves_one_that_is_on_alone() -> None:
    user = a_user()
    factor, _ = a_factor(user)
    client = Client()
    client.force_login(user)
    client.post(f"{PAGE}/start", {"current": GOOD})
    assert SecondFactor.objects.get().secret == factor.secret
    assert client.post(f"{PAGE}/on", {"code": "000000"}).status_code == 302


def test_whoever_runs_the_installation_can_switch_it_off() -> None:
    user = a_user("runa@refit.example")
    a_user("odd@refit.example")
    a_factor(user)
    said = io.StringIO()
    call_command("second_factor", stdout=said)
    assert said.getvalue() == "odd@refit.example: off\nruna@refit.example: on\n"
    call_command("second_factor", "RUNA@refit.example", "--off", stdout=said)
    assert "switched off" in said.getvalue()
    assert not SecondFactor.objects.exists()
    with pytest.raises(CommandError, match="no account"):
        call_command("second_factor", "nobody@refit.example")
    with pytest.raises(CommandError, match="Name the account"):
        call_command("second_factor", "--off")


def test_a_backup_keeps_it(tmp_path: Path) -> None:
    a_factor(a_user())
    assert {SecondFactor, RecoveryCode} <= set(models())
    counts = back_up(tmp_path / "kept.tar.gz", now=timezone.now())
    assert counts["accounts.SecondFactor"] == 1
    assert counts["accounts.RecoveryCode"] == factors.RECOVERY_CODES
