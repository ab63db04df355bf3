"""What waits for what, and why: the physical reason of each wait."""

from __future__ import annotations

from refit.interchange.document import DependencyRow

OFF = "the piece comes off first"

WAITS: tuple[tuple[str, str, str], ...] = (
    ("A6", "K1", "the lid has to be off"),
    ("K1", "G2", "the hinges go into the new core"),
    ("A1", "A2", "pictures and readings are the baseline for every claim"),
    ("A1", "A3", "pictures and readings are the baseline for every claim"),
    ("A1", "A4", "pictures and readings are the baseline for every claim"),
    ("A1", "A5", "pictures and readings are the baseline for every claim"),
    ("A1", "A6", "pictures and readings are the baseline for every claim"),
    ("A1", "E1", "pictures and readings are the baseline for every claim"),
    ("A2", "F1", OFF),
    ("A2", "R1", OFF),
    ("A2", "H1", "rails and hardware off for access"),
    ("A3", "U1", OFF),
    ("A3", "U2", OFF),
    ("A4", "W1", OFF),
    ("A4", "W2", OFF),
    ("A5", "P1", OFF),
    ("A5", "P2", OFF),
    ("A5", "H5", "brackets off, holes open"),
    ("A6", "G1", OFF),
    ("F1", "F2", "weld through coating makes fume and pores"),
    ("F2", "F3", "hardware sits on the finished coat"),
    ("F3", "C1", "the pattern is taken on the finished frame only"),
    ("C1", "C2", "cut from the pattern"),
    ("C1", "F4", "the frame comes home once the pattern is taken"),
    ("C2", "C3", "fitted when sewn"),
    ("F4", "C3", "the canvas hangs on the frame"),
    ("R1", "R2", "polish after welding"),
    ("R2", "R3", "fitted when finished"),
    ("P2", "P3", "coat after welding"),
    ("P1", "P4", "fitted when moulded"),
    ("P3", "P4", "the platform sits on the brackets"),
    ("P3", "P3-R1", "what failed is put right: the right foot was dull"),
    ("P3-R1", "P4", "the platform sits on the brackets"),
    ("H5", "T1", "drill into sound laminate"),
    ("H5", "P4", "bolts through sound laminate"),
    ("T1", "T2", "bed over the sealed core"),
    ("T1", "B2", "drill and seal before paint"),
    ("H1", "H2", "fill before sanding"),
    ("H1", "H3", "fill before sanding"),
    ("H2", "H4", "sand before polishing"),
    ("H3", "H4", "sand before polishing"),
    ("H4", "M1", "bedded on the finished side, before wax"),
    ("H4", "B2", "slurry off before paint goes on"),
    ("B1", "B2", "sound ground first"),
    ("B3", "B4", "the stripe follows the paint line"),
    ("M1", "L1", "letters last"),
    ("B4", "L1", "letters last"),
    ("E1", "E2", "strip out first"),
    ("E1", "E3", "old cables out of the bay"),
    ("E3", "E2", "run cables in a clean bay"),
    ("E2", "E4", "wired before switched on"),
    ("W3", "E4", "electronics go into a dry pilothouse"),
    ("E2", "F4", "the harness runs up the frame's feet"),
    ("W1", "W3", "bedded when glazed"),
    ("W2", "W3", "bedded when glazed"),
    ("G1", "G2", "hung when cured"),
    ("E3", "G2", "the hatch is the way into the bay"),
    ("U1", "U3", "last, after the dust"),
    ("U2", "U3", "last, after the dust"),
    ("H4", "U3", "last, after the dust"),
    ("C3", "U3", "cushions under a closed top"),
    ("X1", "X2", "loaded, then towed"),
    ("X2", "X3", "afloat"),
    ("X3", "X4", "what the trial shows goes on the punch list"),
    ("B4", "X1", "done before the boat leaves the shed"),
    ("C3", "X1", "done before the boat leaves the shed"),
    ("E4", "X1", "done before the boat leaves the shed"),
    ("F4", "X1", "done before the boat leaves the shed"),
    ("G2", "X1", "done before the boat leaves the shed"),
    ("L1", "X1", "done before the boat leaves the shed"),
    ("M1", "X1", "done before the boat leaves the shed"),
    ("P4", "X1", "done before the boat leaves the shed"),
    ("R3", "X1", "done before the boat leaves the shed"),
    ("T2", "X1", "done before the boat leaves the shed"),
    ("U3", "X1", "done before the boat leaves the shed"),
    ("V1", "X1", "done before the boat leaves the shed"),
    ("W3", "X1", "done before the boat leaves the shed"),
)
"""(first, then, reason): each starts after the one before it is finished, hold included."""


def dependencies() -> list[DependencyRow]:
    rows = [_after(before, after, reason) for before, after, reason in WAITS]
    overcoat = _after("B2", "B3", "overcoat while the primer still takes it, or abrade again")
    overcoat["max_lag_minutes"] = 72 * 60
    return sorted([*rows, overcoat], key=lambda row: (row["before"], row["after"]))


def _after(before: str, after: str, reason: str) -> DependencyRow:
    return {
        "before": before,
        "after": after,
        "relation": "finish-to-start",
        "min_lag_minutes": 0,
        "max_lag_minutes": None,
        "lag_in": "elapsed",
        "reason": reason,
    }
