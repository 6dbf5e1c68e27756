"""What `capture` tells as JSON."""

from __future__ import annotations

from typing import get_args

import jsonschema
import numpy as np

from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.findings import Severity
from quietlimb.engine.live.moment import Phase
from quietlimb.engine.live.watch import Watch
from quietlimb.exchange import capture_json
from quietlimb.exchange.blood_pressure_service import Question, Seen, Sign, decode_measurement
from quietlimb.exchange.capture_json import end_object, instrument_object, now_object, trouble_object
from quietlimb.exchange.errors import ProtocolError
from quietlimb.exchange.line_decoder import Trouble
from quietlimb.exchange.schemas import schema
from quietlimb.exchange.sfloat import NO_NUMBERS
from quietlimb.simulator.recordings import simulate_recording

SCHEMA = schema("capture")
P2 = bytes.fromhex("1F79005100 6A00E40705150A1E2D48000106 00")  # 121/81/106 said to be kPa; see the service's tests
C4 = bytes.fromhex("14FF07FF07FF07FF072B00")  # nothing but signs


def test_the_words_and_the_version_are_those_of_the_code() -> None:
    """Each list of the schema is the code's own.

    Oracle: by construction.
    """
    now, trouble, instrument, in_reach, end = (each["properties"] for each in SCHEMA["oneOf"])
    assert {each["schema"]["const"] for each in (now, trouble, instrument, in_reach, end)} == {capture_json.CAPTURE}
    assert set(now["phase"]["enum"]) == {*get_args(Phase), None}
    assert set(SCHEMA["$defs"]["remark"]["properties"]["severity"]["enum"]) == set(get_args(Severity))
    assert set(trouble["kind"]["enum"]) == set(get_args(Trouble))
    assert set(end["troubles"]["propertyNames"]["enum"]) == set(get_args(Trouble))
    assert set(instrument["questions"]["items"]["enum"]) == set(get_args(Question))
    assert set(instrument["signs"]["properties"]) == set(get_args(Sign))
    for sign in instrument["signs"]["properties"].values():
        assert set(sign["enum"]) == set(get_args(Seen))
    assert set(instrument["systolic_sent"]["oneOf"][1]["enum"]) == set(NO_NUMBERS.values())


def test_every_moment_of_an_inflation_is_valid() -> None:
    """From the empty cuff to the empty cuff each object is valid, and the pressures become known on the way.

    Oracle: by construction, the committed schema.
    """
    made = simulate_recording(14, species="dog").recording
    watch, known = Watch(Circumstances(species="dog")), 0
    for time_s, pressure in zip(
        np.array_split(made.time_s, 60), np.array_split(made.cuff_pressure_mmhg, 60), strict=True
    ):
        moment = watch.add(time_s, pressure)
        told = now_object(moment, moment.time_s, moment.pressure_mmhg, invented=True, kept_until_s=None)
        jsonschema.validate(told, SCHEMA)
        known += told["systolic"] is not None
    assert known > 0
    jsonschema.validate(now_object(None, None, None, invented=False, kept_until_s=1.0), SCHEMA)


def test_the_rest_is_valid() -> None:
    """Troubles, readings of an instrument and the end are valid, with and without an error.

    Oracle: by construction, the committed schema.
    """
    for octets, feature in ((P2, None), (C4, 0x1F)):
        told = instrument_object(decode_measurement(octets), feature)
        jsonschema.validate(told, SCHEMA)
        assert not told["usable"]
    assert told["systolic_sent"] == "not a number"
    for kind in get_args(Trouble):
        jsonschema.validate(trouble_object(kind, 3), SCHEMA)
    error = ProtocolError("unit-unknown", "it says 'bar'", "use another")
    for failed in (error, None):
        jsonschema.validate(
            end_object(
                "a/received.txt",
                ["a/reading-1.csv"],
                readings=0,
                troubles={"gap": 2},
                error=failed,
                says=None if failed is None else "Let the air out.",
            ),
            SCHEMA,
        )
