"""Sessions out as a FHIR R4B bundle."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime
from typing import Any

import pytest
from fhir.resources.R4B.bundle import Bundle

from exchange.invented_bundles import ANIMAL, FIRST, MADE_AT, NOTHING, bundle
from quietlimb.exchange.fhir_bundle import bundle_text, sessions_bundle
from quietlimb.exchange.fhir_invariants import violations
from quietlimb.exchange.fhir_sessions import BundleAnimal


def of_kind(made: dict[str, Any], kind: str) -> list[dict[str, Any]]:
    """The resources of a kind."""
    return [each["resource"] for each in made["entry"] if each["resource"]["resourceType"] == kind]


def component(resource: dict[str, Any], code: str) -> dict[str, Any]:
    """The one component with a code."""
    (found,) = [part for part in resource["component"] if part["code"]["coding"][0]["code"] == code]
    assert isinstance(found, dict)
    return found


@pytest.mark.parametrize("invented", [False, True])
def test_the_models_of_r4b_take_the_bundle_and_lose_nothing(invented: bool) -> None:
    """Read by the models and written again, every resource is what we wrote.

    Oracle: reference library, fhir.resources 8.3.0, models of R4B, which refuse unknown fields and wrong types.
    """
    text = bundle_text(bundle(invented=invented))
    again = Bundle.model_validate_json(text)
    kinds = [type(entry.resource).__name__ for entry in again.entry]
    assert kinds == [
        "Patient",
        "Device",
        "Device",
        *["Observation"] * 6,
        "Provenance",
        "Provenance",
        "Observation",
        "Provenance",
    ]
    assert json.loads(again.model_dump_json())["entry"] == json.loads(text)["entry"]


def test_our_own_rules_hold_for_what_we_write() -> None:
    """Sessions of every kind, and an animal of which nothing but the species is told, keep to the invariants.

    Oracle: by construction, `fhir_invariants`, which the tests of its own show to find what is wrong.
    """
    assert violations(bundle()) == []
    assert violations(bundle(invented=True)) == []
    assert violations(bundle(FIRST, animal=BundleAnimal(key=ANIMAL.key, species="dog"))) == []
    assert violations(bundle(replace(FIRST, value=None), replace(NOTHING, value=None))) == []


def test_a_reading_says_what_the_dossier_of_the_standard_asks_for() -> None:
    """Panel code, profile, category, unit, method, site, device and performer stand where readers look for them.

    Oracle: published. Profile `bp` of HL7 FHIR and the codes of `fhir_codes`.
    """
    first = of_kind(bundle(), "Observation")[0]
    assert first["code"]["coding"][0] == {
        "system": "http://loinc.org",
        "code": "85354-9",
        "display": "Blood pressure panel",
    }
    assert first["meta"]["profile"] == ["http://hl7.org/fhir/StructureDefinition/bp"]
    assert first["category"][0]["coding"][0]["code"] == "vital-signs"
    assert first["status"] == "final"
    assert first["effectiveDateTime"] == "2031-02-04T10:31:00+01:00"
    quantity = {"value": 171.0, "unit": "mmHg", "system": "http://unitsofmeasure.org", "code": "mm[Hg]"}
    assert component(first, "8480-6")["valueQuantity"] == quantity
    assert component(first, "8462-4")["valueQuantity"]["value"] == 111.0
    assert component(first, "8478-0")["valueQuantity"]["value"] == 131.0
    assert component(first, "8867-4")["valueQuantity"]["code"] == "/min"
    assert first["method"]["coding"][0] == {"system": "http://snomed.info/sct", "code": "31813000"}
    assert first["bodySite"]["text"] == "left hindlimb"
    assert first["performer"] == [{"display": "Wren"}]
    device = first["device"]["reference"]
    (named,) = [each["resource"] for each in bundle()["entry"] if each["fullUrl"] == device]
    assert named["deviceName"][0]["name"] == "grey box"


def test_the_animal_is_a_patient_with_the_animal_extension() -> None:
    """Species, breed and neutering stand in the extension, the sex alone in gender.

    Oracle: published. The patient-animal extension of HL7 FHIR.
    """
    (patient,) = of_kind(bundle(), "Patient")
    told = {each["url"]: each["valueCodeableConcept"] for each in patient["extension"][0]["extension"]}
    assert told["species"]["text"] == "cat"
    assert told["breed"]["text"] == "invented longhair"
    assert told["genderStatus"]["coding"][0]["code"] == "neutered"
    assert (patient["gender"], patient["birthDate"]) == ("female", "2019-03-31")


def test_what_has_no_number_says_why() -> None:
    """By Doppler the diastolic is unsupported; what spoiled is an error; nothing obtained was not performed.

    Oracle: by construction, the choice that the dossier of the standard makes.
    """
    readings = of_kind(bundle(), "Observation")
    reasons = [
        component(each, "8462-4")["dataAbsentReason"]["coding"][0]["code"] for each in (readings[4], readings[2])
    ]
    assert reasons == ["unsupported", "unknown"]
    assert component(readings[2], "8480-6")["dataAbsentReason"]["coding"][0]["code"] == "error"
    assert component(readings[6], "8480-6")["dataAbsentReason"]["coding"][0]["code"] == "not-performed"
    assert readings[3]["status"] == "entered-in-error"


def test_a_session_has_all_readings_and_rests_on_those_used() -> None:
    """Members are all attempts, the value is derived from what it rests on, and Provenance tells who signed it.

    Oracle: by construction.
    """
    made = bundle()
    session = next(each for each in of_kind(made, "Observation") if each["id"] == FIRST.key)
    assert len(session["hasMember"]) == 5
    assert [each["reference"] for each in session["derivedFrom"]] == [
        f"urn:uuid:{key}"
        for key in FIRST.value.used  # type: ignore[union-attr]
    ]
    assert session["status"] == "amended"
    signed, amended, _ = of_kind(made, "Provenance")
    assert signed["agent"][0]["who"]["display"] == "Heron"
    assert signed["recorded"] == "2031-02-04T11:30:00+01:00"
    assert signed["reason"] == [{"text": "second cuff is too wide"}]
    assert amended["activity"]["coding"][0]["code"] == "UPDATE"
    assert "96607-7" not in bundle_text(made)  # the code for averages, which our value is not


def test_demo_data_say_so_in_every_resource() -> None:
    """An invented animal's bundle and each resource in it bear the mark of test data, a patient's none.

    Oracle: from memory, the code HTEST of the HL7 vocabulary of reasons.
    """
    for resource in [bundle(invented=True), *(each["resource"] for each in bundle(invented=True)["entry"])]:
        assert [mark["code"] for mark in resource["meta"]["security"]] == ["HTEST"]
    assert "HTEST" not in bundle_text(bundle())


def test_the_same_sessions_make_the_same_text() -> None:
    """Nothing in it is drawn or looked up.

    Oracle: by construction.
    """
    assert bundle_text(bundle()) == bundle_text(bundle())


def test_a_key_or_time_that_would_make_a_broken_bundle_is_our_mistake() -> None:
    """Keys are UUIDs and times have offsets.

    Oracle: by construction.
    """
    with pytest.raises(ValueError, match="UUID"):
        sessions_bundle(replace(ANIMAL, key="Bramble"), [], made_at=MADE_AT, invented=False)
    with pytest.raises(ValueError, match="offset"):
        sessions_bundle(ANIMAL, [], made_at=datetime(2031, 1, 1), invented=False)
