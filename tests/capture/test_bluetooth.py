"""An instrument with Bluetooth, played by a fake behind the port of the radio."""

from __future__ import annotations

import time
from collections.abc import Callable

import pytest

from capture.fake_instrument import C1, C3, C5, P1, P5, FakeInstrument
from capture.listening import Heard, listen
from quietlimb.capture.bluetooth import Bluetooth, Link
from quietlimb.capture.errors import CaptureError
from quietlimb.exchange.blood_pressure_service import CUFF_PRESSURE, FEATURE, MEASUREMENT


def source_of(instrument: FakeInstrument) -> Bluetooth:
    """A source that calls it every tenth of a second."""
    return Bluetooth("invented", instrument.connect, retry_s=0.1)


def readings(heard: Heard) -> list[float | None]:
    """The systolic pressures that were read."""
    return [reading.systolic_mmhg for frame in heard.frames for reading in frame.readings]


def enough(size: int) -> Callable[[Heard], bool]:
    """Whether that many readings have come."""
    return lambda heard: len(readings(heard)) >= size


def test_remembered_readings_and_the_pressure_now() -> None:
    """All readings come in their order, listened for before anything else; the pressure now is a sample beside them.

    Oracle: by construction, octets whose meaning is published or was computed by hand.
    """
    instrument = FakeInstrument([[P1, C1, C3]], shows=[C5])
    source = source_of(instrument)
    heard = listen(source, lambda heard: enough(3)(heard) and source.feature is not None)
    assert readings(heard) == [127.0, 152.5, 145.0]
    assert heard.pressure.tolist() == [120.0]
    assert instrument.asked[0] == MEASUREMENT
    assert set(instrument.asked) == {MEASUREMENT, CUFF_PRESSURE, FEATURE}
    assert source.feature == 0x1F
    # held back until it is known what the instrument can detect, but kept at once
    first = next(k for k, frame in enumerate(heard.frames) if frame.readings)
    assert b"#feature=" in b"".join(frame.lines for frame in heard.frames[:first])
    assert not source.is_waveform
    assert instrument.left == instrument.calls


def test_what_is_kept_holds_every_octet() -> None:
    """The lines name each reading and each pressure as it was sent.

    Oracle: by construction.
    """
    source = source_of(FakeInstrument([[C1, P5]], shows=[C5]))
    heard = listen(source, lambda _heard: source.feature is not None)
    for octets, key in ((C1, "measurement"), (P5, "measurement"), (C5, "cuff_pressure"), (b"\x1f\x00", "feature")):
        assert f"#{key}={octets.hex()}\n".encode() in heard.lines
    assert source.troubles["unreadable-line"] == 1
    assert b"invented" not in heard.lines


def test_a_reading_that_is_sent_again_counts_once() -> None:
    """An instrument that hangs up and sends everything again is called again, and gives only what is new.

    Oracle: by construction.
    """
    instrument = FakeInstrument([[C1], [C1, C3]], asleep=2)
    source = source_of(instrument)
    heard = listen(source, enough(2))
    assert readings(heard) == [152.5, 145.0]
    assert source.troubles["repeated"] == 1
    assert source.troubles["went-away"] >= 1
    assert source.troubles["came-back"] >= 1
    assert instrument.calls >= 4


def test_an_instrument_without_feature_and_cuff_pressure_is_read() -> None:
    """What an instrument may lack, it may lack.

    Oracle: by construction, both are optional for what is asked here.
    """
    source = source_of(FakeInstrument([[C3]], feature=None))
    assert readings(listen(source, enough(1))) == [145.0]
    assert source.feature is None


def test_no_adapter_ends_the_capture_with_a_sentence() -> None:
    """What waiting cannot mend is an error.

    Oracle: by construction.
    """

    async def connect(_address: str) -> Link:
        raise CaptureError("no-bluetooth", "there is none", "plug one in")

    with pytest.raises(CaptureError, match="plug one in"):
        listen(Bluetooth("invented", connect))


def test_an_instrument_that_never_answers_can_be_closed() -> None:
    """Closing ends the source within a moment.

    Oracle: by construction. Tolerance: 1 s, several times what it waits.
    """
    source = source_of(FakeInstrument([], asleep=10**6))
    frames = source.frames()
    next(frames)
    source.close()
    began = time.monotonic()
    list(frames)
    assert time.monotonic() - began < 1.0
