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
    QuantityUnit,
    RelationChoice,
    WorkPackage,
)
from .papers import COVERS_PIECES, Paper, PaperKind
from .parties import Absence, CrewMember, Vendor
from .pieces import Piece, Zone
from .places import Closure, Distance, OpeningHours, Place, PlaceKind, Weekday
from .processes import OwnProcess, Shape, Surface
from .refits import Boat, OwnerSees, Refit, Refits, Units

__all__ = [
    "COVERS_PIECES",
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
    "OwnProcess",
    "OwnerSees",
    "Paper",
    "PaperKind",
    "Piece",
    "PieceEffect",
    "PieceUse",
    "Place",
    "PlaceKind",
    "QuantityUnit",
    "Refit",
    "Refits",
    "RelationChoice",
    "Rig",
    "Shape",
    "Surface",
    "Units",
    "Vendor",
    "Weekday",
    "WorkPackage",
    "Zone",
    "record",
]
