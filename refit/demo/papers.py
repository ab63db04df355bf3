"""What the vendors showed of their insurance: one cover ends before its piece is due back, one
was never asked for."""

from __future__ import annotations

from typing import Literal

from refit.interchange.document import PaperRow

from .cast import BRACKWATER, GANNETRY, PETRELHAVEN, SCOTER, TARBOTTLE, WRACKLINE
from .clock import FRI, MON, TUE, DemoClock

Kind = Literal["liability", "customers' property", "workers' compensation", "certificate", "other"]
Day = tuple[int, int]


def papers(clock: DemoClock) -> list[PaperRow]:
    def paper(
        vendor: str,
        kind: Kind,
        number: str,
        issuer: str,
        covers: str | None,
        first: Day,
        last: Day,
        note: str = "",
    ) -> PaperRow:
        return {
            "vendor": vendor,
            "kind": kind,
            "number": number,
            "issuer": issuer,
            "covers": covers,
            "valid_from": clock.day(*first),
            "valid_until": clock.day(*last),
            "note": note,
        }

    mutual, assurance = "Kelpmouth Mutual", "Innerkelp Assurance"
    return [
        paper(GANNETRY, "liability", "KM-40117", mutual, "2000000", (-20, MON), (32, FRI)),
        paper(GANNETRY, "customers' property", "KM-40117-B", mutual, "150000", (-20, MON),
              (32, FRI)),
        paper(GANNETRY, "certificate", "W-2207", "Innerkelp welding school", None, (-60, MON),
              (44, FRI), "Aluminium, all positions: Isolde Varn."),
        paper(SCOTER, "liability", "IA-7731", assurance, "2000000", (-8, MON), (44, FRI)),
        paper(SCOTER, "customers' property", "IA-7732", assurance, "80000", (-8, MON), (44, FRI)),
        paper(SCOTER, "workers' compensation", "58812", "provincial board", None, (-8, MON),
              (44, FRI)),
        paper(BRACKWATER, "liability", "KM-38850", mutual, "1000000", (-45, MON), (7, TUE)),
        paper(BRACKWATER, "customers' property", "KM-38851", mutual, "40000", (-45, MON),
              (7, TUE), "Renewal promised, not seen yet."),
        paper(PETRELHAVEN, "liability", "IA-6190", assurance, "1000000", (-30, MON), (21, FRI)),
        paper(PETRELHAVEN, "customers' property", "IA-6191", assurance, "60000", (-30, MON),
              (21, FRI)),
        paper(WRACKLINE, "liability", "KM-41202", mutual, "1000000", (-12, MON), (39, FRI)),
        paper(TARBOTTLE, "liability", "IA-8044", assurance, "2000000", (-3, MON), (48, FRI)),
        paper(TARBOTTLE, "workers' compensation", "60027", "provincial board", None, (-3, MON),
              (48, FRI)),
    ]  # fmt: skip
