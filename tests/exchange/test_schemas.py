"""The committed JSON Schemas."""

from __future__ import annotations

import json
from dataclasses import fields
from typing import Any, get_args

import pytest
from jsonschema import Draft202012Validator

from quietlimb.engine import circumstances as told
from quietlimb.engine.findings import Severity, Verdict
from quietlimb.engine.interpretation.interpretation import Organ, OrganDamage, OrganState
from quietlimb.engine.session.charted import Course
from quietlimb.engine.standards.cuff_width import Direction, Fit
from quietlimb.engine.values import Standing
from quietlimb.exchange import results_json
from quietlimb.exchange.schemas import NAMES, schema


def objects_in(node: Any) -> list[dict[str, Any]]:
    """Every schema of an object with members of its own, at any depth."""
    found = []
    if isinstance(node, dict):
        if node.get("type") == "object" and "properties" in node:
            found.append(node)
        for child in node.values():
            found.extend(objects_in(child))
    elif isinstance(node, list):
        for child in node:
            found.extend(objects_in(child))
    return found


@pytest.mark.parametrize("name", NAMES)
def test_each_is_a_valid_schema(name: str) -> None:
    """It says which draft it follows, and follows it.

    Oracle: reference library, jsonschema 4.26, with the meta-schema of draft 2020-12.
    """
    found = schema(name)
    assert found["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    Draft202012Validator.check_schema(found)


@pytest.mark.parametrize("name", NAMES)
def test_no_object_has_members_that_are_not_described(name: str) -> None:
    """Every object is closed, and every member but the circumstances that were not told is always there.

    Oracle: by construction.
    """
    objects = objects_in(schema(name))
    assert objects
    for each in objects:
        assert each["additionalProperties"] is False
        if set(each["properties"]) != set(told.CIRCUMSTANCE_NAMES):
            assert set(each["required"]) == set(each["properties"])


def test_what_several_schemas_share_is_the_same_in_each() -> None:
    """A finding is a finding in every output.

    Oracle: by construction.
    """
    seen: dict[str, str] = {}
    for name in NAMES:
        for part, body in schema(name).get("$defs", {}).items():
            text = json.dumps(body, sort_keys=True)
            assert seen.setdefault(part, text) == text


def test_the_words_are_those_of_the_engine() -> None:
    """Every list of words is the engine's own, and every circumstance has its member.

    Oracle: by construction.
    """
    chart, cuff = schema("chart"), schema("cuff")
    parts = chart["$defs"]
    circumstances = parts["circumstances"]["properties"]
    assert set(circumstances) == {field.name for field in fields(told.Circumstances)}
    session = chart["oneOf"][0]["properties"]
    for words, member in (
        (told.Species, circumstances["species"]),
        (told.Site, circumstances["site"]),
        (told.Side, circumstances["side"]),
        (told.Position, circumstances["position"]),
        (told.Place, circumstances["place"]),
        (told.Technique, circumstances["method"]),
        (told.Consciousness, circumstances["sedation"]),
        (Severity, parts["finding"]["properties"]["severity"]),
        (Verdict, parts["reading"]["properties"]["verdict"]),
        (Course, session["course"]),
        (OrganDamage, session["organ_damage"]),
        (Organ, parts["organ"]["properties"]["organ"]),
        (OrganState, parts["organ"]["properties"]["state"]),
        (Standing, parts["advice"]["properties"]["standing"]),
        (Fit, cuff["properties"]["cuffs"]["items"]["properties"]["fit"]),
        (Direction, cuff["properties"]["cuffs"]["items"]["properties"]["direction"]),
    ):
        assert set(member["enum"]) == set(get_args(words))


def test_the_version_in_each_schema_is_the_one_written() -> None:
    """The constant of the schema is the string that the objects bear.

    Oracle: by construction.
    """
    for name, written in (
        ("read", results_json.READ),
        ("chart", results_json.CHART),
        ("interpret", results_json.INTERPRET),
        ("cuff", results_json.CUFF),
    ):
        consts = {
            each["properties"]["schema"]["const"] for each in objects_in(schema(name)) if "schema" in each["properties"]
        }
        assert consts == {written}


def test_an_unknown_name_is_a_mistake_of_ours() -> None:
    """There is no way to reach another file through the name.

    Oracle: by construction.
    """
    with pytest.raises(KeyError):
        schema("../schemas/read")
