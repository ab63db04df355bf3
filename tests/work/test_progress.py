"""Started, so much left, finished; and what a finished package leaves on its pieces."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from refit.work.models import JournalEntry, PieceEffect
from refit.work.services import (
    Refused,
    finish_package,
    report_progress,
    start_package,
    undo_entry,
)
from tests.builders import A_MANAGER, NOW, a_package, a_piece, a_place, a_refit

pytestmark = pytest.mark.django_db
WHO: Any = {"actor": A_MANAGER, "now": NOW}
EARLIER = NOW - timedelta(days=2)


def test_a_start_is_recorded_once() -> None:
    package = a_package(a_refit())
    start_package(package=package, at=EARLIER, **WHO)
    package.refresh_from_db()
    assert package.started_at == EARLIER
    with pytest.raises(Refused, match="started already"):
        start_package(package=package, at=NOW, **WHO)


def test_nothing_can_start_in_the_future() -> None:
    package = a_package(a_refit())
    with pytest.raises(Refused, match="future"):
        start_package(package=package, at=NOW + timedelta(minutes=1), **WHO)
    assert not JournalEntry.objects.exists()


def test_what_is_left_can_be_said_only_while_it_is_under_way() -> None:
    package = a_package(a_refit())
    with pytest.raises(Refused, match="not been started"):
        report_progress(package=package, remaining_minutes=60, **WHO)
    start_package(package=package, at=EARLIER, **WHO)
    report_progress(package=package, remaining_minutes=60, **WHO)
    package.refresh_from_db()
    assert package.remaining_minutes == 60
    finish_package(package=package, at=NOW, **WHO)
    with pytest.raises(Refused, match="finished already"):
        report_progress(package=package, remaining_minutes=30, **WHO)


def test_a_finish_needs_a_start() -> None:
    package = a_package(a_refit())
    with pytest.raises(Refused, match="say first when"):
        finish_package(package=package, at=NOW, **WHO)
    finish_package(package=package, at=NOW, started_at=EARLIER, **WHO)
    package.refresh_from_db()
    assert (package.started_at, package.finished_at) == (EARLIER, NOW)


def test_a_finish_cannot_come_before_the_start() -> None:
    package = a_package(a_refit(), started_at=EARLIER)
    with pytest.raises(Refused, match="before the start, Mon 23 Nov 09:00"):
        finish_package(package=package, at=EARLIER - timedelta(hours=1), **WHO)


def test_finishing_twice_is_refused() -> None:
    package = a_package(a_refit(), started_at=EARLIER)
    finish_package(package=package, at=NOW, **WHO)
    with pytest.raises(Refused, match="finished already"):
        finish_package(package=package, at=NOW, **WHO)


def test_a_finished_package_takes_pieces_off_and_fits_them_and_undo_puts_them_back() -> None:
    refit = a_refit()
    shed = a_place(refit)
    rail = a_piece(refit, fitted=True)
    lid = a_piece(refit, place=shed)
    tool = a_piece(refit, place=shed)
    package = a_package(refit, started_at=EARLIER, place=shed)
    package.piece_uses.create(piece=rail, effect=PieceEffect.TAKES_OFF)
    package.piece_uses.create(piece=lid, effect=PieceEffect.FITS)
    package.piece_uses.create(piece=tool, effect=PieceEffect.NEEDS)
    finish_package(package=package, at=NOW, **WHO)
    for piece in (rail, lid, tool):
        piece.refresh_from_db()
    assert (rail.fitted, rail.place, rail.since) == (False, shed, NOW)
    assert (lid.fitted, lid.place) == (True, shed)
    assert (tool.fitted, tool.since) == (False, None)
    undo_entry(entry=JournalEntry.objects.get(verb="finished"), **WHO)
    for row in (rail, lid, package):
        row.refresh_from_db()
    assert package.finished_at is None
    assert package.started_at == EARLIER
    assert (rail.fitted, rail.place) == (True, None)
    assert lid.fitted is False


def test_undo_is_refused_once_a_fitted_piece_has_moved() -> None:
    refit = a_refit()
    lid = a_piece(refit, place=a_place(refit))
    package = a_package(refit, started_at=EARLIER)
    package.piece_uses.create(piece=lid, effect=PieceEffect.FITS)
    finish_package(package=package, at=NOW, **WHO)
    lid.refresh_from_db()
    lid.fitted = False
    lid.save()
    with pytest.raises(Refused, match="changed again"):
        undo_entry(entry=JournalEntry.objects.get(verb="finished"), **WHO)
