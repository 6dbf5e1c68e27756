"""Bundles read back: ours to the digit, a stranger's as far as it tells, a hostile one with an error."""

from __future__ import annotations

import copy
import json
import math
import pickle
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from exchange.invented_bundles import ANIMAL, FIRST, NOTHING, bundle, key, reading
from quietlimb.exchange.errors import BundleError
from quietlimb.exchange.fhir_bundle import bundle_text
from quietlimb.exchange.fhir_reading import MOST_BYTES, MOST_ENTRIES, read_bundle
from quietlimb.exchange.fhir_sessions import BundleAnimal

Json = dict[str, Any]


def as_bytes(made: object) -> bytes:
    """A bundle as a file."""
    return json.dumps(made).encode()


def test_a_bundle_of_ours_comes_back_whole() -> None:
    """Animal, sessions, circumstances, readings and what was signed are what went out.

    Oracle: by construction; exactly, for numbers are written with all digits that they have.
    """
    found = read_bundle(bundle_text(bundle()).encode())
    assert found.animal == ANIMAL
    assert found.sessions == (FIRST, NOTHING)
    assert found.notices == ()
    assert found.is_ours
    assert not found.invented
    assert read_bundle(bundle_text(bundle(invented=True)).encode()).invented


pressures = st.floats(min_value=150.0, max_value=300.0)


@settings(suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(
    rows=st.lists(
        st.tuples(
            st.floats(min_value=0.0, max_value=600.0),
            pressures,
            st.none() | st.floats(min_value=100.0, max_value=149.0),
            st.none() | st.floats(min_value=40.0, max_value=99.0),
            st.none() | st.floats(min_value=40.0, max_value=300.0),
            st.sampled_from(["", "moved", "cuff slipped"]),
        ),
        min_size=1,
        max_size=6,
    )
)
def test_every_digit_comes_back(rows: list[tuple[Any, ...]]) -> None:
    """Any pressures, rates and times within what is possible survive going out and in.

    Oracle: by construction; no tolerance.
    """
    made = [
        reading(100 + n, minute, sys, mean=mean, diastolic=dia, pulse_rate=rate, set_aside=why)
        for n, (minute, sys, mean, dia, rate, why) in enumerate(sorted(rows, key=lambda row: row[0]))
    ]
    session = replace(FIRST, readings=tuple(made), value=None)
    found = read_bundle(bundle_text(bundle(session)).encode())
    assert found.sessions == (session,)


def stranger() -> Json:
    """A bundle as another system may write it: other addresses, codes without our words, kPa, no sessions."""

    def panel(n: int, at: str, systolic: Json, **more: Any) -> Json:
        parts = [
            {"code": {"coding": [{"system": "http://loinc.org", "code": "8480-6"}]}, **systolic},
            {
                "code": {"coding": [{"system": "http://loinc.org", "code": "8462-4"}]},
                "dataAbsentReason": {"text": "not shown"},
            },
        ]
        return {
            "fullUrl": f"https://record.example/fhir/Observation/o{n}",
            "resource": {
                "resourceType": "Observation",
                "id": f"o{n}",
                "status": "final",
                "code": {"coding": [{"system": "http://loinc.org", "code": "85354-9"}]},
                "subject": {"reference": "Patient/p"},
                "effectiveDateTime": at,
                "component": parts,
                **more,
            },
        }

    species = {"url": "species", "valueCodeableConcept": {"text": "Canine"}}
    url = "http://hl7.org/fhir/StructureDefinition/patient-animal"
    weight = {
        "resourceType": "Observation",
        "status": "final",
        "code": {"coding": [{"system": "http://loinc.org", "code": "29463-7"}]},
    }
    entries = [
        {
            "fullUrl": "https://record.example/fhir/Patient/p",
            "resource": {
                "resourceType": "Patient",
                "id": "p",
                "name": [{"text": "Invented Hound"}],
                "gender": "male",
                "birthDate": "2020",
                "extension": [{"url": url, "extension": [species]}],
            },
        },
        panel(
            1,
            "2031-02-04T09:00:00Z",
            {"valueQuantity": {"value": 20, "unit": "kPa", "system": "http://unitsofmeasure.org", "code": "kPa"}},
            method={"coding": [{"system": "http://snomed.info/sct", "code": "765172009"}]},
            bodySite={"text": "Tail base"},
            device={"display": "a probe"},
        ),
        panel(
            2,
            "2031-02-04T10:05:00+01:00",
            {"valueQuantity": {"value": 151, "unit": "mmHg"}},
            bodySite={"coding": [{"system": "http://snomed.info/sct", "code": "280711000"}], "text": "Left metatarsus"},
        ),
        panel(3, "2031-02-05T09:00:00Z", {"valueQuantity": {"value": 149, "unit": "mmHg", "code": "mm[Hg]"}}),
        panel(4, "2031-02-05T09:01:00Z", {"dataAbsentReason": {"text": "movement"}}),
        panel(
            5,
            "2031-02-05T09:02:00Z",
            {"valueQuantity": {"value": 149, "unit": "mmHg"}},
            method={"coding": [{"system": "http://snomed.info/sct", "code": "37931006"}]},
        ),
        {"resource": weight},
        {"resource": {"resourceType": "Encounter", "id": "e"}},
    ]
    return {"resourceType": "Bundle", "type": "searchset", "entry": entries}


def test_a_strangers_bundle_is_read_as_far_as_it_tells() -> None:
    """Species by its words, site by text and code, kPa converted, sessions by the hour between readings.

    Oracle: by construction; 20 kPa are 20 * 7.50062 mmHg, to the rounding of that factor.
    """
    found = read_bundle(as_bytes(stranger()))
    assert not found.is_ours
    assert (found.animal.species, found.animal.name, found.animal.sex, found.animal.born) == (
        "dog",
        "Invented Hound",
        "male",
        None,
    )
    first, second = found.sessions
    assert [len(first.readings), len(second.readings)] == [2, 1]
    doppler, other = first.readings
    assert doppler.systolic == pytest.approx(150.0124, abs=1e-3)
    assert (doppler.circumstances.method, doppler.circumstances.site) == ("doppler", "tail")
    assert doppler.circumstances.instrument == "a probe"
    assert (other.circumstances.side, other.circumstances.site) == ("left", "hindlimb")
    assert other.taken_at - doppler.taken_at == timedelta(minutes=5)
    assert first.value is None


def test_what_a_stranger_left_open_is_told() -> None:
    """What was left out or taken for granted stands in a sentence each.

    Oracle: by construction.
    """
    told = " ".join(read_bundle(as_bytes(stranger())).notices)
    for part in (
        "to the year",
        "another method",
        "no blood pressure",
        "Encounter",
        "taken for oscillometric",
        "60 minutes",
        "without a systolic",
    ):
        assert part in told, told


def observation(made: Json, n: int = 1) -> Json:
    """The resource of an entry of the stranger's bundle."""
    found = made["entry"][n]["resource"]
    assert isinstance(found, dict)
    return found


WRONG: dict[str, tuple[Any, str, int | None]] = {
    "status": (lambda m: observation(m).update(status="banana"), "unknown-status", 2),
    "unit": (lambda m: observation(m)["component"][0]["valueQuantity"].update(code="psi"), "unknown-unit", 2),
    "number as text": (lambda m: observation(m)["component"][0]["valueQuantity"].update(value="20"), "not-a-number", 2),
    "truth as number": (
        lambda m: observation(m)["component"][0]["valueQuantity"].update(value=True),
        "not-a-number",
        2,
    ),
    "huge": (lambda m: observation(m)["component"][0]["valueQuantity"].update(value=10**400), "not-a-number", 2),
    "impossible": (lambda m: observation(m)["component"][0]["valueQuantity"].update(value=99), "out-of-range", 2),
    "no number": (lambda m: observation(m)["component"][0]["valueQuantity"].pop("value"), "not-a-number", 2),
    "more than": (lambda m: observation(m)["component"][0]["valueQuantity"].update(comparator=">"), "inexact", 2),
    "both": (lambda m: observation(m)["component"][0].update(dataAbsentReason={"text": "-"}), "told-twice", 2),
    "other value": (
        lambda m: observation(m)["component"].__setitem__(
            0, {"code": observation(m)["component"][0]["code"], "valueString": "150"}
        ),
        "wrong-type",
        2,
    ),
    "twice": (lambda m: observation(m)["component"].append(observation(m)["component"][0]), "told-twice", 2),
    "day alone": (lambda m: observation(m).update(effectiveDateTime="2031-02-04"), "not-a-time", 2),
    "no offset": (lambda m: observation(m).update(effectiveDateTime="2031-02-04T10:00:00"), "not-a-time", 2),
    "30 February": (lambda m: observation(m).update(effectiveDateTime="2031-02-30T10:00:00Z"), "not-a-time", 2),
    "year 1": (lambda m: observation(m).update(effectiveDateTime="0001-01-01T00:00:00+01:00"), "not-a-time", 2),
    "no time": (lambda m: observation(m).pop("effectiveDateTime"), "no-time", 2),
    "component": (lambda m: observation(m).update(component={"code": 1}), "wrong-type", 2),
    "component of numbers": (lambda m: observation(m).update(component=[1, 2]), "wrong-type", 2),
    "code": (lambda m: observation(m).update(code="85354-9"), "wrong-type", 2),
    "subject": (lambda m: observation(m).update(subject={"reference": "Patient/q"}), "other-subject", 2),
    "R5": (lambda m: observation(m).update(triggeredBy=[]), "other-release", 2),
    "by Doppler": (
        lambda m: observation(m)["component"].__setitem__(
            1,
            {
                "code": {"coding": [{"system": "http://loinc.org", "code": "8462-4"}]},
                "valueQuantity": {"value": 80, "unit": "mmHg"},
            },
        ),
        "not-by-doppler",
        2,
    ),
    "order": (
        lambda m: observation(m, 2)["component"].__setitem__(
            1,
            {
                "code": {"coding": [{"system": "http://loinc.org", "code": "8462-4"}]},
                "valueQuantity": {"value": 160, "unit": "mmHg"},
            },
        ),
        "out-of-order",
        3,
    ),
    "member": (lambda m: observation(m).update(hasMember=[{"reference": "Observation/none"}]), "no-such-entry", 2),
    "horse": (
        lambda m: observation(m, 0)["extension"][0]["extension"][0].update(valueCodeableConcept={"text": "Horse"}),
        "other-species",
        1,
    ),
    "no species": (lambda m: observation(m, 0).pop("extension"), "species-missing", 1),
    "gender": (lambda m: observation(m, 0).update(gender="spayed"), "unknown-gender", 1),
    "born": (lambda m: observation(m, 0).update(birthDate="yesterday!"), "not-a-date", 1),
    "half a letter": (lambda m: observation(m, 0)["name"][0].update(text="\ud800"), "not-text", 1),
    "nul": (lambda m: observation(m, 0)["name"][0].update(text="a\0b"), "not-text", 1),
    "long": (lambda m: observation(m, 0)["name"][0].update(text="a" * 5000), "too-long", 1),
    "address twice": (lambda m: m["entry"].append(copy.deepcopy(m["entry"][2])), "address-twice", 9),
    "no resource": (lambda m: m["entry"].append({"fullUrl": "x"}), "no-resource", 9),
    "entry": (lambda m: m["entry"].append(7), "no-resource", 9),
    "no animal": (lambda m: m["entry"].pop(0), "not-one-animal", None),
    "nothing": (lambda m: m.update(entry=[]), "empty", None),
    "no list": (lambda m: m.update(entry={}), "empty", None),
    "only an animal": (lambda m: m.update(entry=m["entry"][:1]), "no-readings", None),
    "history": (lambda m: m.update(type="history"), "other-bundle", None),
    "no bundle": (lambda m: m.update(resourceType="Patient"), "not-a-bundle", None),
    "too many": (lambda m: m.update(entry=[m["entry"][0]] * (MOST_ENTRIES + 1)), "too-many", None),
}


@pytest.mark.parametrize("name", WRONG)
def test_what_is_wrong_is_named_with_its_entry_and_a_remedy(name: str) -> None:
    """Each mistake has its code, its entry where one is to blame, and says what to do, on one line.

    Oracle: by construction.
    """
    change, code, entry = WRONG[name]
    made = stranger()
    change(made)
    with pytest.raises(BundleError) as caught:
        read_bundle(as_bytes(made))
    error = caught.value
    assert (error.code, error.entry) == (code, entry)
    assert error.says
    assert error.remedy
    assert "\n" not in str(error)
    assert entry is None or str(error).startswith(f"entry {entry} (") or error.code == "no-resource"
    again = pickle.loads(pickle.dumps(error))
    assert str(again) == str(error)


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "not-json"),
        (b"\xff\xfe\x00", "not-json"),
        (b"[" * 200_000, "too-deep"),
        (b'{"a":' * 200_000, "too-deep"),
        (b"[1]", "not-a-bundle"),
        (b'{"resourceType": "Bundle", "type": NaN}', "not-json"),
        (b'{"resourceType": "Bundle", "type": ' + b"9" * 10_000 + b"}", "not-json"),
        (b'{"resourceType": "Bundle", "type": 1e999}', "other-bundle"),
        (b" " * (MOST_BYTES + 1), "too-large"),
        (b'{"resourceType": "Bundle", "type": "collection", "meta": {"tag": 4}}', "wrong-type"),
    ],
)
def test_hostile_bytes_end_in_an_error(content: bytes, code: str) -> None:
    """What is no bundle, too deep, too large or holds impossible numbers is refused with a sentence.

    Oracle: by construction.
    """
    with pytest.raises(BundleError) as caught:
        read_bundle(content)
    assert caught.value.code == code


def test_a_bundle_of_ours_that_somebody_changed_is_refused() -> None:
    """What breaks one of our own rules is no longer what we wrote.

    Oracle: by construction.
    """
    made = bundle()
    del made["entry"][3]["resource"]["component"][0]
    with pytest.raises(BundleError, match="changed after it was written") as caught:
        read_bundle(as_bytes(made))
    assert caught.value.code == "not-as-written"
    newer = bundle()
    newer["meta"]["tag"][0]["code"] = "2"
    with pytest.raises(BundleError, match="newer Quietlimb"):
        read_bundle(as_bytes(newer))


def test_the_species_that_is_known_must_agree() -> None:
    """The species of the animal here fills in what the bundle leaves open, and refuses another.

    Oracle: by construction.
    """
    silent = stranger()
    del observation(silent, 0)["extension"]
    found = read_bundle(as_bytes(silent), species="dog")
    assert found.animal.species == "dog"
    assert "animal" in found.notices[0]
    with pytest.raises(BundleError) as caught:
        read_bundle(as_bytes(stranger()), species="cat")
    assert caught.value.code == "species-conflict"
    nothing_told = BundleAnimal(key=key(1), species="cat")
    assert read_bundle(bundle_text(bundle(FIRST, animal=nothing_told)).encode()).animal == nothing_told


def places(thing: Any, way: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every place in a JSON value."""
    found = [way] if way else []
    if isinstance(thing, dict):
        return found + [each for name, inner in thing.items() for each in places(inner, (*way, name))]
    if isinstance(thing, list):
        return found + [each for n, inner in enumerate(thing) for each in places(inner, (*way, n))]
    return found


STRANGE = (None, True, -1, 10**400, 1e308, math.inf, "", "x", "\ud800", [], {}, [[]], [{}], {"a": {}}, [None])
BASES = {"ours": bundle(), "a stranger's": stranger()}


@settings(max_examples=400, deadline=None)
@given(st.data())
def test_any_part_replaced_by_anything_gives_sessions_or_an_error(data: st.DataObject) -> None:
    """One or two places of a good bundle, set to what does not belong there, never end in a traceback.

    Oracle: by construction.
    """
    made = copy.deepcopy(BASES[data.draw(st.sampled_from(sorted(BASES)))])
    for _ in range(data.draw(st.integers(1, 2))):
        *way, name = data.draw(st.sampled_from(places(made)))
        thing: Any = made
        for step in way:
            thing = thing[step]
        thing[name] = copy.deepcopy(data.draw(st.sampled_from(STRANGE)))  # the next draw may change what is in it
    try:
        found = read_bundle(json.dumps(made).encode())
    except BundleError as error:
        assert error.remedy  # noqa: PT017  whether it is raised at all depends on what was drawn
    else:
        assert found.sessions
        assert all(each.started_at.tzinfo for each in found.sessions)
