"""What a browser sends of a reading: refused where it is impossible, asked about where it is unlikely."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from quietlimb.clinic.sessions.entry import EntryError, SoFar, entered

START = datetime(2024, 1, 4, 9, 0, tzinfo=UTC)
NOW = START + timedelta(hours=1)
FIRST = SoFar(species="cat")
GOOD: dict[str, Any] = {
    "client_id": "5a1f4a0e-8f0a-4d0e-9b0a-0a6f3f1c2d3e",
    "ordinal": 3,
    "taken_at": "2024-01-04T10:05:00+01:00",
    "systolic": 162,
    "mean": 128.5,
    "diastolic": 104,
    "pulse_rate": None,
    "spoiled": "",
}


def refusal(technique: str = "oscillometric", *, so_far: SoFar = FIRST, **changed: object) -> EntryError:
    """Why the good reading, so changed, is not taken."""
    with pytest.raises(EntryError) as caught:
        entered({**GOOD, **changed}, technique=technique, started_at=START, now=NOW, so_far=so_far)
    return caught.value


def test_a_good_reading_is_taken_as_it_was_typed() -> None:
    """Numbers, time with its offset, key and place arrive.

    Oracle: by construction.
    """
    found = entered(GOOD, technique="oscillometric", started_at=START, now=NOW, so_far=FIRST)
    assert (found.systolic, found.mean, found.diastolic, found.pulse_rate) == (162.0, 128.5, 104.0, None)
    assert found.taken_at == START + timedelta(minutes=5)
    assert found.client_id == uuid.UUID(GOOD["client_id"])
    assert (found.ordinal, found.spoiled) == (3, "")


@pytest.mark.parametrize(
    ("changed", "code", "field"),
    [
        ({"client_id": "x"}, "no-key", "client_id"),
        ({"ordinal": "1"}, "no-ordinal", "ordinal"),
        ({"ordinal": True}, "no-ordinal", "ordinal"),
        ({"ordinal": -1}, "no-ordinal", "ordinal"),
        ({"systolic": "12o"}, "not-a-number", "systolic"),
        ({"systolic": float("nan")}, "not-a-number", "systolic"),
        ({"systolic": float("inf")}, "not-a-number", "systolic"),
        ({"systolic": 10**400}, "not-a-number", "systolic"),
        ({"systolic": True}, "not-a-number", "systolic"),
        ({"systolic": 321}, "out-of-range", "systolic"),
        ({"systolic": 16}, "out-of-range", "systolic"),
        ({"systolic": None}, "nothing-typed", "systolic"),
        ({"mean": 170}, "out-of-order", "mean"),
        ({"diastolic": 130}, "out-of-order", "diastolic"),
        ({"mean": None, "diastolic": 162}, "out-of-order", "diastolic"),
        ({"taken_at": "2024-01-04T10:05:00"}, "no-time", "taken_at"),
        ({"taken_at": "2024-13-04T10:05:00Z"}, "no-time", "taken_at"),
        ({"taken_at": "2024-01-04T10:11:00Z"}, "in-the-future", "taken_at"),
        ({"taken_at": "2024-01-03T08:59:00Z"}, "another-day", "taken_at"),
        ({"spoiled": "sneezed"}, "unknown-reason", "spoiled"),
    ],
)
def test_the_impossible_is_refused_with_the_slot_to_look_at(changed: dict[str, object], code: str, field: str) -> None:
    """Each refusal names what is wrong and where, and does not ask.

    Oracle: by construction; limits are those of files of readings.
    """
    found = refusal(**changed)
    assert (found.code, found.field, found.asks) == (code, field, False)


def test_by_doppler_there_is_one_number() -> None:
    """A mean or diastolic pressure is refused there.

    Oracle: common practice; the sound tells the systolic pressure alone.
    """
    assert refusal("doppler").code == "not-by-doppler"
    alone = {**GOOD, "mean": None, "diastolic": None}
    assert entered(alone, technique="doppler", started_at=START, now=NOW, so_far=FIRST).systolic == 162


def test_the_unlikely_is_asked_about_and_taken_when_sure() -> None:
    """Pressures too near or too far apart may be so; the person says.

    Oracle: invented limits, 15 and 110 mmHg, frozen here.
    """
    for changed in ({"diastolic": 150, "mean": 155}, {"diastolic": 50, "mean": 90}):
        assert refusal(**changed).asks
        sent = {**GOOD, **changed, "sure": True}
        assert (
            entered(sent, technique="oscillometric", started_at=START, now=NOW, so_far=FIRST).diastolic
            == changed["diastolic"]
        )


SERIES = SoFar(
    species="cat",
    taken_at=(START,),
    values={"systolic": (162.0, 158.0), "mean": (126.0,), "diastolic": (98.0, 96.0), "pulse_rate": (180.0,)},
)


@pytest.mark.parametrize(
    ("changed", "code", "field"),
    [
        ({"systolic": 290, "mean": 240, "diastolic": 200}, "unlikely-systolic", "systolic"),
        ({"systolic": 45, "mean": None, "diastolic": None}, "unlikely-systolic", "systolic"),
        ({"systolic": 165, "mean": 160, "diastolic": 100}, "unlikely-mean", "mean"),
        ({"pulse_rate": 35}, "unlikely-rate", "pulse_rate"),
        ({"pulse_rate": 95}, "far-from-the-series", "pulse_rate"),
        ({"systolic": 225, "mean": None, "diastolic": None}, "far-from-the-series", "systolic"),
        ({"taken_at": "2024-01-04T06:30:00Z"}, "far-in-time", "taken_at"),
    ],
)
def test_a_number_that_fits_neither_the_animal_nor_the_series_is_asked_about_once(
    changed: dict[str, object], code: str, field: str
) -> None:
    """All that is unlikely stands in one question, and when sure it is taken.

    Oracle: invented limits, frozen here; where a mean lies is common practice, the engine's own limits.
    """
    found = refusal(so_far=SERIES, **changed)
    assert (found.code, found.field, found.asks) == (code, field, True)
    sent = {**GOOD, **changed, "sure": True}
    entered(sent, technique="oscillometric", started_at=START, now=NOW, so_far=SERIES)


def test_a_very_low_pressure_asks_for_the_veterinarian_with_the_question() -> None:
    """Under 90 mmHg the question itself says what to do if it is so.

    Oracle: common practice, the engine's own line.
    """
    found = refusal(so_far=SERIES, systolic=45, mean=None, diastolic=None)
    assert "45 is far from the readings so far, whose middle is 160" in found.says
    assert "fetch the veterinarian" in found.remedy


def test_readings_entered_after_the_fact_are_asked_about_once_and_not_each() -> None:
    """Hours before the session it is asked about; near to one that stands there already it is not.

    Oracle: by construction, with an invented limit of two hours.
    """
    sent = {**GOOD, "taken_at": "2024-01-04T05:30:00Z"}
    near = SoFar(species="cat", taken_at=(START - timedelta(hours=3, minutes=40),))
    entered(sent, technique="oscillometric", started_at=START, now=NOW, so_far=near)


def test_what_was_meant_once_is_not_asked_about_again() -> None:
    """An animal whose pressure is very low, or whose pulse pressure is wide, is asked about at its first reading alone.

    Oracle: by construction.
    """
    for first, rest in (((61.0, 35.0), (59, 41, 34)), ((190.0, 60.0), (188, 103, 61))):
        series = SoFar(species="dog", taken_at=(START,), values={"systolic": first[:1], "diastolic": first[1:]})
        sent = {**GOOD, "systolic": rest[0], "mean": rest[1], "diastolic": rest[2]}
        assert refusal(**{name: sent[name] for name in ("systolic", "mean", "diastolic")}).asks
        entered(sent, technique="oscillometric", started_at=START, now=NOW, so_far=series)


def test_what_spoiled_is_not_asked_about_its_numbers() -> None:
    """It does not count, whatever it says.

    Oracle: by construction.
    """
    sent = {**GOOD, "systolic": 290, "mean": None, "diastolic": None, "spoiled": "moved"}
    entered(sent, technique="oscillometric", started_at=START, now=NOW, so_far=SERIES)


def test_a_spoiled_reading_needs_no_number() -> None:
    """That the limb moved is worth keeping by itself.

    Oracle: by construction.
    """
    sent = {**GOOD, "systolic": None, "mean": None, "diastolic": None, "spoiled": "moved"}
    assert entered(sent, technique="oscillometric", started_at=START, now=NOW, so_far=FIRST).spoiled == "moved"


@pytest.mark.parametrize("sent", [None, [], "x", 3])
def test_what_is_no_object_is_refused(sent: object) -> None:
    """Anything may come over the wire.

    Oracle: by construction.
    """
    with pytest.raises(EntryError, match="JSON object"):
        entered(sent, technique="oscillometric", started_at=START, now=NOW, so_far=FIRST)
