"""The receipt of one handoff as a printed sheet: both ends, what differs, lines to sign.

Who may read it is judged in ``views.py``. A vendor reads no other vendor's name in it, as on its
page: the far end is then “another shop”.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime

from django.utils.text import capfirst

from refit.paper import Sheet, Size
from refit.work.models import COVERS_PIECES, Paper, Place, Units, Vendor
from refit.work.wording import say_count, say_day, say_list, say_moment

from .chain import carried_by, keeper, say_to_confirm
from .cover import Stay, gaps, say_missing
from .models import Carrier, End, Handoff, HandoffState, Picture
from .services import NOT_RECORDED

FAR = "another shop"
NOT_YET = "not yet confirmed"


def make_receipt(handoff: Handoff, *, now: datetime, reader: Vendor | None = None) -> bytes:
    """The PDF, as ``reader`` may see it; None: a member or the owner, who see both ends."""
    refit, piece = handoff.refit, handoff.piece
    today = refit.today(now)

    def moment(at: datetime | None) -> str:
        return say_moment(at, refit.zone, today) if at is not None else ""

    def is_far(place: Place) -> bool:
        return reader is not None and place.vendor_id not in (None, reader.pk)

    def place_of(place: Place) -> str:
        return FAR if is_far(place) else place.name

    def party(place: Place) -> str:
        return FAR if is_far(place) else keeper(place)

    size: Size = "Letter" if refit.units == Units.US else "A4"
    sheet = Sheet(
        title=f"Receipt: {piece.name}",
        boat=refit.boat.name,
        made=f"Handoff {handoff.pk}, made {moment(now)}",
        moment=now,
        size=size,
    )
    sheet.sentence(
        f"{capfirst(place_of(handoff.origin))} → {place_of(handoff.destination)}: "
        f"{handoff.get_state_display()}.",
        strong=True,
    )
    foreign = is_far(handoff.origin) or is_far(handoff.destination)
    carried = carried_by(handoff)
    if foreign and handoff.carrier == Carrier.VENDOR:
        carried = "a shop"
    sheet.facts(
        [
            ("Piece", str(piece)),
            ("Consists of", say_count(piece.parts, "part")),
            ("Travels with", piece.travels_with),
            ("Carried by", carried),
            ("Due back", moment(handoff.due_at) if not is_far(handoff.origin) else ""),
        ]
    )
    ends = (
        (End.SENT, "It left", handoff.origin, handoff.sent_at, handoff.sent_by,
         handoff.sent_parts, handoff.sent_condition),
        (End.RECEIVED, "It arrived at", handoff.destination, handoff.received_at,
         handoff.received_by, handoff.received_parts, handoff.received_condition),
    )  # fmt: skip
    pictures = list(handoff.pictures.all())
    for end, heading, place, at, by, parts, condition in ends:
        sheet.heading(f"{heading} {place_of(place)}")
        if at is None:
            sheet.sentence(f"{capfirst(party(place))}: {NOT_YET}.", quiet=True)
            continue
        noted = by != NOT_RECORDED
        sheet.facts(
            [
                ("When", moment(at) if noted else "nobody noted it"),
                ("Said by", "" if not noted else FAR if is_far(place) else by),
                ("Parts counted", "nobody counted" if parts is None else str(parts)),
                ("Condition", condition or "nothing noted"),
            ]
        )
        sheet.pictures(_shown([one for one in pictures if one.end == end], moment))
    sheet.heading("What differs between the two ends")
    for said in _differences(handoff):
        sheet.sentence(said)
    if not foreign and (waiting := say_to_confirm(handoff)):
        sheet.sentence(waiting, quiet=True)
    for said in _say_cover(handoff, now) if not is_far(handoff.destination) else []:
        sheet.sentence(said)
    sheet.heading("Signed")
    sheet.sentence("By signing, each end confirms what stands above for it.", quiet=True)
    sheet.signatures(
        [
            f"Handed over: {party(handoff.origin)}, date",
            f"Received: {party(handoff.destination)}, date",
        ]
    )
    return sheet.finish()


def _shown(pictures: list[Picture], moment: Callable[[datetime], str]) -> list[tuple[bytes, str]]:
    """The small pictures with what is said under them; a file that is gone is left out."""
    found: list[tuple[bytes, str]] = []
    for one in pictures:
        try:
            with one.small.open("rb") as file:
                found.append((file.read(), one.caption or moment(one.added_at)))
        except OSError:
            continue
    return found


def _differences(handoff: Handoff) -> list[str]:
    """The counts and the words of the two ends held together, as sentences; never none."""
    if handoff.received_at is None:
        return ["It has not arrived yet."]
    found = [said] if (said := handoff.say_parts()) else []
    if handoff.received_parts is None or handoff.sent_parts is None:
        found.append("The parts were not counted at both ends.")
    if handoff.sent_condition.strip() != handoff.received_condition.strip():
        found.append("The condition was described differently: compare the two ends above.")
    return found or ["Nothing: count and words are the same at both ends."]


def _say_cover(handoff: Handoff, now: datetime) -> list[str]:
    """Whether the papers of the keeper at the destination last; nothing where that is over."""
    vendor, piece = handoff.destination.vendor, handoff.piece
    is_there = handoff.state == HandoffState.RECEIVED
    over = handoff.state == HandoffState.CANCELLED or (
        is_there and piece.place_id != handoff.destination_id
    )
    if vendor is None or over:
        return []
    refit = handoff.refit
    today = refit.today(now)
    comes = handoff.arrive_at or handoff.needed_at
    begins = today if is_there or comes is None else max(today, refit.local(comes).date())
    onward = (
        Handoff.objects.open()
        .filter(piece=piece, origin_id=handoff.destination_id)
        .exclude(pk=handoff.pk)
        .first()
    )
    back = onward.expected_at or onward.depart_at if onward is not None else None
    until = refit.local(back).date() if back is not None else None
    stay = Stay(vendor, piece, begins, until, is_there)
    papers = list(Paper.objects.filter(refit=refit, vendor=vendor))
    said = [gap.sentence for gap in gaps([stay], papers, today=today)]
    if missing := say_missing(stay, papers):
        said.append(missing)
    if said:
        return said
    lasting = [f"{kind.label} {_ends(papers, kind, today)}" for kind in COVERS_PIECES]
    return [f"As noted, {vendor} is covered: {say_list(lasting)}."]


def _ends(papers: list[Paper], kind: str, today: date) -> str:
    ends = [paper.valid_until for paper in papers if paper.kind == kind]
    known = [end for end in ends if end is not None]
    if len(known) < len(ends):
        return "without a last day"
    return f"until {say_day(max(known), today)}"
