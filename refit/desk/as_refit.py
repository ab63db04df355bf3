"""The as-refit record: what was done by whom, with what, how it was measured, what is left.

Read once into plain words (`read_record`), then set as a PDF (`sheet`) or as a folder of the PDF,
tables and pictures (`folder`). The page shows the same record.
"""

from __future__ import annotations

import csv
import io
import zipfile
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from statistics import median

from refit.custody.models import Picture
from refit.interchange.document import write_document
from refit.interchange.export import export_refit
from refit.interchange.reading import guarded
from refit.paper.sheet import Column, Sheet
from refit.planning.ledger_reading import read_ledger
from refit.quality.models import (
    BatchUse,
    FittedItem,
    Inspection,
    PunchItem,
    PunchState,
    SurveyItem,
    Warranty,
)
from refit.work.models import Refit, WorkPackage
from refit.work.processes import library
from refit.work.wording import say_count, say_day, say_moment, say_money, say_working_time
from refit.work.worked import worked_minutes

from .packages import say_who
from .quality import Judged, judged_rows

MOST_PICTURES = 24
"""In the PDF, the latest; the folder has all."""


@dataclass(frozen=True)
class Lesson:
    """Working time of finished packages, estimated and taken, of one process or one vendor."""

    of: str
    packages: int
    estimated: int
    taken: int
    ratio: float
    """Median of taken over estimated."""

    @property
    def said(self) -> str:
        if 0.95 <= self.ratio <= 1.05:
            return "as estimated"
        return f"{self.ratio:.1f} times the estimate"


@dataclass
class Table:
    """``name``: of its file in the folder."""

    name: str
    title: str
    columns: Sequence[Column]
    rows: list[list[str]]
    empty: str


@dataclass
class Record:
    refit: Refit
    now: datetime
    facts: list[tuple[str, str]]
    tables: list[Table]
    judged: list[Judged]
    lessons: list[Lesson]
    missing: list[str] = field(default_factory=list)
    """What a complete record still lacks, as sentences."""


def read_record(refit: Refit, *, now: datetime, whole: bool = True) -> Record:
    """Without ``whole``: not what has a page of its own (survey, inspections, delays)."""
    packages = list(
        WorkPackage.objects.filter(refit=refit)
        .select_related("vendor", "place", "refit")
        .prefetch_related("people")
    )
    worked = worked_minutes(packages)
    done = [one for one in packages if one.is_finished]
    judged = judged_rows(refit)
    batches = list(BatchUse.objects.filter(refit=refit).select_related("package"))
    punch = list(PunchItem.objects.filter(refit=refit).select_related("vendor", "person"))
    boat, today = refit.boat, refit.today(now)
    facts = [
        ("Boat", ", ".join(str(one) for one in (boat.name, boat.type, boat.built) if one)),
        ("Refit", refit.name),
        ("Began", say_day(refit.start, today)),
        ("Owner", refit.owner_name),
        ("Done", f"{len(done)} of {say_count(len(packages), 'package')}"),
    ]
    record = Record(
        refit,
        now,
        facts,
        [
            _done_table(refit, done, worked, now),
            _batch_table(batches, today),
            _reading_table(judged),
            _warranty_table(refit, today),
            _fitted_table(refit),
            _punch_table(refit, punch, today),
            _money_table(refit, packages),
        ],
        judged,
        _lessons(refit, done, worked),
    )
    if whole:
        record.tables += [
            _inspection_table(refit, now), _survey_table(refit), _ledger_table(refit, now),
        ]  # fmt: skip
    left = [one for one in punch if one.state != PunchState.ACCEPTED]
    unread = [row.criterion.name for row in judged if row.verdict.passed is None]
    failing = [row.criterion.name for row in judged if row.verdict.passed is False]
    if len(done) < len(packages):
        record.missing.append(
            f"{say_count(len(packages) - len(done), 'package')} not finished yet."
        )
    if left:
        record.missing.append(f"{say_count(len(left), 'line')} of the punch list still open.")
    if unread:
        record.missing.append(f"Not read yet: {', '.join(unread)}.")
    if failing:
        record.missing.append(f"Outside its limit: {', '.join(failing)}.")
    return record


def _done_table(
    refit: Refit, done: list[WorkPackage], worked: dict[int, int], now: datetime
) -> Table:
    def said(moment: datetime | None) -> str:
        return say_day(refit.local(moment).date(), refit.today(now)) if moment else ""

    rows = [
        [
            f"{one.code} {one.title}", say_who(one), said(one.started_at), said(one.finished_at),
            say_working_time(worked.get(one.pk, 0), refit.hours_a_day),
        ]
        for one in sorted(done, key=lambda one: (one.finished_at or now, one.code))
    ]  # fmt: skip
    columns = [
        Column("What", 3.2), Column("By whom", 1.8), Column("From", 1), Column("To", 1),
        Column("Took", 1.2, figures=True),
    ]  # fmt: skip
    return Table("done", "What was done, and by whom", columns, rows, "Nothing is finished yet.")


def _batch_table(batches: list[BatchUse], today: object) -> Table:
    rows = [
        [one.package.code, one.material, one.batch, one.amount, one.mix,
         say_day(one.used_on) if one.used_on else ""]
        for one in batches
    ]  # fmt: skip
    columns = [
        Column("In", 0.7), Column("Material", 2.2), Column("Batch", 1.4), Column("How much", 1),
        Column("Mix", 1.2), Column("Used on", 1),
    ]  # fmt: skip
    return Table("materials", "Materials and batches", columns, rows, "No batch was noted.")


def _number(value: object) -> str:
    return "" if value is None else f"{value:.1f}".removesuffix(".0")


def _reading_table(judged: list[Judged]) -> Table:
    rows = [
        [
            row.criterion.name, station.station, _number(station.before), _number(station.after),
            _number(station.gained), row.criterion.shown_unit,
        ]
        for row in judged
        for station in row.verdict.stations
    ]  # fmt: skip
    columns = [
        Column("Criterion", 2), Column("Station", 1.6), Column("Before", figures=True),
        Column("After", figures=True), Column("Gained", figures=True), Column("Unit", 0.6),
    ]  # fmt: skip
    return Table("readings", "Readings before and after", columns, rows, "Nothing was measured.")


def _inspection_table(refit: Refit, now: datetime) -> Table:
    rows = [
        [say_moment(one.inspected_at, refit.zone, refit.today(now)), one.package.code,
         one.inspected_by, one.sentence]
        for one in Inspection.objects.filter(refit=refit)
        .select_related("package").order_by("inspected_at")
    ]  # fmt: skip
    columns = [Column("When", 1.2), Column("What", 0.7), Column("By", 1), Column("Verdict", 4)]
    return Table("inspections", "Inspections", columns, rows, "Nothing was inspected.")


def _warranty_table(refit: Refit, today: object) -> Table:
    rows = [
        [one.of, one.given_by, one.starts.isoformat(), one.ends.isoformat(), one.terms]
        for one in Warranty.objects.filter(refit=refit)
    ]
    columns = [
        Column("Of", 2), Column("Given by", 1.6), Column("From", 1), Column("Until", 1),
        Column("Terms", 2),
    ]  # fmt: skip
    return Table("warranties", "Warranties", columns, rows, "No warranty was noted.")


def _fitted_table(refit: Refit) -> Table:
    rows = [
        [one.get_kind_display(), one.label, one.name, one.goes_from, one.goes_to, one.size]
        for one in FittedItem.objects.filter(refit=refit)
    ]
    columns = [
        Column("List", 0.7), Column("Label", 0.8), Column("What", 2), Column("From, or where", 1.4),
        Column("To", 1.4), Column("Size, fuse, number", 1.6),
    ]  # fmt: skip
    return Table("wires-and-parts", "Wires and parts", columns, rows, "No list was kept.")


def _survey_table(refit: Refit) -> Table:
    rows = [
        [one.system, one.title, one.condition, one.reading, one.get_proposal_display()]
        for one in SurveyItem.objects.filter(refit=refit)
    ]
    columns = [
        Column("System", 1), Column("What", 1.6), Column("How it was", 2.4), Column("Read", 1.2),
        Column("Became", 1),
    ]  # fmt: skip
    return Table("survey", "The survey before", columns, rows, "No survey was made.")


def _punch_table(refit: Refit, punch: list[PunchItem], today: object) -> Table:
    rows = [
        [f"{one.code} {one.title}", one.whose, one.due.isoformat() if one.due else "",
         one.get_state_display(),
         say_money(one.cost, refit.currency) if one.cost is not None else ""]
        for one in punch
    ]  # fmt: skip
    columns = [
        Column("What", 2.6), Column("Whose", 1.4), Column("Due", 1), Column("How it stands", 1.4),
        Column("Cost", 1, figures=True),
    ]  # fmt: skip
    return Table("punch-list", "Punch list", columns, rows, "Nothing was on it.")


def _money_table(refit: Refit, packages: list[WorkPackage]) -> Table:
    rows = [
        [
            f"{one.code} {one.title}", say_who(one),
            "" if one.budget is None else say_money(one.budget, refit.currency),
            "" if one.agreed_price is None else say_money(one.agreed_price, refit.currency),
        ]
        for one in packages
        if one.budget is not None or one.agreed_price is not None
    ]  # fmt: skip
    columns = [
        Column("What", 2.6), Column("By whom", 1.6), Column("Budget", 1, figures=True),
        Column("Agreed", 1, figures=True),
    ]  # fmt: skip
    return Table("money", "Budget and agreed prices", columns, rows, "No money was noted.")


def _ledger_table(refit: Refit, now: datetime) -> Table:
    ledger = read_ledger(refit)
    rows = [
        [
            say_day(refit.local(line.entry.at).date(), refit.today(now)), line.entry.said,
            line.entry.party, say_day(refit.local(line.entry.launch_after).date()),
        ]
        for line in (ledger.lines if ledger else [])
    ]  # fmt: skip
    columns = [
        Column("When", 1), Column("What moved the launch", 3.6), Column("Whose", 1.3),
        Column("Launch then", 1),
    ]  # fmt: skip
    return Table("delays", "What moved the launch", columns, rows, "Nothing moved it.")


def _lessons(refit: Refit, done: list[WorkPackage], worked: dict[int, int]) -> list[Lesson]:
    """By process and by whoever did the work; only packages with an estimate and open time."""
    names = {key: one.name for key, one in library().items()}
    groups: dict[str, list[WorkPackage]] = defaultdict(list)
    for one in done:
        if not one.likely_minutes or not worked.get(one.pk):
            continue
        if one.process:
            groups[names.get(one.process, one.process)].append(one)
        groups[one.vendor.name if one.vendor else "our own crew"].append(one)
    return [
        Lesson(
            of=name,
            packages=len(rows),
            estimated=sum(one.likely_minutes for one in rows),
            taken=sum(worked[one.pk] for one in rows),
            ratio=median(worked[one.pk] / one.likely_minutes for one in rows),
        )
        for name, rows in sorted(groups.items())
    ]


def _lesson_table(record: Record) -> Table:
    day = record.refit.hours_a_day
    rows = [
        [one.of, str(one.packages), say_working_time(one.estimated, day),
         say_working_time(one.taken, day), one.said]
        for one in record.lessons
    ]  # fmt: skip
    columns = [
        Column("Process, or who", 2), Column("Packages", 0.8, figures=True),
        Column("Estimated", 1.2, figures=True), Column("Took", 1.2, figures=True),
        Column("Usually", 1.6),
    ]  # fmt: skip
    title = "Lessons: estimated and taken"
    return Table("lessons", title, columns, rows, "Nothing is finished that can teach.")


def all_tables(record: Record) -> list[Table]:
    return [*record.tables, _lesson_table(record)]


def _pictures(record: Record) -> list[Picture]:
    rows = Picture.objects.filter(refit=record.refit).select_related("piece")
    return list(rows.order_by("added_at"))


def _bytes(picture: Picture, *, small: bool) -> bytes | None:
    try:
        with (picture.small if small else picture.file).open("rb") as file:
            return bytes(file.read())
    except OSError:
        return None


def sheet(record: Record) -> bytes:
    """The record as a PDF."""
    refit, now = record.refit, record.now
    made = f"made {say_moment(now, refit.zone, refit.today(now))}"
    paper = Sheet(
        title="As-refit record", boat=refit.boat.name, made=made, moment=now,
        size="Letter" if refit.units == "us" else "A4",
    )  # fmt: skip
    paper.facts(record.facts)
    if record.missing:
        paper.sentence("Still missing. " + " ".join(record.missing), strong=True)
    for table in all_tables(record):
        paper.heading(table.title)
        if table.rows:
            paper.table(table.columns, table.rows)
        else:
            paper.sentence(table.empty, quiet=True)
        if table.name == "readings":
            for row in record.judged:
                paper.sentence(f"{row.criterion.name}: {row.verdict.sentence}")
    shown = [
        (content, f"{one.piece.name}, {say_day(refit.local(one.added_at).date())}. {one.caption}")
        for one in _pictures(record)[-MOST_PICTURES:]
        if (content := _bytes(one, small=True)) is not None
    ]
    if shown:
        paper.heading("Pictures")
        paper.pictures(shown)
    paper.caution(
        "Product data sheets, local codes and licensed practice come first, now and at every"
        " later repair."
    )
    return paper.finish()


def folder(record: Record) -> bytes:
    """A zip: the PDF, every table as CSV, all pictures, and the refit document."""
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("as-refit.pdf", sheet(record))
        for table in all_tables(record):
            text = io.StringIO(newline="")
            writer = csv.writer(text)
            writer.writerow([column.title for column in table.columns])
            writer.writerows([[guarded(cell) for cell in row] for row in table.rows])
            archive.writestr(f"tables/{table.name}.csv", "\ufeff" + text.getvalue())
        for picture in _pictures(record):
            content = _bytes(picture, small=False)
            if content is not None:
                archive.writestr(
                    f"pictures/{picture.piece.tag}-{picture.added_at:%Y-%m-%d}-{picture.pk}.jpg",
                    content,
                )
        archive.writestr("refit.json", write_document(export_refit(record.refit)))
    return file.getvalue()
