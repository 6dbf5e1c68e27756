"""Sessions of one animal as a FHIR R4B bundle: Patient, devices, an Observation a reading, one a session, Provenance.

The panel of a reading follows the core profile `bp`: a systolic and a diastolic component, each with a number or the
reason why there is none. A session is a panel that has its readings as members and is derived from those that its
value rests on. That value is a level and no average, so the code for averages is not used; `method` tells the rule.
What FHIR has no place for stands in components of our own. The same sessions make the same bundle, but for its time.
"""

from __future__ import annotations

import json
import uuid
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from quietlimb.engine.circumstances import Circumstances
from quietlimb.exchange import fhir_codes as codes
from quietlimb.exchange.fhir_sessions import (
    OF_READING,
    OF_SESSION,
    BundleAnimal,
    BundleChange,
    BundleReading,
    BundleSession,
    BundleValue,
)

Json = dict[str, Any]
CENTIMETRES = ("cuff_width_cm", "limb_circumference_cm", "cuff_below_heart_cm")


def sessions_bundle(
    animal: BundleAnimal, sessions: Sequence[BundleSession], *, made_at: datetime, invented: bool
) -> Json:
    """The bundle of an animal. Its keys and those of sessions and readings are UUIDs, for they become addresses.

    made_at  : with its offset from UTC
    invented : the sessions are of no patient; each resource says so

    Raises
    ------
    ValueError : a key is no UUID, or a time has no offset.
    """
    resources = [_patient(animal)]
    devices: dict[str, Json] = {}
    for session in sessions:
        for reading in session.readings:
            name = reading.circumstances.instrument
            if name is not None and name not in devices:
                devices[name] = _device(animal, name)
    resources += devices.values()
    for session in sessions:
        resources += [_reading(animal, each, devices) for each in session.readings]
        resources.append(_session(animal, session))
        if session.value is not None:
            resources += _provenance(session, session.value)
    security = [{"system": codes.REASON_OF_USE, "code": codes.TEST_DATA}]
    if invented:
        for resource in resources:
            resource["meta"] = {**resource.get("meta", {}), "security": security}
    meta: Json = {"tag": [{"system": codes.FORMAT, "code": codes.FORMAT_VERSION}]}
    return {
        "resourceType": "Bundle",
        "meta": {**meta, "security": security} if invented else meta,
        "type": "collection",
        "timestamp": _moment(made_at),
        "entry": [{"fullUrl": _address(each["id"]), "resource": each} for each in resources],
    }


def bundle_text(bundle: Json) -> str:
    """A bundle as the text of a file; letters as they are."""
    return json.dumps(bundle, ensure_ascii=False, allow_nan=False) + "\n"


def _patient(animal: BundleAnimal) -> Json:
    about: list[Json] = []
    if animal.species is not None:
        about.append({"url": "species", "valueCodeableConcept": _word(animal.species, animal.species)})
    if animal.breed:
        about.append({"url": "breed", "valueCodeableConcept": {"text": animal.breed}})
    sex = (animal.sex or "").split()
    if "neutered" in sex:
        neutered = {"system": codes.GENDER_STATUS, "code": "neutered"}
        about.append({"url": "genderStatus", "valueCodeableConcept": {"coding": [neutered]}})
    found: Json = {"resourceType": "Patient", "id": _id(animal.key)}
    if about:
        found["extension"] = [{"url": codes.ANIMAL, "extension": about}]
    if animal.number:
        found["identifier"] = [{"value": animal.number}]
    if animal.name:
        found["name"] = [{"text": animal.name}]
    if sex:
        found["gender"] = sex[0]
    if animal.born is not None:
        found["birthDate"] = animal.born.isoformat()
    return found


def _device(animal: BundleAnimal, name: str) -> Json:
    key = uuid.uuid5(uuid.UUID(animal.key), f"device {name}")
    return {"resourceType": "Device", "id": str(key), "deviceName": [{"name": name, "type": "user-friendly-name"}]}


def _panel(animal: BundleAnimal, key: str, kind: str, status: str) -> Json:
    names = [_coding(codes.LOINC, codes.PANEL, "Blood pressure panel"), {"system": codes.KIND, "code": kind}]
    category = {"coding": [{"system": codes.CATEGORY, "code": "vital-signs"}]}
    return {
        "resourceType": "Observation",
        "id": _id(key),
        "meta": {"profile": [codes.BLOOD_PRESSURE_PROFILE]},
        "status": status,
        "category": [category],
        "code": {"coding": names, "text": f"Blood pressure, {kind}"},
        "subject": _reference(animal.key),
    }


def _reading(animal: BundleAnimal, reading: BundleReading, devices: dict[str, Json]) -> Json:
    around = reading.circumstances
    found = _panel(animal, reading.key, "reading", "entered-in-error" if reading.struck else "final")
    if around.position:
        position = _word(around.position, around.position.replace("-", " "), codes.POSITION_CODES.get(around.position))
        found["extension"] = [{"url": codes.BODY_POSITION, "valueCodeableConcept": position}]
    found["effectiveDateTime"] = _moment(reading.taken_at)
    if around.read_by:
        found["performer"] = [{"display": around.read_by}]
    words = [word for word in (around.side, around.site) if word]
    if words:
        where = _word(" ".join(words), " ".join(words), codes.SITE_CODES.get(around.site) if around.site else None)
        found["bodySite"] = where
    found["method"] = _word(around.method, codes.METHOD_WORDS[around.method], codes.METHOD_CODES[around.method])
    if around.instrument:
        found["device"] = _reference(devices[around.instrument]["id"])
    silent = "unsupported" if around.method == "doppler" else "unknown"
    found["component"] = [
        *_pressures(reading, "error" if reading.set_aside else "unknown", silent),
        *_own_components(around, OF_READING),
        *([_own("series", valueInteger=reading.series)] if reading.series is not None else []),
        *([_own("set-aside", valueString=reading.set_aside)] if reading.set_aside else []),
    ]
    return found


def _session(animal: BundleAnimal, session: BundleSession) -> Json:
    value = session.value
    found = _panel(animal, session.key, "session", "amended" if value is not None and value.amended else "final")
    ended = {} if session.ended_at is None else {"end": _moment(session.ended_at)}
    found["effectivePeriod"] = {"start": _moment(session.started_at), **ended}
    if value is not None:
        found["method"] = {"text": value.rule}
        said = [
            {"authorString": each.by, "time": _moment(each.at), "text": each.why}
            for each in (value.signed, *value.amended)
            if each.why
        ]
        found["note"] = [*said, *({"text": line} for line in value.beside)]
        found["derivedFrom"] = [_reference(key) for key in value.used]
    found["hasMember"] = [_reference(each.key) for each in session.readings]
    found["component"] = [
        *_pressures(value, "unknown" if session.readings else "not-performed", "unknown"),
        *_own_components(session.circumstances, OF_SESSION),
    ]
    return {name: part for name, part in found.items() if part != []}  # FHIR knows no empty list


def _provenance(session: BundleSession, value: BundleValue) -> Iterable[Json]:
    for n, change in enumerate((value.signed, *value.amended)):
        yield _change(session, value, change, n)


def _change(session: BundleSession, value: BundleValue, change: BundleChange, n: int) -> Json:
    made: Json = {
        "resourceType": "Provenance",
        "id": str(uuid.uuid5(uuid.UUID(session.key), f"change {n}")),
        "target": [_reference(session.key)],
        "recorded": _moment(change.at),
        "activity": {"coding": [{"system": codes.OPERATION, "code": "UPDATE" if n else "CREATE"}]},
        "agent": [{"type": {"text": "amended by" if n else "signed by"}, "who": {"display": change.by}}],
    }
    if change.why:
        made["reason"] = [{"text": change.why}]
    if not n:
        rests_on = [_reference(key) for key in value.used] + [{"display": value.rule}]
        made["entity"] = [{"role": "source", "what": each} for each in rests_on]
    return made


def _pressures(of: BundleReading | BundleValue | None, no_systolic: str, no_diastolic: str) -> Iterable[Json]:
    for name, code in codes.QUANTITY_CODES.items():
        number = getattr(of, name, None)
        part: Json = {"code": {"coding": [_coding(codes.LOINC, code, codes.QUANTITY_NAMES[name])]}}
        if number is not None:
            unit, ucum = ("/min", "/min") if name == "pulse_rate" else ("mmHg", "mm[Hg]")
            yield {**part, "valueQuantity": _quantity(number, unit, ucum)}
        elif name in ("systolic", "diastolic"):  # the profile wants both, with a number or the reason
            why = no_systolic if name == "systolic" else no_diastolic
            yield {**part, "dataAbsentReason": {"coding": [{"system": codes.ABSENT, "code": why}]}}


def _own_components(around: Circumstances, names: Iterable[str]) -> Iterable[Json]:
    for name in names:
        value = getattr(around, name)
        if value is None or value == "":
            continue
        if isinstance(value, str):
            yield _own(name, valueString=value)
        else:
            unit = "cm" if name in CENTIMETRES else "min"
            yield _own(name, valueQuantity=_quantity(value, unit, unit))


def _own(name: str, **value: object) -> Json:
    return {"code": {"coding": [{"system": codes.CIRCUMSTANCE, "code": name}], "text": name.replace("_", " ")}, **value}


def _word(ours: str, text: str, snomed: str | None = None) -> Json:
    more = [] if snomed is None else [{"system": codes.SNOMED, "code": snomed}]
    return {"coding": [*more, {"system": codes.WORD, "code": ours.replace(" ", "-")}], "text": text}


def _coding(system: str, code: str, display: str) -> Json:
    return {"system": system, "code": code, "display": display}


def _quantity(value: float, unit: str, ucum: str) -> Json:
    return {"value": value, "unit": unit, "system": codes.UCUM, "code": ucum}


def _id(key: str) -> str:
    return str(uuid.UUID(key))


def _address(key: str) -> str:
    return f"urn:uuid:{_id(key)}"


def _reference(key: str) -> Json:
    return {"reference": _address(key)}


def _moment(at: datetime) -> str:
    if at.tzinfo is None:
        raise ValueError(f"{at} has no offset from UTC")
    return at.isoformat(timespec="seconds" if at.microsecond == 0 else "microseconds")
