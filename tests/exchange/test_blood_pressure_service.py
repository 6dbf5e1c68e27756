"""Octets of the Bluetooth Blood Pressure Service.

The strings P1 to P6 were published by others (a question-and-answer thread with a real trace, the tests of public
libraries); C1 to C5 were computed by hand from the layout of the service. What each says was worked out by hand.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from quietlimb.exchange.blood_pressure_service import (
    InstrumentReading,
    decode_cuff_pressure,
    decode_feature,
    decode_measurement,
    signs,
)
from quietlimb.exchange.errors import ProtocolError

ALL_FEATURES = 0b11111


def decoded(octets: str) -> InstrumentReading:
    """The reading of octets written in hexadecimal digits."""
    return decode_measurement(bytes.fromhex(octets))


def told(reading: InstrumentReading) -> tuple[str, ...]:
    """Unit, systolic, diastolic, mean, pulse rate, date, as text: with their precision."""
    values = (reading.systolic, reading.diastolic, reading.mean, reading.pulse_rate, reading.taken_at)
    return (reading.unit, *(str(value) for value in values))


def test_p1_a_real_trace() -> None:
    """127.0/79.0 mmHg, no mean, 69.0 a minute, 2020-01-20 08:43:00, user 1; reserved bits are told.

    Oracle: published, a question-and-answer thread on a real instrument, which confirms the 127.0.
    """
    found = decoded("DE F6 F4 16 F3 FF 07 E4 07 01 14 08 2B 00 B2 F2 01 80 00")
    assert told(found) == ("mmHg", "127.0", "79.0", "not a number", "69.0", "2020-01-20T08:43:00")
    assert (found.user, found.status) == (1, 0x0080)
    assert found.questions == ("flags-reserved", "status-reserved")
    assert found.usable
    assert (found.systolic_mmhg, found.mean_mmhg, found.pulse_rate_per_min) == (127.0, None, 69.0)


def test_p2_pressures_that_cannot_be_are_asked_about() -> None:
    """121/81/106 said to be kPa are kept as said and are no reading: 121 kPa would be 908 mmHg.

    Oracle: published, the test of a public library, of which it checks the layout only. Tolerance: 1 mmHg, by hand.
    """
    found = decoded("1F 79 00 51 00 6A 00 E4 07 05 15 0A 1E 2D 48 00 01 06 00")
    assert told(found) == ("kPa", "121", "81", "106", "72", "2020-05-21T10:30:45")
    assert (found.user, found.status) == (1, 0x0006)
    assert found.questions == ("pressure-impossible",)
    assert found.systolic_mmhg == pytest.approx(908.0, abs=1.0)
    assert not found.usable
    seen = signs(found.status, ALL_FEATURES)
    assert [sign for sign, how in seen.items() if how == "detected"] == ["loose cuff", "irregular pulse"]


def test_p3_an_ordinary_reading() -> None:
    """120/80/93 mmHg, 72 a minute, 2026-06-04 08:30:00, nothing to ask.

    Oracle: published, the test of a public library.
    """
    found = decoded("16 78 00 50 00 5D 00 EA 07 06 04 08 1E 00 48 00 00 00")
    assert told(found) == ("mmHg", "120", "80", "93", "72", "2026-06-04T08:30:00")
    assert found.questions == ()
    assert found.usable
    assert (found.user, found.status) == (None, 0)


def test_p4_a_diastolic_above_the_systolic_is_asked_about() -> None:
    """16.0/17.0/20.0 kPa are told as sent and are no reading.

    Oracle: published, the test of a public library, of which it checks the layout only.
    """
    found = decoded("01 A0 F0 AA F0 C8 F0")
    assert told(found) == ("kPa", "16.0", "17.0", "20.0", "None", "None")
    assert found.questions == ("not-in-order",)
    assert not found.usable


def test_p5_too_few_octets_are_refused() -> None:
    """Nine octets of eighteen are no reading.

    Oracle: published, the test of a public library, which refuses them too.
    """
    with pytest.raises(ProtocolError, match="9 octets of the 18"):
        decoded("16 78 00 50 00 5D 00 EA 07")


def test_p6_three_equal_numbers() -> None:
    """114/114/114 mmHg.

    Oracle: published, a layout test after the transcoding white paper of the Bluetooth SIG, section 2.2.6.
    """
    assert told(decoded("00 72 00 72 00 72 00")) == ("mmHg", "114", "114", "114", "None", "None")


def test_c1_everything_at_once() -> None:
    """152.5/84.0/108.0 mmHg, 188 a minute, user 2, movement and irregular pulse.

    Oracle: computed by hand from the layout of the service.
    """
    found = decoded("1E F5 F5 48 F3 38 F4 EA 07 03 01 0A 0F 00 BC 00 02 05 00")
    assert told(found) == ("mmHg", "152.5", "84.0", "108.0", "188", "2026-03-01T10:15:00")
    assert (found.user, found.questions) == (2, ())
    seen = signs(found.status, ALL_FEATURES)
    assert [sign for sign, how in seen.items() if how == "detected"] == ["movement", "irregular pulse"]


def test_c2_kilopascals() -> None:
    """20.27/11.33/14.40 kPa are 152.04/84.98/108.01 mmHg.

    Oracle: computed by hand with 7.5006157585 mmHg to the kPa. Tolerance: half of the last digit.
    """
    found = decoded("01 EB E7 6D E4 A0 E5")
    assert told(found) == ("kPa", "20.27", "11.33", "14.40", "None", "None")
    assert found.systolic_mmhg == pytest.approx(152.04, abs=0.005)
    assert found.diastolic_mmhg == pytest.approx(84.98, abs=0.005)
    assert found.mean_mmhg == pytest.approx(108.01, abs=0.005)


def test_c3_systolic_only() -> None:
    """145 mmHg and two values that are no numbers: a reading with one pressure.

    Oracle: computed by hand.
    """
    found = decoded("00 91 00 FF 07 FF 07")
    assert (found.systolic_mmhg, found.diastolic_mmhg, found.mean_mmhg) == (145.0, None, None)
    assert found.usable


def test_c4_a_failed_reading_says_why() -> None:
    """No value at all, and movement, loose cuff, fast pulse, position.

    Oracle: computed by hand.
    """
    found = decoded("14 FF 07 FF 07 FF 07 FF 07 2B 00")
    assert found.systolic_mmhg is None
    assert not found.usable
    seen = signs(found.status, ALL_FEATURES)
    assert {sign: how for sign, how in seen.items() if how != "detected"} == {
        "irregular pulse": "not detected",
        "pulse too slow": "not detected",
    }


def test_c5_the_pressure_in_the_cuff() -> None:
    """120 mmHg now.

    Oracle: computed by hand.
    """
    assert decode_cuff_pressure(bytes.fromhex("00 78 00 FF 07 FF 07")) == 120.0
    assert decode_cuff_pressure(bytes.fromhex("00 FF 07 FF 07 FF 07")) is None


def test_not_detected_is_not_the_same_as_not_able_to() -> None:
    """A bit that is not set means nothing where the instrument cannot detect it, or does not say whether it can.

    Oracle: by construction, the service's tables of status and feature; position is bit 5 of one and 4 of the other.
    """
    assert signs(0, 0b10000) == {
        "movement": "not able to detect",
        "loose cuff": "not able to detect",
        "irregular pulse": "not able to detect",
        "pulse too fast": "not able to detect",
        "pulse too slow": "not able to detect",
        "position": "not detected",
    }
    assert set(signs(0, None).values()) == {"not known"}
    assert signs(0b100000, 0)["position"] == "detected"
    reserved = signs(0b11000, ALL_FEATURES)
    assert (reserved["pulse too fast"], reserved["pulse too slow"]) == ("not known", "not known")
    assert set(signs(None, ALL_FEATURES).values()) == {"not known"}


def test_a_date_that_is_none_is_kept_as_it_is() -> None:
    """Year 0 is unknown and no fault; month 13 is asked about, and neither ends the reading.

    Oracle: by construction, the ranges of the service.
    """
    unknown = decoded("02 78 00 50 00 5D 00 00 00 00 00 08 1E 00")
    assert (str(unknown.taken_at), unknown.questions) == ("0000-00-00T08:30:00", ())
    assert decoded("02 78 00 50 00 5D 00 EA 07 0D 01 08 1E 00").questions == ("date-impossible",)


def test_more_octets_than_announced_are_asked_about() -> None:
    """What nobody explained may mean that the layout is another one.

    Oracle: by construction.
    """
    found = decoded("00 78 00 50 00 5D 00 01")
    assert found.questions == ("longer-than-told",)
    assert not found.usable


def test_the_feature_may_have_more_octets() -> None:
    """Two octets are read, further ones left; fewer are an error.

    Oracle: from memory, the service of 2020 adds a check there.
    """
    assert decode_feature(b"\x15\x00") == 0x15
    assert decode_feature(b"\x15\x01\xaa\xbb") == 0x115
    with pytest.raises(ProtocolError):
        decode_feature(b"\x15")


@given(st.binary(max_size=24))
def test_no_octets_are_another_exception(octets: bytes) -> None:
    """Any octets are a reading or a ProtocolError, and a reading keeps them.

    Oracle: by construction.
    """
    try:
        found = decode_measurement(octets)
    except ProtocolError:
        return
    assert found.octets == octets
    assert found.usable or found.questions or found.systolic_mmhg is None
