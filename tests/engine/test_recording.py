"""Cuff pressure over time."""

from __future__ import annotations

import hashlib
import struct

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.recordings import CAT, line, sampled
from quietlimb.engine.errors import RecordingError
from quietlimb.engine.recording import Recording, recording

FALL = line(180.0, 60.0, 10.0, 100.0)
TIME = np.arange(FALL.size) / 100.0


def changed(values: np.ndarray, k: int, value: float) -> np.ndarray:
    """A copy with one sample changed."""
    copy = values.copy()
    copy[k] = value
    return copy


def pause(after: int, seconds: float) -> np.ndarray:
    """The times with a pause put in."""
    return TIME + seconds * (np.arange(TIME.size) > after)


BROKEN = {
    "two lengths": (TIME[:-1], FALL, "shape", "1199"),
    "a table": (np.stack((TIME, TIME)), np.stack((FALL, FALL)), "shape", "two columns"),
    "nothing": (TIME[:0], FALL[:0], "too-short", "only 0 samples"),
    "one sample": (TIME[:1], FALL[:1], "too-short", "only 1 samples"),
    "two seconds": (TIME[:201], FALL[:201], "too-short", "only 2.0 s; record at least 3 s"),
    "no number in time": (changed(TIME, 7, np.nan), FALL, "not-finite", "sample 8: time"),
    "no number in pressure": (TIME, changed(FALL, 7, np.nan), "not-finite", "sample 8: cuff pressure"),
    "endless pressure": (TIME, changed(FALL, 0, np.inf), "not-finite", "sample 1: cuff pressure"),
    "time stands": (changed(TIME, 5, TIME[4]), FALL, "time-backwards", "sample 6: time goes from 0.04 s to 0.04 s"),
    "time turns": (TIME[::-1], FALL, "time-backwards", "sample 2"),
    "below": (TIME, changed(FALL, 3, -20.1), "out-of-range", "sample 4: -20.1 mmHg is outside -20 to 350 mmHg"),
    "above": (TIME, changed(FALL, 3, 350.1), "out-of-range", "sample 4: 350.1 mmHg"),
    "a gap": (pause(99, 0.6), FALL, "gap", "sample 101: nothing for 0.61 s after 0.99 s"),
    "40 a second": (TIME * 2.5, FALL, "too-slow", "40 samples a second"),
    "flat": (TIME, 100.0 + 0.9 * np.sin(TIME) ** 2, "flat", "stays within 0.90 mmHg"),
    "kPa": (TIME, FALL * 0.133322, "kpa-suspected", "never exceeds 24.0 mmHg.*cuff_pressure_kPa"),
}


@pytest.mark.parametrize("fault", BROKEN)
def test_each_fault_is_named(fault: str):
    """A column that cannot be a recording is refused with the code, the sample at fault and what to do.

    Oracle: by construction: one fault is put in by hand; samples are counted from 1, as a person counts rows.
    """
    time, pressure, code, says = BROKEN[fault]
    with pytest.raises(RecordingError, match=says) as caught:
        recording(time, pressure, CAT)
    assert caught.value.code == code
    assert caught.value.remedy


def test_the_limits_themselves_are_taken():
    """Pressures of exactly -20 and 350 mmHg, a gap of 0.5 s, 45 samples a second and 3 s are still a recording.

    Oracle: by construction, the limits that the class states. Tolerance: 1e-9 s, for the rounding of times.
    """
    assert recording(TIME, changed(changed(FALL, 3, -20.0), 4, 350.0), CAT).cuff_pressure_mmhg[3] == -20.0
    assert recording(pause(99, 0.49 - 1e-9), FALL, CAT).time_s.size == TIME.size
    assert sampled(FALL, 45.0 + 1e-9).sampling_rate_hz == pytest.approx(45.0)
    assert recording(TIME[:302], FALL[:302], CAT).time_s.size == 302


def test_the_rate_is_the_usual_one():
    """A few late samples do not change the sampling rate.

    Oracle: by construction. Tolerance: rounding.
    """
    assert recording(pause(99, 0.2), FALL, CAT).sampling_rate_hz == pytest.approx(100.0)


def test_columns_are_copied_and_locked():
    """A recording holds its own samples, which nobody can change.

    Oracle: by construction.
    """
    time, pressure = TIME.tolist(), FALL.copy()
    kept = recording(time, pressure, CAT)
    pressure[:] = 0.0
    assert kept.cuff_pressure_mmhg[0] == 180.0
    assert kept.cuff_pressure_mmhg.dtype == np.float64
    for column in (kept.time_s, kept.cuff_pressure_mmhg):
        with pytest.raises(ValueError, match="read-only"):
            column[0] = 1.0


@settings(max_examples=30, deadline=None)
@given(
    pressure=st.lists(st.floats(-20.0, 350.0), min_size=160, max_size=200),
    step=st.floats(0.0195, 0.0205),
)
def test_the_fingerprint_is_of_little_endian_doubles(pressure: list[float], step: float):
    """The fingerprint is the sha256 of all times, then all pressures, as little-endian 8-byte floats.

    Oracle: reference library, hashlib and struct of Python's standard library. Tolerance: none.
    """
    time = [k * step for k in range(len(pressure))]
    pressure[:2] = [60.0, 300.0]
    packed = struct.pack(f"<{len(time)}d", *time) + struct.pack(f"<{len(pressure)}d", *pressure)
    assert recording(time, pressure, CAT).fingerprint == hashlib.sha256(packed).hexdigest()


def test_the_fingerprint_does_not_ask_how_the_samples_lie_in_memory():
    """Big-endian samples have the fingerprint of the same samples in this machine's order; one changed bit does not.

    Oracle: by construction.
    """
    plain = recording(TIME, FALL, CAT)
    other = Recording(time_s=TIME.astype(">f8"), cuff_pressure_mmhg=FALL.astype(">f8"), circumstances=CAT)
    assert other.fingerprint == plain.fingerprint
    bit = changed(FALL, 50, float(np.nextafter(FALL[50], 0.0)))
    assert recording(TIME, bit, CAT).fingerprint != plain.fingerprint
