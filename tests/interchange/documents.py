"""Refit documents for tests: one small and hand-made, and a strategy that draws any others."""

from __future__ import annotations

import copy
from datetime import date
from typing import Any

from hypothesis import strategies as st

from refit.interchange.document import RefitDocument, check_document
from refit.interchange.schema import the_schema

DECIMALS = {
    "money": (12, 2, False),
    "metres": (6, 3, False),
    "kilograms": (9, 2, False),
    "kilometres": (7, 2, False),
    "rate": (6, 2, False),
}


def a_document(**changes: Any) -> dict[str, Any]:
    """A small document as somebody would type it: what has a default is left out."""
    document = {
        "format": "refit-document",
        "version": 1,
        "boat": {"name": "Sallow Tern"},
        "refit": {
            "name": "Pilothouse refit",
            "slug": "sallow-tern",
            "start": "2026-10-12",
            "time_zone": "Atlantic/Faroe",
            "currency": "EUR",
        },
        "vendors": [{"name": "Skerrow Coatings"}],
        "places": [
            {
                "name": "Home shed",
                "kind": "home",
                "hours": [{"weekday": 0, "opens": "08:00", "closes": "17:00"}],
            },
            {"name": "Coating booth", "kind": "shop", "vendor": "Skerrow Coatings"},
        ],
        "crew": [{"name": "Odd Brekke"}],
        "zones": [{"name": "Wheelhouse"}],
        "pieces": [
            {"tag": "ST-00", "name": "Boat", "is_boat": True, "place": "Home shed"},
            {"tag": "ST-03", "name": "Canopy frame", "fitted": True},
        ],
        "packages": [
            a_package("H01", pieces=[{"piece": "ST-03", "effect": "takes off"}]),
            a_package(
                "H02",
                place="Coating booth",
                vendor="Skerrow Coatings",
                pieces=[{"piece": "ST-03"}],
            ),
        ],
        "dependencies": [{"before": "H01", "after": "H02", "reason": "it has to be off"}],
    }
    return document | changes


def a_package(code: str, **fields: Any) -> dict[str, Any]:
    row = {"code": code, "title": f"Package {code}", "place": "Home shed"}
    return row | dict.fromkeys(["low_minutes", "likely_minutes", "high_minutes"], 480) | fields


# --- any document ----------------------------------------------------------------------------

_text = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), max_size=20)
_key = st.text(
    st.characters(exclude_categories=["Cs", "Cc", "Zl", "Zp"]), min_size=1, max_size=12
).filter(lambda text: text == text.strip() and "\n" not in text)
_days = st.dates(date(1950, 1, 1), date(2190, 12, 31))


def _decimal(digits: int, places: int) -> st.SearchStrategy[str]:
    return st.decimals(0, 10 ** (digits - places) - 1, places=places).map(lambda d: format(d, "f"))


def _signed(most: int, places: int) -> st.SearchStrategy[str]:
    drawn = st.decimals(-most, most, places=places)
    return drawn.map(lambda d: format(d if d else abs(d), "f"))


@st.composite
def _moment(draw: st.DrawFn) -> str:
    day = draw(_days)
    clock = draw(st.times())
    offset = draw(st.sampled_from(["Z", "+00:00", "+02:00", "-03:30"]))
    return f"{day}T{clock.isoformat()}{offset}"


def _value(schema: dict[str, Any]) -> st.SearchStrategy[Any]:
    if "$ref" in schema:
        name = schema["$ref"].removeprefix("#/$defs/")
        kind = name.removesuffix("_or_null")
        forms: dict[str, st.SearchStrategy[Any]] = {
            "day": _days.map(str),
            "moment": _moment(),
            "number": _signed(99999, 4),
            "quantity": _decimal(9, 3),
            "celsius": _signed(39, 2),
            "percent": st.integers(100, 10000).map(lambda n: f"{n // 100}.{n % 100:02}"),
            "factor": st.integers(100, 500).map(lambda n: f"{n // 100}.{n % 100:02}"),
            "degrees": st.integers(-9000000, 9000000).map(
                lambda n: f"{'-' * (n < 0)}{abs(n) // 100000}.{abs(n) % 100000:05}"
            ),
        } | {kind: _decimal(digits, places) for kind, (digits, places, _) in DECIMALS.items()}
        if kind in forms:
            return st.none() | forms[kind] if name != kind else forms[kind]
        return _value(the_schema()["$defs"][name])
    if "enum" in schema:
        return st.sampled_from(schema["enum"])
    kinds = schema["type"] if isinstance(schema["type"], list) else [schema["type"]]
    return st.one_of([_of_kind(kind, schema) for kind in kinds])


def _of_kind(kind: str, schema: dict[str, Any]) -> st.SearchStrategy[Any]:
    match kind:
        case "null":
            return st.none()
        case "boolean":
            return st.booleans()
        case "integer":
            return st.integers(schema["minimum"], schema["maximum"])
        case "string":
            text = _key if "minLength" in schema else _text
            longest = schema.get("maxLength", 20)
            return text.map(lambda drawn: drawn[:longest])
    raise AssertionError(kind)


def _draw_row(draw: st.DrawFn, name: str, /, **given: Any) -> dict[str, Any]:
    """A row of ``$defs/name``: ``given``, and for every other property any value it may have."""
    schema = the_schema()["$defs"][name]
    return {
        key: given[key] if key in given else draw(_value(inner))
        for key, inner in schema["properties"].items()
    }


def _some(draw: st.DrawFn, names: list[str]) -> str | None:
    return draw(st.sampled_from([*names, None]))


def _a_drawn_rig(draw: st.DrawFn, name: str) -> dict[str, Any]:
    low, high = sorted(draw(st.lists(st.integers(0, 500), min_size=2, max_size=2)))
    shares = {"tongue_low": f"{low / 10:.1f}", "tongue_high": f"{high / 10:.1f}"}
    return _draw_row(draw, "rig", name=name, **shares)


@st.composite
def documents(draw: st.DrawFn) -> RefitDocument:
    """Any document that can be imported, in its one form."""

    def names(most: int) -> list[str]:
        return draw(st.lists(_key, max_size=most, unique=True))

    def rows(name: str, most: int, **given: Any) -> list[dict[str, Any]]:
        return [_draw_row(draw, name, **given) for _ in range(draw(st.integers(0, most)))]

    def days() -> list[dict[str, Any]]:
        found = rows("days", 2)
        for row in found:
            row["first_day"], row["last_day"] = sorted([row["first_day"], row["last_day"]])
        return found

    def shifts() -> list[dict[str, Any]]:
        weekdays = draw(st.lists(st.integers(0, 6), max_size=3, unique=True))
        spans = st.sampled_from([("07:30", "12:00"), ("13:00", "00:00"), ("00:00", "00:00")])
        return [
            dict(zip(("weekday", "opens", "closes"), (day, *draw(spans)), strict=True))
            for day in weekdays
        ]

    vendors, crew, zones, rigs = names(3), names(3), names(3), names(2)
    places = draw(st.lists(_key, min_size=1, max_size=4, unique=True))
    tags = [tag[:20] for tag in names(4)]
    codes = [code[:20] for code in names(5)]
    country, region = draw(st.sampled_from([("", ""), ("FO", ""), ("CA", "NS")]))
    known = {"vendors": vendors, "crew": crew, "zones": zones, "places": places, "tags": tags}
    document: dict[str, Any] = {
        "format": "refit-document",
        "version": 1,
        "boat": _draw_row(draw, "boat"),
        "refit": _draw_row(
            draw,
            "refit",
            slug=draw(st.from_regex(r"\A[-a-zA-Z0-9_]{1,60}\Z")),
            time_zone=draw(st.sampled_from(["UTC", "America/Halifax", "Atlantic/Faroe"])),
            currency=draw(st.from_regex(r"\A[A-Z]{3}\Z")),
            owner_email=draw(st.sampled_from(["", "owner@boat.example"])),
            road_factor=draw(st.sampled_from(["1", "1.30", "5.00"])),
        ),
        "vendors": [
            _draw_row(draw, "vendor", name=name, email="shop@vendor.example") for name in vendors
        ],
        "papers": [_a_drawn_paper(draw, name) for name in vendors if draw(st.booleans())],
        "places": [
            _draw_row(
                draw,
                "place",
                name=name,
                vendor=_some(draw, vendors),
                holiday_country=country,
                holiday_region=region,
                hours=shifts(),
                closures=days(),
            )
            for name in places
        ],
        "distances": [
            _draw_row(draw, "distance", origin=one, destination=other)
            for one in places
            for other in places
            if one != other and draw(st.booleans())
        ],
        "rigs": [_a_drawn_rig(draw, name) for name in rigs],
        "driving": _draw_row(
            draw,
            "driving",
            day_starts=draw(st.sampled_from(["00:00", "07:45"])),
            day_ends=draw(st.sampled_from(["16:30", "23:59"])),
        ),
        "crew": [
            _draw_row(draw, "crew_member", name=name, email="", absences=days()) for name in crew
        ],
        "zones": [{"name": name} for name in zones],
        "pieces": [
            _draw_row(
                draw,
                "piece",
                tag=tag,
                is_boat=number == 1,
                place=_some(draw, places),
                returns_to=_some(draw, places),
            )
            for number, tag in enumerate(tags)
        ],
        "packages": [
            _a_drawn_package(draw, code, number, known) for number, code in enumerate(codes)
        ],
        "dependencies": [],
        "bookings": [
            _draw_row(draw, "booking", package=code) for code in codes if draw(st.booleans())
        ],
        "handoffs": [],
        "findings": [
            _draw_row(
                draw,
                "finding",
                code=code,
                found_in=_some(draw, codes),
                piece=_some(draw, tags),
                zone=_some(draw, zones),
            )
            for code in [code[:20] for code in names(3)]
        ],
    }
    finding_codes = [row["code"] for row in document["findings"]]
    document |= _drawn_contracts(draw, codes, finding_codes, known)
    document |= quality_lists(draw, known | {"codes": codes})
    for one in codes:
        for other in codes:
            if one != other and draw(st.booleans()):
                row = _draw_row(draw, "dependency", before=one, after=other)
                lags = row["min_lag_minutes"], row["max_lag_minutes"]
                if lags[1] is not None:
                    row["min_lag_minutes"], row["max_lag_minutes"] = sorted(lags)
                document["dependencies"].append(row)
    for tag in tags if len(places) > 1 else []:
        for _ in range(draw(st.integers(0, 2))):
            day = draw(st.sampled_from([None, "2026-12-04"]))
            row = _draw_row(
                draw,
                "handoff",
                piece=tag,
                origin=places[0],
                destination=places[1],
                for_package=_some(draw, codes),
                after_package=_some(draw, codes),
                drive_on=day,
                drive_with=_some(draw, rigs) if day else None,
                state=draw(st.sampled_from(["planned", "ready", "cancelled"])),
                sent_at="2026-11-02T08:00:00.123456+00:00",
                received_at=draw(st.sampled_from([None, "2026-11-02T09:00:00+00:00"])),
            )
            document["handoffs"].append(row)
    return check_document(copy.deepcopy(document))


def _a_drawn_paper(draw: st.DrawFn, vendor: str) -> dict[str, Any]:
    row = _draw_row(draw, "paper", vendor=vendor, number=draw(st.just("") | _key))
    if row["valid_from"] and row["valid_until"]:
        row["valid_from"], row["valid_until"] = sorted([row["valid_from"], row["valid_until"]])
    return row


def quality_lists(draw: st.DrawFn, known: dict[str, list[str]]) -> dict[str, list[dict[str, Any]]]:
    """Rows about processes, survey, quality and handing over, whose names are in ``known``."""
    codes, tags, zones = known["codes"], known["tags"], known["zones"]

    def some(names: list[str]) -> str | None:
        return _some(draw, names)

    def few(name: str, **given: Any) -> list[dict[str, Any]]:
        return [
            _draw_row(draw, name, **{key: give() for key, give in given.items()})
            for _ in range(draw(st.integers(0, 2)))
        ]

    def named(most: int = 2) -> list[str]:
        return draw(st.lists(_key, max_size=most, unique=True))

    def code() -> str:
        return draw(st.sampled_from(codes))

    def one_code() -> str | None:
        return some(codes)

    def tag() -> str | None:
        return some(tags)

    def judged(**more: Any) -> dict[str, Any]:
        method = draw(st.sampled_from(["gloss", "film", "torque", "scale" if scales else "other"]))
        geometry = draw(st.sampled_from(["20", "60", "85"])) if method == "gloss" else ""
        scale = scales[0] if method == "scale" else some(scales)
        return {"method": method, "geometry": geometry, "scale": scale} | more

    scales = named()
    lists = {
        "scales": [
            _draw_row(draw, "scale", name=name, steps=draw(st.lists(_key, min_size=2, max_size=4)))
            for name in scales
        ],
        "processes": [
            {"key": key, "content": draw(st.sampled_from(OWN)) | {"key": key}}
            for key in draw(st.lists(st.sampled_from(["a", "rub-2", "own-way"]), unique=True))
        ],
        "surfaces": [_draw_row(draw, "surface", name=name) for name in named()],
        "survey_items": [
            _draw_row(
                draw, "survey_item", code=name, piece=tag(), zone=some(zones), package=one_code()
            )
            for name in named()
        ],
        "climate": few(
            "climate_entry", place=lambda: draw(st.sampled_from(known["places"])), package=one_code
        ),
        "punch_items": [
            _draw_row(
                draw, "punch_item", code=name, package=one_code(), piece=tag(),
                person=some(known["crew"]), vendor=some(known["vendors"]),
            )
            for name in named()
        ],
        "warranties": few(
            "warranty", package=one_code, starts=lambda: "2026-11-25", ends=lambda: "2027-11-25"
        ),
        "fitted_items": [
            _draw_row(draw, "fitted_item", label=label, package=one_code()) for label in named()
        ],
        "readings": [
            _draw_row(
                draw, "reading", package=one_code(), piece=tag(),
                values=draw(st.lists(_signed(99999, 4), min_size=1, max_size=3)), **judged(),
            )
            for _ in range(draw(st.integers(0, 2)))
        ],
    }  # fmt: skip
    if codes:
        criteria = named()
        lists["criteria"] = [
            _draw_row(draw, "criterion", package=code(), name=name, high=None, **judged())
            for name in criteria
        ]
        lists["batches"] = few("batch", package=code)
        lists["inspections"] = few(
            "inspection", package=code, criterion=lambda: some(criteria), rework=one_code
        )
    return lists


OWN: list[dict[str, Any]] = [
    {
        "key": "own",
        "name": "Our way",
        "steps": [
            {
                "key": "one",
                "title": "One",
                "time": {
                    "setup": [0, 0, 0], "each": [1.5, 2, 30], "standing": "own experience",
                },
            }
        ],
    }
]  # fmt: skip


def _a_drawn_package(
    draw: st.DrawFn, code: str, number: int, known: dict[str, list[str]]
) -> dict[str, Any]:
    minutes = sorted(draw(st.integers(0, 10000)) for _ in range(3))
    started = draw(st.sampled_from([None, "2026-11-02T08:00:00Z"]))
    finished = draw(st.sampled_from([None, "2026-11-03T08:00:00Z"])) if started else None
    used = draw(st.lists(st.sampled_from(known["tags"]), unique=True)) if known["tags"] else []
    people, zones = (
        [name for name in known[key] if draw(st.booleans())] for key in ("crew", "zones")
    )
    return _draw_row(
        draw,
        "package",
        code=code,
        vendor=_some(draw, known["vendors"]),
        place=draw(st.sampled_from(known["places"])),
        pieces=[_draw_row(draw, "piece_use", piece=tag) for tag in used],
        low_minutes=minutes[0],
        likely_minutes=minutes[1],
        high_minutes=minutes[2],
        is_launch=number == 1,
        started_at=started,
        finished_at=finished,
        people=people,
        zones=zones,
    )


def _drawn_contracts(
    draw: st.DrawFn, codes: list[str], findings: list[str], known: dict[str, list[str]]
) -> dict[str, Any]:
    """Anything that can have been asked, agreed, bought and paid."""
    vendors, crew = known["vendors"], known["crew"]
    some: st.SearchStrategy[list[str]] = st.just([])
    if codes:
        some = st.lists(st.sampled_from(codes), unique=True)
    fixed = {"asked_at": "2026-11-02T08:00:00Z", "made_at": "2026-11-02T08:00:00Z"}

    def row(name: str, **given: Any) -> dict[str, Any]:
        schema = the_schema()["$defs"][name]["properties"]
        given = {key: value for key, value in fixed.items() if key in schema} | given
        if "price" in schema and schema["price"]["$ref"].endswith("signed_money"):
            given.setdefault("price", draw(st.sampled_from(["-120.5", "0", "-0.00", "1250.50"])))
        return _draw_row(draw, name, **given)

    inquiries = [code[:20] for code in draw(st.lists(_key, max_size=2, unique=True))]
    orders = [code[:20] for code in draw(st.lists(_key, max_size=2, unique=True))]
    orders = orders if vendors else []
    found: dict[str, Any] = {
        "inquiries": [row("inquiry", code=code, packages=draw(some)) for code in inquiries],
        "quotes": [
            row(
                "quote", inquiry=code, vendor=vendor, place=_some(draw, known["places"]),
                price="120.5",
            )
            for code in inquiries
            for vendor in vendors
            if draw(st.booleans())
        ],
        "work_orders": [
            row(
                "work_order", code=code, vendor=draw(st.sampled_from(vendors)),
                inquiry=_some(draw, inquiries), packages=draw(some),
            )
            for code in orders
        ],
        "instalments": [
            row("instalment", order=code, number=number, day="2026-12-04")
            for code in orders
            for number in range(draw(st.integers(0, 2)))
        ],
        "agreements": [
            row("agreement", order=code, digest=f"{number:064}")
            for code in orders
            for number in range(draw(st.integers(0, 2)))
        ],
        "change_orders": [
            row(
                "change_order", code=f"CO{number}", package=code,
                finding=_some(draw, findings),
            )
            for number, code in enumerate(codes)
            if draw(st.booleans())
        ],
        "goods": [
            row("goods", code=f"G{number}", package=code)
            for number, code in enumerate(codes)
            if draw(st.booleans())
        ],
        "logged_hours": [
            row(
                "logged_hours", key=f"h{number}", package=code,
                **({"person": crew[0], "vendor": None} if number % 2 or not vendors
                   else {"person": None, "vendor": vendors[0]}),
            )
            for number, code in enumerate(codes if crew else [])
        ],
    }  # fmt: skip
    found["consents"] = [
        row("consent", change=change["code"], phone="902-555-0142")
        for change in found["change_orders"]
        if draw(st.booleans())
    ]
    nothing = {"order": None, "number": None, "goods": None, "package": None}
    paid: list[dict[str, Any]] = [
        *({"order": part["order"], "number": part["number"]} for part in found["instalments"]),
        *({"goods": one["code"]} for one in found["goods"]),
        *({"package": code} for code in codes),
    ]
    found["payments"] = [
        row("payment", key=f"p{number}", **(nothing | what), vendor=_some(draw, vendors))
        for number, what in enumerate(paid)
        if draw(st.booleans())
    ]
    return found
