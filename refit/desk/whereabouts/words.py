"""What the shapes of the picture say to a pointer that rests on them, and to who cannot see."""

from __future__ import annotations

from refit.work.wording import say_day, say_list, say_moment

from .rows import LegRow, PackageRow, Rows
from .shapes import Picture


def say_package(package: PackageRow, rows: Rows) -> str:
    """Title, dates, reason: the words behind a block."""
    zone, today = rows.zone, rows.today
    place = next((row.name for row in rows.places if row.id == package.place), "")
    where = ", ".join(dict.fromkeys(word for word in (place, package.by) if word))
    parts = [f"{package.code} {package.title}: {where}."]
    begun = "Started" if package.started else "Starts"
    over = "finished" if package.finished else "finishes"
    parts.append(
        f"{begun} {say_moment(package.start, zone, today)}, "
        f"{over} {say_moment(package.work_finish, zone, today)}."
    )
    if package.finish > package.work_finish:
        why = f" ({package.hold_reason})" if package.hold_reason else ""
        parts.append(f"Holds until {say_moment(package.finish, zone, today)}{why}.")
    if package.cause and not package.started:
        parts.append(f"It {package.cause.rstrip('.')}.")
    if package.drives:
        parts.append("It is on the driving chain: a day more here is a day more to the launch.")
    parts += [f"! {sentence}" for sentence in package.late]
    return "\n".join(parts)


def say_way(way: LegRow, rows: Rows) -> str:
    names = {place.id: place.name for place in rows.places}
    piece = next((row for row in rows.pieces if row.id == way.piece), None)
    who = f"{piece.name} ({piece.tag})" if piece else "piece"
    path = f"{names.get(way.origin, '?')} to {names.get(way.destination, '?')}"
    if not way.recorded:
        return f"{who}: {path}. The move was not recorded."
    zone, today = rows.zone, rows.today
    left = "left" if way.sent else "leaves"
    there = "arrived" if way.arrived else "arrives"
    said = (
        f"{who}: {path}. It {left} {say_moment(way.depart, zone, today)} "
        f"and {there} {say_moment(way.arrive, zone, today)}."
    )
    return f"{said}\n! {way.late}" if way.late else said


def describe(picture: Picture, rows: Rows) -> str:
    """One sentence for those who do not see it."""
    places = say_list([lane.place.name for lane in picture.lanes])
    return (
        f"Where {len(picture.pieces)} pieces are from {say_day(picture.scale.first)} on, at "
        f"{places}; {len(picture.blocks)} packages and {len(picture.slants)} moves. "
        "The same is told day by day and as a table below the picture."
    )
