"""What a refit document may hold, and what is said about one that cannot be true."""

from __future__ import annotations

import contextlib
import json
import types
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints, is_typeddict

import pytest
from django.db.models import Field
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from refit.contracts.models import (
    Agreement,
    ChangeOrder,
    Consent,
    Goods,
    Instalment,
    LoggedHours,
    Payment,
    Quote,
    WorkOrder,
)
from refit.custody.models import Handoff
from refit.interchange.document import (
    DocumentError,
    RefitDocument,
    check_document,
    read_document,
)
from refit.interchange.schema import the_schema
from refit.quality.models import (
    Finding,
)
from refit.work.models import (
    Booking,
    Dependency,
    Paper,
    Piece,
    PieceUse,
    Place,
    Refit,
    WorkPackage,
)

from .documents import a_document, a_package, documents


def problems_of(data: Any) -> list[str]:
    with pytest.raises(DocumentError) as caught:
        check_document(data)
    return caught.value.problems


# --- the schema and the types say the same ------------------------------------------------------


def resolved(schema: dict[str, Any]) -> dict[str, Any]:
    if "$ref" not in schema:
        return schema
    found: dict[str, Any] = the_schema()["$defs"][schema["$ref"].removeprefix("#/$defs/")]
    return found


def json_kinds(hint: Any) -> set[str]:
    """The JSON types that a type hint of the document allows."""
    if get_origin(hint) in (Union, types.UnionType):
        return set().union(*(json_kinds(one) for one in get_args(hint)))
    if is_typeddict(hint):
        return {"object"}
    if get_origin(hint) is list:
        return {"array"}
    if get_origin(hint) is dict:
        return {"object"}
    named = {str: "string", int: "integer", bool: "boolean", type(None): "null"}
    return {named[hint]}


def disagreements(hint: Any, schema: dict[str, Any], path: str) -> list[str]:
    schema = resolved(schema)
    if get_origin(hint) is Literal:
        allowed = schema.get("enum", [schema.get("const")])
        return [] if list(get_args(hint)) == allowed else [f"{path}: {allowed}"]
    kinds = schema["type"] if isinstance(schema["type"], list) else [schema["type"]]
    if json_kinds(hint) != set(kinds):
        return [f"{path}: {kinds}"]
    if get_origin(hint) is list:
        return disagreements(get_args(hint)[0], schema["items"], f"{path}[]")
    if not is_typeddict(hint):
        return []
    hints = get_type_hints(hint)
    if list(hints) != list(schema["properties"]) or schema["additionalProperties"] is not False:
        return [f"{path}: {list(schema['properties'])}"]
    return [
        found
        for name, inner in hints.items()
        for found in disagreements(inner, schema["properties"][name], f"{path}.{name}")
    ]


def test_the_types_and_the_schema_agree_in_every_property() -> None:
    assert disagreements(RefitDocument, the_schema(), "document") == []


def test_the_schema_is_a_valid_schema() -> None:
    Draft202012Validator.check_schema(the_schema())


def test_every_property_is_described_and_either_required_or_has_a_default_that_fits() -> None:
    for name, shape in [("document", the_schema()), *the_schema()["$defs"].items()]:
        for key, inner in shape.get("properties", {}).items():
            assert "description" in resolved(inner) or "description" in inner, (name, key)
            assert (key in shape["required"]) != ("default" in inner), (name, key)
            if "default" in inner:
                whole = inner | {"$defs": the_schema()["$defs"]}
                assert Draft202012Validator(whole).is_valid(inner["default"]), (name, key)


@pytest.mark.parametrize(
    ("model", "name"),
    [
        (Refit, "refit"),
        (Place, "place"),
        (Piece, "piece"),
        (WorkPackage, "package"),
        (PieceUse, "piece_use"),
        (Dependency, "dependency"),
        (Booking, "booking"),
        (Handoff, "handoff"),
        (Finding, "finding"),
        (Quote, "quote"),
        (WorkOrder, "work_order"),
        (Instalment, "instalment"),
        (Agreement, "agreement"),
        (ChangeOrder, "change_order"),
        (Consent, "consent"),
        (Goods, "goods"),
        (Payment, "payment"),
        (LoggedHours, "logged_hours"),
        (Paper, "paper"),
    ],
)
def test_choices_and_lengths_in_the_schema_are_those_of_the_columns(model: Any, name: str) -> None:
    columns: dict[str, Field[Any, Any]] = {one.name: one for one in model._meta.concrete_fields}
    checked = 0
    for key, inner in the_schema()["$defs"][name]["properties"].items():
        column = columns.get(key)
        if column is None or column.is_relation:
            continue
        if column.choices:
            empty = [""] if column.blank else []
            assert inner["enum"] == empty + [value for value, _ in column.choices]
            checked += 1
        elif column.max_length and "maxLength" in inner:
            assert inner["maxLength"] == column.max_length
            checked += 1
    assert checked


# --- what is said ----------------------------------------------------------------------------


def test_a_document_with_its_defaults_left_out_comes_back_whole() -> None:
    document = check_document(a_document())
    assert document["refit"]["hours_a_day"] == "8"
    assert document["packages"][0]["hold_minutes"] == 0
    assert document["dependencies"][0]["relation"] == "finish-to-start"
    assert document["handoffs"] == []
    assert check_document(document) == document


def test_order_offsets_and_trailing_zeros_do_not_make_another_document() -> None:
    typed = a_document()
    typed["packages"].reverse()
    typed["packages"][0]["budget"] = "1250.50"
    typed["packages"][0]["promised"] = "2026-12-04T16:00:00+02:00"
    document = check_document(typed)
    assert [row["code"] for row in document["packages"]] == ["H01", "H02"]
    assert document["packages"][1]["budget"] == "1250.5"
    assert document["packages"][1]["promised"] == "2026-12-04T14:00:00+00:00"


def test_all_problems_are_told_at_once_in_the_order_of_the_document() -> None:
    document = a_document()
    document["packages"] += [
        a_package("H03", place="Cotaing booth"),
        a_package("H01", low_minutes=600),
        a_package("H05", started_at=None, finished_at="2026-11-20T12:00:00Z"),
        a_package("H06", budget="12,50", colour="red", helpers=-1),
    ]
    document["dependencies"] += [
        {"before": "H02", "after": "H02", "reason": "none"},
        {"before": "H02", "after": "H99", "reason": "none"},
        {"before": "H01", "after": "H02", "reason": "told twice"},
    ]
    document["refit"]["time_zone"] = "Atlantic/Farao"
    del document["boat"]["name"]
    assert problems_of(document) == [
        "boat: “name” is missing.",
        "refit: time_zone “Atlantic/Farao” is not a time zone; write it like Europe/Lisbon or "
        "America/Halifax.",
        "packages[2] H03: place “Cotaing booth” is not among the places. "
        "Did you mean “Coating booth”?",
        "packages[3] H01: another package has this code already: packages[0].",
        "packages[3] H01: low_minutes, likely_minutes and high_minutes must rise; they are 600, "
        "480 and 480.",
        "packages[4] H05: finished_at is given without started_at.",
        "packages[5] H06: “colour” is not a property here.",
        "packages[5] H06: helpers must be from 0 to 32767; it is -1.",
        "packages[5] H06: budget must be an amount in the currency of the refit as text, such as "
        '"1250" or "1250.50", or null; it is “12,50”.',
        "dependencies[1] H02 to H02: a package cannot wait for itself.",
        "dependencies[2] H02 to H99: after “H99” is not among the packages.",
        "dependencies[3] H01 to H02: this dependency is there already: dependencies[0].",
    ]


def test_a_second_boat_and_a_second_launch_are_refused() -> None:
    document = a_document()
    document["pieces"][1]["is_boat"] = True
    for package in document["packages"]:
        package["is_launch"] = True
    assert problems_of(document) == [
        "pieces[1] ST-03: is_boat is true, but the boat is ST-00 already.",
        "packages[1] H02: is_launch is true, but the launch is H01 already.",
    ]


def test_hours_and_closures_out_of_order_are_refused_where_they_stand() -> None:
    document = a_document()
    document["places"][0] |= {
        "hours": [
            {"weekday": 0, "opens": "08:00", "closes": "12:00"},
            {"weekday": 0, "opens": "11:30", "closes": "17:00"},
            {"weekday": 1, "opens": "17:00", "closes": "08:00"},
            {"weekday": 2, "opens": "18:00", "closes": "00:00"},
        ],
        "closures": [{"first_day": "2026-12-28", "last_day": "2026-12-24"}],
    }
    assert problems_of(document) == [
        "places[0] Home shed, hours[1]: it opens at 11:30, before the span before it ends.",
        "places[0] Home shed, hours[2]: it closes at 08:00, which is not after 17:00.",
        "places[0] Home shed, closures[0]: the last day, 2026-12-24, comes before the first, "
        "2026-12-28.",
    ]


def test_a_piece_is_under_way_once_and_received_only_after_it_was_sent() -> None:
    handoff = {"piece": "ST-03", "origin": "Home shed", "destination": "Coating booth"}
    sent = {"state": "under way", "sent_at": "2026-11-20T08:00:00Z"}
    document = a_document(
        handoffs=[
            handoff | sent,
            handoff | sent,
            handoff | {"received_at": "2026-11-20T08:00:00Z"},
            handoff | {"destination": "Home shed"},
            handoff | {"state": "received"},
        ]
    )
    assert problems_of(document) == [
        "handoffs[1] ST-03: the piece is under way already in handoffs[0].",
        "handoffs[2] ST-03: received_at is given without sent_at.",
        "handoffs[3] ST-03: origin and destination are the same place.",
        "handoffs[4] ST-03: state is “received”, but received_at is not given.",
    ]


@pytest.mark.parametrize(
    ("source", "said"),
    [
        (b"", "This is not JSON: line 1, column 1: Expecting value."),
        (b"\xff\xfe", "The file is not UTF-8 text, so it is no JSON document."),
        (b"[1, 2", "This is not JSON: line 1, column 6: Expecting ',' delimiter."),
        (b"[" * 100_000, "This JSON is nested too deeply to be a refit."),
        (b"[NaN]", "This is not JSON: NaN is not a number in JSON."),
        (b"3", "document: it must be an object; it is 3."),
    ],
)
def test_a_file_of_another_kind_gets_one_sentence(source: bytes, said: str) -> None:
    with pytest.raises(DocumentError) as caught:
        read_document(source)
    assert caught.value.problems == [said]


def test_text_that_no_database_can_hold_is_refused() -> None:
    document = json.loads(json.dumps(a_document()))
    document["packages"][0]["scope"] = "half a \ud83d face"
    document["packages"][1]["title"] = "nothing\x00here"
    assert problems_of(document) == [
        "packages[0] H01: scope holds a character that cannot be stored.",
        "packages[1] H02: title holds a character that cannot be stored.",
    ]


# --- anything at all ---------------------------------------------------------------------------

anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(sorted(the_schema()["properties"])), inner, max_size=4)
    ),
    max_leaves=8,
)


@settings(max_examples=150, deadline=None)
@given(anything)
def test_whatever_json_is_given_it_is_a_document_or_gets_sentences(data: Any) -> None:
    assert all(problems_of(data))


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(documents(), st.data())
def test_a_document_with_one_value_spoiled_is_read_or_gets_sentences(
    document: Any, data: st.DataObject
) -> None:
    lists = [name for name in document if isinstance(document[name], list) and document[name]]
    if not lists:
        return
    row = data.draw(st.sampled_from(document[data.draw(st.sampled_from(lists))]))
    row[data.draw(st.sampled_from(sorted(row)))] = data.draw(anything)
    with contextlib.suppress(DocumentError):
        check_document(document)
