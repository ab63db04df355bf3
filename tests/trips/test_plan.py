"""Planning trips from the handoffs of a refit, and what happens to them afterwards."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from refit.custody.models import Handoff, HandoffState
from refit.trips.models import Load, StopReport, Trip, TripState, TripStop
from refit.trips.services import (
    driving_of,
    leave_rest,
    pin_move,
    pin_trip,
    replan_trips,
    tick_checks,
    tick_stop,
)
from refit.trips.tasks import follow_plans
from refit.work.models import Actor, Driving, Place, Refit, Rig
from tests.builders import a_handoff, a_piece, a_place, a_refit

pytestmark = pytest.mark.django_db
RUNA = Actor("Runa", "manager")


class Scene:
    """Home, a mill and a forge on one road; Monday morning; two pieces out there, one at home."""

    def __init__(self) -> None:
        self.refit: Refit = a_refit()
        zone = ZoneInfo(self.refit.time_zone)
        today = self.refit.start
        while today.weekday():
            today += timedelta(days=1)
        self.now = datetime(today.year, today.month, today.day, 6, tzinfo=zone)
        self.home = self.place("Home", "50.0", "home")
        self.mill = self.place("Mill", "50.1", "shop")
        self.forge = self.place("Forge", "50.2", "shop")
        self.rig = Rig.objects.create(refit=self.refit, name="Van")
        self.out = self.move(self.home, self.forge)
        self.back = self.move(self.forge, self.home)
        self.on_the_way = self.move(self.mill, self.home)

    def place(self, name: str, north: str, kind: str) -> Place:
        return a_place(self.refit, name=name, kind=kind, latitude=north, longitude="0")

    def move(self, origin: Place, destination: Place, **fields: object) -> Handoff:
        piece = a_piece(self.refit, place=origin)
        fields.setdefault("free_at", self.now)
        fields.setdefault("needed_at", self.now + timedelta(days=4))
        return a_handoff(piece, origin, destination, **fields)

    def plan(self, **how: bool) -> list[Trip]:
        assert replan_trips(refit=self.refit, now=self.now, **how) == ""
        return list(Trip.objects.filter(refit=self.refit))


def four_stops(trip: Trip) -> tuple[TripStop, TripStop, TripStop, TripStop]:
    """Home, forge, mill and home; which of the shops comes first costs the same."""
    first, *middle, last = trip.stops.order_by("number")
    forge, mill = sorted(middle, key=lambda stop: stop.place.name)
    return first, forge, mill, last


@pytest.fixture
def scene() -> Scene:
    return Scene()


def test_moves_on_one_road_share_a_trip_and_the_saving_is_kept(scene: Scene) -> None:
    [trip] = scene.plan()
    places = [stop.place.name for stop in trip.stops.all()]
    assert places in (["Home", "Forge", "Mill", "Home"], ["Home", "Mill", "Forge", "Home"])
    assert trip.loads.count() == 3
    saved = Driving.objects.get(refit=scene.refit).saved
    assert saved["trips"] == [3, 1]
    assert saved["metres"][1] < saved["metres"][0] / 2
    assert saved["proved"]


def test_without_a_rig_or_a_home_it_says_what_to_enter(scene: Scene) -> None:
    scene.rig.delete()
    assert "Enter a rig" in replan_trips(refit=scene.refit, now=scene.now)
    assert not Trip.objects.exists()


def test_planning_again_keeps_the_sheet_that_somebody_has_open(scene: Scene) -> None:
    [trip] = scene.plan()
    stops = list(trip.stops.values_list("pk", flat=True))
    [again] = scene.plan()
    assert again.pk == trip.pk
    assert list(again.stops.values_list("pk", flat=True)) == stops


def test_a_pinned_move_gets_its_day_and_a_pinned_trip_stays(scene: Scene) -> None:
    wednesday = scene.now.date() + timedelta(days=2)
    pin_move(handoff=scene.back, day=wednesday, actor=RUNA, now=scene.now)
    scene.plan()
    assert Load.objects.get(handoff=scene.back).trip.day == wednesday
    trip = Load.objects.get(handoff=scene.out).trip
    pin_trip(trip=trip, pinned=True, actor=RUNA, now=scene.now)
    pin_move(handoff=scene.back, day=None, actor=RUNA, now=scene.now)
    scene.plan()
    trip.refresh_from_db()
    assert trip.pinned
    assert Load.objects.get(handoff=scene.out).trip == trip
    scene.back.refresh_from_db()
    assert scene.back.drive_on is None


def test_what_is_needed_before_it_can_be_there_goes_first_and_is_called_late(scene: Scene) -> None:
    late = scene.move(scene.mill, scene.forge, needed_at=scene.now - timedelta(days=3))
    scene.plan()
    load = Load.objects.get(handoff=late)
    assert load.late
    assert load.trip.day == scene.now.date()


def test_moves_of_vendors_and_hauliers_are_not_ours(scene: Scene) -> None:
    Handoff.objects.filter(pk=scene.back.pk).update(carrier="vendor")
    scene.plan()
    assert not Load.objects.filter(handoff=scene.back).exists()


def test_ticks_do_the_handoffs_each_once(scene: Scene) -> None:
    [trip] = scene.plan()
    home, forge, mill, last = four_stops(trip)
    assert tick_stop(stop=home, key="key-00001", actor=RUNA, now=scene.now) == []
    scene.out.refresh_from_db()
    assert scene.out.state == HandoffState.UNDER_WAY
    trip.refresh_from_db()
    assert trip.state == TripState.UNDER_WAY

    later = scene.now + timedelta(hours=1)
    for _ in range(5):  # sent five times from a bad network: one tick
        tick_stop(stop=forge, key="key-00002", actor=RUNA, now=later)
    scene.out.refresh_from_db()
    scene.back.refresh_from_db()
    assert scene.out.state == HandoffState.RECEIVED
    assert scene.back.state == HandoffState.UNDER_WAY
    assert StopReport.objects.count() == 2

    tick_stop(stop=mill, key="key-00003", actor=RUNA, now=later)
    tick_stop(stop=last, key="key-00004", actor=RUNA, now=later)
    trip.refresh_from_db()
    assert trip.state == TripState.DONE
    assert not Handoff.objects.open().exists()


def test_what_stayed_behind_goes_on_another_trip(scene: Scene) -> None:
    [trip] = scene.plan()
    home, forge, mill, last = four_stops(trip)
    tick_stop(stop=home, key="key-00001", actor=RUNA, now=scene.now)
    said = tick_stop(
        stop=forge, key="key-00002", actor=RUNA, now=scene.now, not_loaded=[scene.back.pk]
    )
    assert "stayed at Forge" in said[0]
    for number, stop in enumerate((mill, last)):
        tick_stop(stop=stop, key=f"key-0001{number}", actor=RUNA, now=scene.now)
    scene.back.refresh_from_db()
    assert scene.back.state == HandoffState.PLANNED
    scene.plan()
    assert Load.objects.get(handoff=scene.back).trip != trip


def test_a_day_that_goes_wrong_delivers_what_is_aboard_and_plans_the_rest(scene: Scene) -> None:
    [trip] = scene.plan()
    tick_stop(stop=four_stops(trip)[0], key="key-00001", actor=RUNA, now=scene.now)
    assert leave_rest(trip=trip, actor=RUNA, now=scene.now) == 2
    assert [stop.place.name for stop in trip.stops.filter(ticked_at=None)] == ["Forge"]
    scene.plan()
    other = Load.objects.get(handoff=scene.back).trip
    assert other != trip
    assert other.day > trip.day, "today's driver is still out"


def test_trips_follow_the_plan(scene: Scene) -> None:
    from refit.planning.services import replan

    scene.plan()
    Refit.objects.filter(pk=scene.refit.pk).update(version=99)
    scene.refit.refresh_from_db()
    assert replan(refit=scene.refit, now=scene.now) is not None
    assert follow_plans() == 1
    assert driving_of(scene.refit).planned_version == 99
    assert follow_plans() == 0


def test_the_list_before_driving_is_kept_when_trips_are_planned_anew(scene: Scene) -> None:
    [trip] = scene.plan()
    tick_checks(trip=trip, checks=["0", "2"], actor=RUNA, now=scene.now)
    scene.move(scene.home, scene.mill)
    [again] = scene.plan()
    assert again.checked == ["0", "2"]
    assert TripStop.objects.filter(trip=again).count() >= 4


def test_the_thorough_planner_runs_in_a_process_of_its_own(scene: Scene) -> None:
    for _ in range(6):
        scene.move(scene.home, scene.mill)
    trips = scene.plan(thoroughly=True)
    assert sum(trip.loads.count() for trip in trips) == 9
    assert len(trips) == 2, "seven pieces of a fifth of the bed do not fit in one go"


def test_a_package_with_float_waits_for_a_drive_that_comes_by_anyway() -> None:
    from refit.planning.models import Plan, PlannedPackage
    from refit.planning.services import replan
    from refit.trips.services import apply_shifts
    from refit.work.models import Booking, JournalEntry
    from refit.work.services import undo_entry
    from tests.builders import a_dependency, a_package, a_vendor

    scene = Scene()
    Handoff.objects.all().delete()
    vendor = a_vendor(scene.refit)
    rail, hatch = a_piece(scene.refit, place=scene.home), a_piece(scene.refit, place=scene.home)
    # The hatch cannot leave before Wednesday; the rail could go on Monday, but its two hours at
    # the forge have days of float, since sixty hours of sanding at home lead to the launch.
    glue = a_package(scene.refit, code="G1", pieces=[hatch], place=scene.home, minutes=16 * 60)
    a_package(scene.refit, code="F1", pieces=[rail], place=scene.forge, minutes=120, vendor=vendor)
    hinge = a_package(
        scene.refit, code="F2", pieces=[hatch], place=scene.forge, minutes=60, vendor=vendor
    )
    a_dependency(glue, hinge)
    a_package(scene.refit, code="S1", place=scene.home, minutes=60 * 60, is_launch=True)
    assert replan(refit=scene.refit, now=scene.now) is not None
    launch = Plan.objects.current(scene.refit).launch_at  # type: ignore[union-attr]

    driving = driving_of(scene.refit)
    driving.use_float = False
    driving.save()
    assert len(scene.plan()) == 2
    driving.use_float = True
    driving.save()
    [trip] = scene.plan()
    assert trip.loads.count() == 2
    shifts = Driving.objects.get(refit=scene.refit).saved["shifts"]
    assert "F1 " in [shift["name"][:3] for shift in shifts]

    assert "F1" in apply_shifts(refit=scene.refit, actor=RUNA, now=scene.now)
    written = Booking.objects.count()
    assert written == len(shifts)
    assert replan(refit=scene.refit, now=scene.now) is not None
    plan = Plan.objects.current(scene.refit)
    assert plan is not None
    assert plan.launch_at == launch, "the launch stays"
    start = PlannedPackage.objects.get(plan=plan, package__code="F1").start
    assert start >= trip.stops.all()[1].begin_at
    assert len(scene.plan()) == 1
    entry = JournalEntry.objects.filter(verb="changed").latest("pk")
    undo_entry(entry=entry, actor=RUNA, now=scene.now)
    assert Booking.objects.count() == written - 1


def test_a_kept_trip_and_a_set_day_outlive_export_and_import(scene: Scene) -> None:
    from refit.interchange.export import export_refit
    from refit.interchange.store import import_document
    from refit.work.models import THE_SOFTWARE

    scene.plan()
    trip = Load.objects.get(handoff=scene.out).trip
    pin_trip(trip=trip, pinned=True, actor=RUNA, now=scene.now)
    carried = trip.loads.count()
    twin = import_document(export_refit(scene.refit), actor=THE_SOFTWARE, now=scene.now)
    assert replan_trips(refit=twin, now=scene.now) == ""
    [again] = Trip.objects.filter(refit=twin)
    assert again.pinned
    assert (again.day, str(again.rig)) == (trip.day, str(trip.rig))
    assert again.loads.count() == carried


def test_a_day_that_was_set_is_taken_back_from_the_journal(scene: Scene) -> None:
    from refit.work.models import JournalEntry
    from refit.work.services import undo_entry

    wednesday = scene.now.date() + timedelta(days=2)
    pin_move(handoff=scene.back, day=wednesday, actor=RUNA, now=scene.now)
    entry = JournalEntry.objects.get(verb="set the day of")
    undo_entry(entry=entry, actor=RUNA, now=scene.now)
    scene.back.refresh_from_db()
    assert scene.back.drive_on is None


def test_a_limit_of_a_rig_and_how_we_drive_are_taken_back_from_the_journal(scene: Scene) -> None:
    from refit.work.services import change_row, undo_entry

    for row, name, was, new in (
        (scene.rig, "country", "", "PT"), (driving_of(scene.refit), "tow_speed", 80, 60),
    ):  # fmt: skip
        entry = change_row(refit=scene.refit, row=row, facts={name: new}, actor=RUNA, now=scene.now)
        assert entry is not None
        undo_entry(entry=entry, actor=RUNA, now=scene.now)
        row.refresh_from_db()
        assert getattr(row, name) == was
