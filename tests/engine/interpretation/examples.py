"""Invented estimates, guideline averages and charted pressures for the checks of this room."""

from __future__ import annotations

from typing import Any

from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.session.charted import ChartedPressure, GuidelineAverage, ReadingInSeries
from quietlimb.engine.session.series import series_from_values
from quietlimb.engine.standards.acvim_2018 import PROTOCOL
from quietlimb.engine.values import Estimate

ALL_ABSENT = {"eyes": "absent", "brain": "absent", "heart": "absent", "kidneys": "absent"}


def estimate(value: float, sd: float = 5.0, half_width: float | None = None) -> Estimate:
    half = 1.959964 * sd if half_width is None else half_width
    return Estimate(value=value, low=value - half, high=value + half, own_sd=0.6 * sd, shared_sd=0.8 * sd)


def guideline(systolic: float | None, **changes: Any) -> GuidelineAverage:
    told: dict[str, Any] = {
        "protocol": PROTOCOL,
        "rule": "invented for this check",
        "kept": (2, 3, 4, 5, 6),
        "systolic": systolic,
        "mean": None,
        "diastolic": None,
        "spread": 0.08,
        "consistent": True,
        "enough": True,
    }
    return GuidelineAverage(**{**told, **changes})


def charted(
    systolic: Estimate | None, *, circumstances: dict[str, Any] | None = None, **changes: Any
) -> ChartedPressure:
    values = [150.0, 148.0, 147.0, 149.0, 148.0, 147.0]
    told: dict[str, Any] = {
        "series": series_from_values(
            circumstances=Circumstances(**{"species": "cat", **(circumstances or {})}),
            minute=[0, 1, 2, 3, 4, 5],
            systolic=values,
        ),
        "systolic": systolic,
        "mean": None,
        "diastolic": None,
        "pulse_rate": None,
        "course": "level",
        "course_probability": (0.9, 0.05, 0.05),
        "fall_mmhg": 1.0,
        "readings": tuple(
            ReadingInSeries(
                minute=float(k),
                verdict="keep",
                systolic_weight=1.0,
                mean_weight=None,
                diastolic_weight=None,
                findings=(),
            )
            for k in range(len(values))
        ),
        "guideline": None,
        "findings": (),
    }
    return ChartedPressure(**{**told, **changes})
