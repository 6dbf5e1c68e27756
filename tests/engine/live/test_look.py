"""What is known at a look, and when more would change nothing."""

from __future__ import annotations

import numpy as np
import pytest

from engine.judgement.examples import train_of
from engine.recordings import made
from quietlimb.engine.findings import Verdict
from quietlimb.engine.live.look import Look, look_at
from quietlimb.engine.reading import Evidence, Reading
from quietlimb.engine.values import Estimate


def estimate(value: float | None) -> Estimate | None:
    return (
        None if value is None else Estimate(value=value, low=value - 8.0, high=value + 8.0, own_sd=2.0, shared_sd=3.5)
    )


def reading(
    systolic: float | None,
    mean: float | None,
    diastolic: float | None,
    verdict: Verdict = "keep",
    period_s: float = 0.4,
) -> Reading:
    """A reading with these values, of pulses with this period."""
    return Reading(
        systolic=estimate(systolic),
        mean=estimate(mean),
        diastolic=estimate(diastolic),
        pulse_rate=None,
        method="artery fit",
        findings=(),
        verdict=verdict,
        evidence=Evidence(
            recording=made().recording,
            deflation_s=(0.0, 20.0),
            pulses=train_of(period_s=period_s).pulses,
            envelope_pressure_mmhg=np.empty(0),
            envelope_height_mmhg=np.empty(0),
        ),
    )


def looks(*readings: Reading, level_mmhg: float = 40.0) -> Look:
    """The last of looks half a second apart."""
    look = None
    for k, one in enumerate(readings):
        look = look_at(one, at_s=0.5 * k, level_mmhg=level_mmhg, before=look)
    assert look is not None
    return look


def test_a_value_is_known_when_two_looks_give_it():
    """Given once it is not shown; given twice, it is, as the newest look has it.

    Oracle: by construction.
    """
    first = looks(reading(140.0, 110.0, None)).reading
    assert (first.systolic, first.mean, first.diastolic) == (None, None, None)
    second = looks(reading(140.0, 110.0, None), reading(141.0, 111.0, 95.0)).reading
    assert second.systolic == estimate(141.0)
    assert second.mean == estimate(111.0)
    assert second.diastolic is None


STEADY = reading(140.0, 110.0, 95.0)


@pytest.mark.parametrize(
    ("readings", "level_mmhg", "enough"),
    [
        ((STEADY, STEADY, STEADY), 79.0, True),
        ((STEADY, STEADY, STEADY), 81.0, False),
        ((STEADY, STEADY), 79.0, False),
        ((STEADY, STEADY, reading(140.9, 110.0, 95.0)), 79.0, True),
        ((STEADY, STEADY, reading(141.2, 110.0, 95.0)), 79.0, False),
        ((STEADY, STEADY, reading(140.0, 110.0, 95.0, "doubtful")), 79.0, False),
        ((STEADY, reading(140.0, 110.0, 95.0, "doubtful"), STEADY), 79.0, False),
        ((STEADY, reading(140.0, 110.0, None), STEADY), 79.0, False),
        ((reading(170.0, 110.0, 95.0), STEADY, STEADY, STEADY), 79.0, True),
    ],
)
def test_enough_is_three_looks_kept_steady_and_well_below_the_diastolic(
    readings: tuple[Reading, ...], level_mmhg: float, enough: bool
):
    """Three looks one after the other that are kept, give all and differ by 1 mmHg at most; the cuff 15 mmHg below.

    Oracle: by construction; the limits are invented.
    """
    assert looks(*readings, level_mmhg=level_mmhg).enough is enough


def test_a_period_is_believed_when_two_looks_agree():
    """0.40 and 0.42 s agree, 0.40 and 0.80 s do not, and one look alone is not believed.

    Oracle: by construction.
    """
    slow, quick, slower = (reading(None, None, None, period_s=period_s) for period_s in (0.4, 0.42, 0.8))
    assert looks(slow).period_s is None
    assert looks(slow, quick).period_s == pytest.approx(0.42)
    assert looks(slow, slower).period_s is None
