"""What the demo drives with. All invented; weights and limits as such vehicles have them
(common practice, no source)."""

from __future__ import annotations

from refit.interchange.document import DrivingRow, RigRow

RIGS: list[RigRow] = [
    {
        "name": "Grey pickup and boat trailer",
        "tows_boat": True,
        "bed_length_m": "3",
        "bed_width_m": "2.4",
        "bed_load_kg": "700",
        "per_km": "0.68",
        "tow_limit_kg": "3500",
        "tongue_limit_kg": "350",
        "tongue_low": "5",
        "tongue_high": "10",
        "country": "CA",
        "width_limit_m": None,
        "height_limit_m": None,
        "tie_downs_direct": 4,
        "tie_downs_over": 1,
        "tie_limit_kg": "907",
        "blocked_forward": False,
        "note": "The rack over the bed takes the frame and the rub rail.",
    }
]
"""A pickup that can tow the boat."""
DRIVING: DrivingRow = {
    "day_starts": "07:00",
    "day_ends": "19:00",
    "saturdays": True,
    "drivers": 1,
    "nights": 0,
    "per_hour": "38",
    "per_trip": "8",
    "per_night": "120",
    "tow_speed": 80,
    "weeks": 8,
    "use_float": True,
}
