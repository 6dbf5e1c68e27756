"""A series as it is made from typed values and from readings."""

from __future__ import annotations

import hashlib
import json
import math
import struct
from dataclasses import asdict, replace

import numpy as np
import pytest

from engine.session.examples import series_of
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.errors import SeriesError
from quietlimb.engine.findings import Finding
from quietlimb.engine.reading import Reading
from quietlimb.engine.session.series import COLUMNS, series_from_readings, series_from_values
from quietlimb.engine.values import Estimate

CAT = Circumstances(species="cat", animal="L\u00f6we", site="tail", cuff_width_cm=2.5)


def reading_of(value: float | None, shared_sd: float = 4.0) -> Reading:
    """A reading by hand that gives only a systolic value, or none."""
    systolic = None
    if value is not None:
        systolic = Estimate(value=value, low=value - 12.0, high=value + 12.0, own_sd=3.0, shared_sd=shared_sd)
    return Reading(
        systolic=systolic,
        mean=None,
        diastolic=None,
        pulse_rate=None,
        method="artery fit",
        findings=(),
        verdict="keep",
        evidence=None,
    )


def test_the_fingerprint_is_what_the_description_says() -> None:
    """Eleven columns as little-endian doubles, a missing value as 000000000000f87f, then all circumstances and the
    parameters as JSON in ASCII.

    Oracle: by construction: the bytes are put together here with struct and a JSON text written by hand.
    """
    series = series_from_values(circumstances=CAT, minute=[0, 1.5], systolic=[160, 150.25], mean=[None, 110])
    missing = bytes.fromhex("000000000000f87f")
    packed = struct.pack("<2d", 0.0, 1.5) + struct.pack("<2d", 160.0, 150.25) + missing + struct.pack("<d", 110.0)
    packed += missing * 2 * 8
    told = (
        '{"acclimatisation_min": null, "animal": "L\\u00f6we", "breed": null, "cuff": null, '
        '"cuff_below_heart_cm": null, "cuff_width_cm": 2.5, "held_by": null, "instrument": null, '
        '"limb_circumference_cm": null, '
        '"method": "oscillometric", "place": null, "position": null, "read_by": null, "remarks": null, '
        '"sedation": null, "side": null, "site": "tail", "species": "cat", "started_at": null}'
    )
    text = told + '{"method": "artery fit", "variability": "range"}'
    expected = hashlib.sha256(packed + text.encode("ascii")).hexdigest()
    assert series.fingerprint_with({"variability": "range", "method": "artery fit"}) == expected


def test_the_fingerprint_does_not_ask_which_nan_or_which_kind_of_number() -> None:
    """Another bit pattern of nan, or a width of 2 for 2.0 cm, is the same session; another value is not.

    Oracle: by construction.
    """
    series = series_of([150.0, 151.0])
    other_nan = struct.unpack("<d", bytes.fromhex("010000000000f8ff"))[0]
    assert math.isnan(other_nan)
    same = replace(series, mean=np.full(2, other_nan))
    assert same.fingerprint_with({}) == series.fingerprint_with({})
    whole, point = (
        replace(series, circumstances=Circumstances(species="cat", cuff_width_cm=width)) for width in (2, 2.0)
    )
    assert whole.fingerprint_with({}) == point.fingerprint_with({})
    for name in COLUMNS:
        assert replace(series, **{name: np.array([1.0, 2.0])}).fingerprint_with({}) != series.fingerprint_with({})


def test_every_reading_keeps_its_own_shared_part() -> None:
    """Shared standard deviations stay with the readings that told them, and the method is carried.

    Oracle: by construction.
    """
    series = series_from_readings([reading_of(150.0), reading_of(None), reading_of(152.0, 45.0)], [0, 1, 2], CAT)
    np.testing.assert_array_equal(series.systolic_shared_sd, [4.0, np.nan, 45.0])
    np.testing.assert_array_equal(series.mean_shared_sd, [np.nan] * 3)
    assert (series.origin, series.reading_method) == ("recorded", "artery fit")


def test_a_typed_series_does_not_know_the_error_of_its_display() -> None:
    """No standard deviation is made up for a display. Oracle: by construction."""
    series = series_of([150.0, 151.0])
    for name in COLUMNS[5:]:
        assert np.isnan(getattr(series, name)).all()
    assert series.reading_method is None


@pytest.mark.parametrize("name", COLUMNS[1:])
def test_a_column_of_another_length_is_refused(name: str) -> None:
    """Each reading has a place in every column. Oracle: by construction."""
    with pytest.raises(SeriesError, match=name):
        replace(series_of([150.0, 151.0]), **{name: np.array([1.0])})


def test_what_was_set_aside_is_in_the_fingerprint() -> None:
    """The same numbers with another reading set aside are another session; their ordinals come last, as JSON.

    Oracle: by construction: the bytes without, continued by hand.
    """
    aside = Finding(code="set-aside", severity="spoils")
    plain = series_of([150.0, 151.0, 152.0])
    one = replace(plain, findings=((aside,), (), (aside,)))
    other = replace(plain, findings=((), (aside,), (aside,)))
    assert (plain.set_aside, one.set_aside) == ((), (1, 3))
    assert len({each.fingerprint_with({}) for each in (plain, one, other)}) == 3
    columns = [getattr(one, name) for name in COLUMNS]
    packed = b"".join(np.where(np.isnan(column), np.nan, column).astype("<f8").tobytes() for column in columns)
    told = json.dumps(asdict(one.circumstances), sort_keys=True)
    assert one.fingerprint_with({}) == hashlib.sha256(packed + f"{told}{{}}[1, 3]".encode("ascii")).hexdigest()
