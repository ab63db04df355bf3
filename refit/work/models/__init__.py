"""What is planned and with whom. Units are stored metric, times in UTC, working time in minutes."""

from .driving import Driving, Rig
from .journal import THE_SOFTWARE, Actor, JournalEntry, record
from .packages import (
    Booking,
    BookingKind,
    Dependency,
    LagIn,
    PieceEffect,
    PieceUse,
    RelationChoice,
    WorkPackage,
)
from .parties import Absence, CrewMember, Vendor
from .pieces import Piece, Zone
from .places import Closure, Distance, OpeningHours, Place, PlaceKind, Weekday
from .refits import Boat, Refit, Refits, Units

__all__ = [
    "THE_SOFTWARE",
    "Absence",
    "Actor",
    "Boat",
    "Booking",
    "BookingKind",
    "Closure",
    "CrewMember",
    "Dependency",
    "Distance",
    "Driving",
    "JournalEntry",
    "LagIn",
    "OpeningHours",
    "Piece",
    "PieceEffect",
    "PieceUse",
    "Place",
    "PlaceKind",
    "Refit",
    "Refits",
    "RelationChoice",
    "Rig",
    "Units",
    "Vendor",
    "Weekday",
    "WorkPackage",
    "Zone",
    "record",
]
