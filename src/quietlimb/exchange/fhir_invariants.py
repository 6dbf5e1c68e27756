"""What a bundle of ours keeps to, beyond what the models of FHIR check by themselves.

Models check names and types. Required value sets, references, the rules of the profile and our own habits are checked
here. For any parsed JSON the answer is a list of sentences, empty where all is well.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime
from typing import Any

from quietlimb.exchange import fhir_codes as codes

_ID = re.compile(r"[A-Za-z0-9\-.]{1,64}")
_MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)")
_KINDS = {
    "subject": {"Patient"},
    "device": {"Device"},
    "hasMember": {"Observation"},
    "derivedFrom": {"Observation"},
    "target": {"Observation"},
}
MOST_SAID = 50


def violations(bundle: object) -> list[str]:
    """What is wrong with a bundle of ours, a sentence each, at most `MOST_SAID`."""
    found = []
    for sentence in _violations(bundle):
        found.append(sentence)
        if len(found) == MOST_SAID:
            break
    return found


def _violations(bundle: object) -> Iterator[str]:
    entries = [
        (n, each, _dict(_dict(each).get("resource"))) for n, each in enumerate(_list(_dict(bundle).get("entry")), 1)
    ]
    kinds: dict[str, str] = {}
    for n, each, resource in entries:
        key, url = _text(resource.get("id")), _text(_dict(each).get("fullUrl"))
        if not _ID.fullmatch(key):
            yield f"entry {n}: id is not made of 1 to 64 letters, digits, - and ."
        if url != f"urn:uuid:{key}":
            yield f"entry {n}: fullUrl is not that of its id"
        if url in kinds:
            yield f"entry {n}: fullUrl stands twice"
        kinds[url] = _text(resource.get("resourceType"))
    if [_text(resource.get("resourceType")) for _, _, resource in entries].count("Patient") != 1:
        yield "there is not exactly one Patient"
    if len({_is_test(resource) for _, _, resource in entries} | {_is_test(_dict(bundle))}) > 1:
        yield "some resources are marked as test data and others are not"
    signed = _signed(entries)
    for n, _each, resource in entries:
        check = {"Patient": _patient, "Observation": _observation, "Provenance": _provenance}.get(
            _text(resource.get("resourceType")), _nothing
        )
        for sentence in (*check(resource), *_empty(resource), *_references(resource, kinds)):
            yield f"entry {n}: {sentence}"
        is_value = bool(_texts(resource.get("derivedFrom"))) and _kind(resource) == "session"
        if is_value and f"urn:uuid:{_text(resource.get('id'))}" not in signed:
            yield f"entry {n}: no Provenance tells who signed this value"


def _patient(resource: dict[str, Any]) -> Iterator[str]:
    if "gender" in resource and _text(resource["gender"]) not in codes.GENDERS:
        yield "gender is not of the required set"
    about = [_dict(each) for each in _list(resource.get("extension")) if _dict(each).get("url") == codes.ANIMAL]
    if len(about) != 1:
        yield "there is not exactly one animal extension"
    for each in about:
        told = [_dict(part).get("url") for part in _list(each.get("extension"))]
        if told.count("species") != 1:
            yield "the animal extension does not tell one species"
        if len(set(map(str, told))) < len(told):
            yield "the animal extension tells something twice"
        if any(name.startswith("value") for name in each):
            yield "the animal extension has a value of its own"


def _observation(resource: dict[str, Any]) -> Iterator[str]:
    if _text(resource.get("status")) not in codes.STATUS:
        yield "status is not of the required set"
    if not any(_has(each, codes.CATEGORY, "vital-signs") for each in _list(resource.get("category"))):
        yield "category does not say vital-signs"
    if not _has(resource.get("code"), codes.LOINC, codes.PANEL):
        yield "code is not the blood pressure panel"
    if _kind(resource) not in ("reading", "session"):
        yield "code does not say whether it is a reading or a session"
    if any(name.startswith("value") for name in resource):
        yield "a panel has no value of its own"
    if "interpretation" in resource or "referenceRange" in resource:
        yield "interpretation and referenceRange are those of people and do not belong here"
    if "dataAbsentReason" in resource:
        yield "dataAbsentReason belongs into a component"
    yield from _times(resource)
    yield from _components(resource)
    members, rests_on = set(_texts(resource.get("hasMember"))), set(_texts(resource.get("derivedFrom")))
    if not rests_on <= members:
        yield "derivedFrom names what is no member"


def _times(resource: dict[str, Any]) -> Iterator[str]:
    period = _dict(resource.get("effectivePeriod"))
    if ("effectiveDateTime" in resource) == ("effectivePeriod" in resource):
        yield "there is not exactly one of effectiveDateTime and effectivePeriod"
        return
    told = [resource["effectiveDateTime"]] if "effectiveDateTime" in resource else [period.get("start")]
    told += [period["end"]] if "end" in period else []
    moments = [_moment(each) for each in told]
    if None in moments:
        yield "a time has no seconds or no offset"
    elif len(moments) == 2 and moments[1] < moments[0]:  # type: ignore[operator]
        yield "the period ends before it starts"


def _components(resource: dict[str, Any]) -> Iterator[str]:
    parts = [_dict(each) for each in _list(resource.get("component"))]
    for name in ("systolic", "diastolic", "mean", "pulse_rate"):
        count = sum(_has(part.get("code"), codes.LOINC, codes.QUANTITY_CODES[name]) for part in parts)
        if count > 1 or (count == 0 and name in ("systolic", "diastolic")):
            yield f"there are {count} components for {name.replace('_', ' ')}"
    for part in parts:
        values = [name for name in part if name.startswith("value")]
        if len(values) + ("dataAbsentReason" in part) != 1:
            yield "a component has not exactly one of a value and the reason why there is none"
        for coding in _list(_dict(part.get("dataAbsentReason")).get("coding")):
            if _text(_dict(coding).get("code")) not in codes.ABSENT_REASONS:
                yield "dataAbsentReason is not a known one"
        quantity = _dict(part.get("valueQuantity"))
        if "valueQuantity" in part and not (
            _is_number(quantity.get("value")) and quantity.get("system") == codes.UCUM and quantity.get("code")
        ):
            yield "a quantity has no number or no UCUM code"
        is_pressure = any(
            _has(part.get("code"), codes.LOINC, codes.QUANTITY_CODES[name])
            for name in ("systolic", "mean", "diastolic")
        )
        if is_pressure and quantity and quantity.get("code") != "mm[Hg]":
            yield "a pressure is not in mm[Hg]"


def _provenance(resource: dict[str, Any]) -> Iterator[str]:
    if _moment(resource.get("recorded")) is None:
        yield "recorded has no seconds or no offset"
    agents = [_dict(each) for each in _list(resource.get("agent"))]
    if not agents or not all(_text(_dict(agent.get("who")).get("display")) for agent in agents):
        yield "an agent has no name"


def _nothing(_resource: dict[str, Any]) -> Iterator[str]:
    return iter(())


def _empty(thing: object) -> Iterator[str]:
    """FHIR knows no empty list, object or string."""
    if thing in ({}, [], ""):
        yield "something empty stands in it"
    elif isinstance(thing, dict | list):
        for each in thing.values() if isinstance(thing, dict) else thing:
            yield from _empty(each)


def _references(resource: dict[str, Any], kinds: dict[str, str]) -> Iterator[str]:
    for name, wanted in _KINDS.items():
        for reference in _texts(resource.get(name)):
            if kinds.get(reference) not in wanted:
                yield f"{name} leads to no {' or '.join(wanted)} of the bundle"
    if resource.get("resourceType") == "Observation" and not _texts(resource.get("subject")):
        yield "there is no subject"


def _signed(entries: list[tuple[int, object, dict[str, Any]]]) -> set[str]:
    told = [resource for _, _, resource in entries if resource.get("resourceType") == "Provenance"]
    return {target for each in told for target in _texts(each.get("target"))}


def _is_test(resource: dict[str, Any]) -> bool:
    marks = _list(_dict(resource.get("meta")).get("security"))
    return any(_dict(mark).get("code") == codes.TEST_DATA for mark in marks)


def _kind(resource: dict[str, Any]) -> str:
    coded = _list(_dict(resource.get("code")).get("coding"))
    found = [_dict(each).get("code") for each in coded if _dict(each).get("system") == codes.KIND]
    return _text(found[0]) if found else ""


def _has(concept: object, system: str, code: str) -> bool:
    coded = _list(_dict(concept).get("coding"))
    return any(_dict(each).get("system") == system and _dict(each).get("code") == code for each in coded)


def _texts(references: object) -> list[str]:
    """The addresses of a reference or a list of them; those that only show a name have none."""
    every = references if isinstance(references, list) else [references]
    return [text for each in every if (text := _text(_dict(each).get("reference")))]


def _moment(told: object) -> datetime | None:
    if not isinstance(told, str) or not _MOMENT.fullmatch(told):
        return None
    try:
        return datetime.fromisoformat(told)
    except ValueError:
        return None


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _dict(value: object) -> dict[str, Any]:
    return value if isinstance(value, dict) else {}


def _list(value: object) -> list[Any]:
    return value if isinstance(value, list) else []


def _text(value: object) -> str:
    return value if isinstance(value, str) else ""
