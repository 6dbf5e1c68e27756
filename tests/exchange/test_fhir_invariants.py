"""The rules that our bundles keep to: each is broken once and found."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from fhir.resources.R4B.bundle import Bundle
from hypothesis import given
from hypothesis import strategies as st

from exchange.invented_bundles import bundle
from quietlimb.exchange.fhir_bundle import bundle_text
from quietlimb.exchange.fhir_invariants import MOST_SAID, violations

Json = dict[str, Any]
PATIENT, READING, SESSION, SIGNED = 0, 3, 8, 9


def at(made: Json, n: int) -> Json:
    """The resource of an entry."""
    found = made["entry"][n]["resource"]
    assert isinstance(found, dict)
    return found


def put(n: int, *path: Any) -> Callable[[Json], None]:
    """A change: set what stands under a path to its last part."""

    def change(made: Json) -> None:
        *way, name, value = path
        thing: Any = at(made, n)
        for step in way:
            thing = thing[step]
        thing[name] = value

    return change


def drop(n: int, *path: Any) -> Callable[[Json], None]:
    """A change: take away what stands under a path."""

    def change(made: Json) -> None:
        *way, name = path
        thing: Any = at(made, n)
        for step in way:
            thing = thing[step]
        del thing[name]

    return change


def append_to(n: int, name: str, value: Any) -> Callable[[Json], None]:
    """A change: one more in a list."""
    return lambda made: at(made, n)[name].append(value)


# what is changed, a part of what is said, whether the models of R4B take it all the same
BROKEN: dict[str, tuple[Callable[[Json], object], str, bool]] = {
    "status": (put(READING, "status", "banana"), "status", True),
    "gender": (put(PATIENT, "gender", "spayed"), "gender", True),
    "id too long": (put(READING, "id", "a" * 65), "id is not made", True),
    "address": (lambda made: made["entry"][READING].update(fullUrl="urn:uuid:else"), "fullUrl is not", True),
    "twice": (lambda made: made["entry"].append(made["entry"][READING]), "stands twice", True),
    "two animals": (lambda made: made["entry"].append(made["entry"][PATIENT]), "exactly one Patient", True),
    "no systolic": (drop(READING, "component", 0), "0 components for systolic", True),
    "no diastolic": (drop(READING, "component", 2), "0 components for diastolic", True),
    "two systolics": (lambda m: at(m, READING)["component"].append(at(m, READING)["component"][0]), "2 compon", True),
    "value and reason": (put(READING, "component", 0, "dataAbsentReason", {"text": "?"}), "exactly one of", True),
    "neither": (drop(READING, "component", 0, "valueQuantity"), "exactly one of", True),
    "unknown reason": (
        put(READING, "component", 0, {"code": {"text": "x"}, "dataAbsentReason": {"coding": [{"code": "tired"}]}}),
        "not a known one",
        True,
    ),
    "kPa": (put(READING, "component", 0, "valueQuantity", "code", "kPa"), "not in mm[Hg]", True),
    "no unit code": (drop(READING, "component", 0, "valueQuantity", "code"), "no UCUM code", True),
    "no number": (put(READING, "component", 0, "valueQuantity", "value", "many"), "no number", False),
    "value of a panel": (put(READING, "valueInteger", 150), "value of its own", True),
    "people's ranges": (put(READING, "referenceRange", [{"text": "90 to 120"}]), "those of people", True),
    "reason above": (put(READING, "dataAbsentReason", {"text": "?"}), "into a component", True),
    "category": (put(READING, "category", 0, "coding", 0, "code", "laboratory"), "vital-signs", True),
    "other code": (put(READING, "code", "coding", 0, "code", "29463-7"), "not the blood pressure panel", True),
    "kind": (put(READING, "code", "coding", 1, "code", "guess"), "a reading or a session", True),
    "time": (put(READING, "effectiveDateTime", "2031-02-04T10:31:00"), "no offset", False),
    "two times": (put(READING, "effectivePeriod", {"start": "2031-02-04T10:31:00Z"}), "exactly one of eff", False),
    "backwards": (put(SESSION, "effectivePeriod", "end", "2030-02-04T10:31:00Z"), "before it starts", True),
    "no subject": (drop(READING, "subject"), "no subject", True),
    "subject": (put(READING, "subject", "reference", "urn:uuid:nobody"), "leads to no Patient", True),
    "device": (lambda m: at(m, READING)["device"].update(at(m, READING)["subject"]), "leads to no Device", True),
    "member": (append_to(SESSION, "hasMember", {"reference": "urn:uuid:nobody"}), "leads to no Observation", True),
    "basis": (lambda m: at(m, SESSION).update(hasMember=at(m, SESSION)["hasMember"][1:]), "what is no member", True),
    "unsigned": (
        lambda m: [at(m, n).update(target=[{"display": "-"}]) for n in (SIGNED, SIGNED + 1)],
        "who signed",
        True,
    ),
    "no name": (put(SIGNED, "agent", 0, "who", {"identifier": {"value": "1"}}), "an agent has no name", True),
    "recorded": (put(SIGNED, "recorded", "2031-02-04"), "recorded", False),
    "no species": (drop(PATIENT, "extension", 0, "extension", 0), "one species", True),
    "species twice": (
        lambda m: at(m, PATIENT)["extension"][0]["extension"].append(at(m, PATIENT)["extension"][0]["extension"][0]),
        "tells something twice",
        True,
    ),
    "no animal": (drop(PATIENT, "extension"), "animal extension", True),
    "own value": (put(PATIENT, "extension", 0, "valueString", "cat"), "value of its own", True),
    "half a mark": (put(READING, "meta", "security", [{"code": "HTEST"}]), "and others are not", True),
    "empty": (put(SESSION, "note", []), "something empty", True),
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_rule_is_found(name: str) -> None:
    """Whatever is changed in a good bundle, one of the sentences is about it.

    Oracle: by construction. That the models of FHIR, fhir.resources 8.3.0, take most of it shows what these are for.
    """
    change, says, taken = BROKEN[name]
    made = bundle()
    assert violations(made) == []
    change(made)
    assert any(says in sentence for sentence in violations(made)), violations(made)
    if taken:
        Bundle.model_validate_json(bundle_text(made))
    else:
        with pytest.raises(ValueError, match="validation error"):
            Bundle.model_validate_json(bundle_text(made))


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(
                [
                    "entry",
                    "resource",
                    "resourceType",
                    "id",
                    "component",
                    "code",
                    "coding",
                    "extension",
                    "meta",
                    "security",
                ]
            ),
            inner,
            max_size=4,
        )
    ),
    max_leaves=12,
)


@given(JSON)
def test_any_json_is_answered_with_sentences(thing: object) -> None:
    """Whatever is handed in, the answer is a bounded list of text.

    Oracle: by construction.
    """
    found = violations(thing)
    assert len(found) <= MOST_SAID
    assert all(isinstance(sentence, str) and sentence for sentence in found)
