"""Names, codes and systems of FHIR R4B that our bundles use, and what each is worth.

Codes of LOINC, SNOMED CT, UCUM and HL7 were looked up in stored copies of published guides, unless a line says that it
stands from memory. Where no code was found, text carries the meaning; a code is a bonus, never the only carrier. What
begins with `urn:quietlimb` is our own.

LOINC asks for its line to be carried along; it stands, from memory, in docs/file-formats.md.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from quietlimb.engine.circumstances import Position, Side, Site, Technique
from quietlimb.engine.values import Cited

LOINC: Final = "http://loinc.org"
SNOMED: Final = "http://snomed.info/sct"
UCUM: Final = "http://unitsofmeasure.org"
CATEGORY: Final = "http://terminology.hl7.org/CodeSystem/observation-category"
ABSENT: Final = "http://terminology.hl7.org/CodeSystem/data-absent-reason"
ANIMAL: Final = "http://hl7.org/fhir/StructureDefinition/patient-animal"
GENDER_STATUS: Final = "http://hl7.org/fhir/animal-genderstatus"
BODY_POSITION: Final = "http://hl7.org/fhir/StructureDefinition/observation-bodyPosition"
BLOOD_PRESSURE_PROFILE: Final = "http://hl7.org/fhir/StructureDefinition/bp"
OPERATION: Final = "http://terminology.hl7.org/CodeSystem/v3-DataOperation"  # from memory, as CREATE and UPDATE
REASON_OF_USE: Final = "http://terminology.hl7.org/CodeSystem/v3-ActReason"  # from memory
TEST_DATA: Final = "HTEST"  # from memory: data that are of no patient
INVENTED_NAME: Final = "invented: "  # before the name of an animal that is no patient, for whoever only reads it

FORMAT: Final = "urn:quietlimb:fhir:format"
FORMAT_VERSION: Final = "1"
KIND: Final = "urn:quietlimb:fhir:kind"  # reading or session
WORD: Final = "urn:quietlimb:fhir:word"  # site, side, position, species, method in our words
CIRCUMSTANCE: Final = "urn:quietlimb:fhir:circumstance"

PANEL: Final = "85354-9"
OTHER_PANELS: Final = frozenset({"55284-4", "35094-2", "55417-0"})
AVERAGES: Final = frozenset({"96607-7", "97844-5"})
SYSTOLIC: Final = "8480-6"
QUANTITY_CODES: Final[Mapping[str, str]] = {
    "systolic": SYSTOLIC,
    "mean": "8478-0",
    "diastolic": "8462-4",
    "pulse_rate": "8867-4",
}
QUANTITY_NAMES: Final[Mapping[str, str]] = {
    "systolic": "Systolic blood pressure",
    "mean": "Mean blood pressure",
    "diastolic": "Diastolic blood pressure",
    "pulse_rate": "Heart rate",
}

METHOD_CODES: Final[Mapping[Technique, str]] = {"oscillometric": "31813000", "doppler": "765172009"}
METHOD_WORDS: Final[Mapping[Technique, str]] = {"oscillometric": "oscillometric", "doppler": "Doppler"}
# Written only where the code means the same; "forelimb" and "chest down" have none that we could verify.
SITE_CODES: Final[Mapping[Site, str]] = {"hindlimb": "61685007"}
SITES_OF_CODES: Final[Mapping[str, Site]] = {
    **dict.fromkeys(("36455000", "8205005", "110535000", "419176008", "17137000", "45631007"), "forelimb"),
    **dict.fromkeys(("280711000", "108371006", "110536004", "416804009", "61685007"), "hindlimb"),
    **dict.fromkeys(("7657000", "13363002", "86547008", "49256001"), "hindlimb"),
    "18149002": "tail",
}
SITE_WORDS: Final[tuple[tuple[str, Site], ...]] = (
    ("forelimb", "forelimb"),
    ("foreleg", "forelimb"),
    ("front leg", "forelimb"),
    ("hindlimb", "hindlimb"),
    ("hind limb", "hindlimb"),
    ("hind leg", "hindlimb"),
    ("tail", "tail"),
)
SIDES: Final[tuple[Side, ...]] = ("left", "right")
POSITION_CODES: Final[Mapping[Position, str]] = {"sitting": "33586001", "standing": "10904000"}
POSITIONS_OF_CODES: Final[Mapping[str, Position]] = {
    "33586001": "sitting",
    "10904000": "standing",
    "102536004": "side-lying",
    "102535000": "side-lying",
}
SPECIES_WORDS: Final[Mapping[str, str]] = {
    **dict.fromkeys(("cat", "feline", "felis catus", "domestic cat"), "cat"),
    **dict.fromkeys(("dog", "canine", "canis lupus familiaris", "domestic dog"), "dog"),
}

# Required value sets. Of the status codes the last five stand from memory; gender as in the model of the library.
STATUS: Final = frozenset(
    {"registered", "preliminary", "final", "amended", "corrected", "cancelled", "entered-in-error", "unknown"}
)
COUNTS: Final = frozenset({"preliminary", "final", "amended", "corrected"})
GENDERS: Final = frozenset({"male", "female", "other", "unknown"})
# The first seven were read, the other eight stand from memory.
ABSENT_REASONS: Final = frozenset(
    {
        *(
            "unknown",
            "asked-unknown",
            "temp-unknown",
            "not-a-number",
            "negative-infinity",
            "positive-infinity",
            "error",
        ),
        *("not-asked", "asked-declined", "masked", "not-applicable", "unsupported", "as-text", "not-performed"),
        "not-permitted",
    }
)

# Readings further apart than this, of a bundle that tells no sessions, are of two sessions.
SESSION_GAP: Final = Cited(60.0, "min", "Quietlimb", "this file", "invented")
