"""Pulses too few, too weak, or no larger than the steps of the sensor."""

from __future__ import annotations

from dataclasses import replace

import pytest

from engine.judgement.examples import FALLING, oscillogram_at, train_of
from quietlimb.engine.findings import Severity
from quietlimb.engine.judgement import strength


def test_few_pulses_spoil():
    """Too few pulses are told beside how many it takes.

    Oracle: invented limit, frozen.
    """
    finding = strength.few_pulses(6)
    assert (finding.severity, dict(finding.numbers)) == ("spoils", {"pulses": 6, "needed": 7})


@pytest.mark.parametrize(
    ("noise", "code", "severity"),
    [
        (0.2, None, None),
        (0.3, "weak-pulse", "doubt"),
        (0.5, "limb-kept-moving", "spoils"),
    ],
)
def test_weak_pulses(noise: float, code: str | None, severity: Severity | None):
    """A peak under four times the noise makes doubtful, under 2.8 times spoils; so much noise is a moving limb.

    Oracle: invented limits, frozen. The peak is 1.13 mmHg, so these are 0.28 and 0.40 mmHg; over 0.3 no sensor is to
    blame.
    """
    oscillogram = replace(oscillogram_at(), scatter_mmhg=0.01)
    found = strength.strength_findings(oscillogram, train_of(noise_mmhg=noise), FALLING)
    assert [(f.code, f.severity) for f in found] == ([] if code is None else [(code, severity)])
    if code == "weak-pulse":
        assert dict(found[0].numbers) == {"peak_mmhg": oscillogram.peak_mmhg, "noise_mmhg": noise}
    if code == "limb-kept-moving":
        assert dict(found[0].numbers) == {"seconds": pytest.approx(FALLING.time_s[-1]), "share": 1.0}


def test_pulses_lost_in_little_noise():
    """Small pulses in a sensor's ordinary noise are weak, not moved, and spoil.

    Oracle: invented limits, frozen: a peak of a tenth of the bell's in a noise of 0.06 mmHg.
    """
    calm = oscillogram_at()
    small = replace(calm, peak_mmhg=0.1 * calm.peak_mmhg, height_sd_mmhg=0.1 * calm.height_sd_mmhg, scatter_mmhg=1e-3)
    (finding,) = strength.strength_findings(small, train_of(noise_mmhg=0.06), FALLING)
    assert (finding.code, finding.severity) == ("weak-pulse", "spoils")


@pytest.mark.parametrize(("step", "severity"), [(0.3, None), (0.45, "doubt"), (0.8, "spoils")])
def test_a_coarse_sensor(step: float, severity: Severity | None):
    """Sensor steps over a third of the peak make doubtful, over 0.6 of it spoil.

    Oracle: invented limits, frozen. The peak is 1.13 mmHg, so these are 0.37 and 0.68 mmHg.
    """
    peak = oscillogram_at().peak_mmhg
    found = strength.sensor_findings(replace(FALLING, sensor_step_mmhg=step), peak_mmhg=peak)
    assert [(f.code, f.severity) for f in found] == ([("coarse-steps", severity)] if severity else [])
    for finding in found:
        assert dict(finding.numbers) == {"step_mmhg": step, "peak_mmhg": oscillogram_at().peak_mmhg}


@pytest.mark.parametrize(
    ("noise", "step", "told"),
    [
        (0.2, 0.45, [("coarse-steps", "doubt")]),
        (0.3, 0.45, [("coarse-steps", "doubt")]),
        (0.44, 0.45, [("coarse-steps", "spoils")]),
        (0.5, 0.9, [("coarse-steps", "spoils")]),
        (0.5, 0.45, [("limb-kept-moving", "spoils")]),
        (0.3, 0.2, [("weak-pulse", "doubt")]),
    ],
)
def test_pulses_lost_in_the_steps_of_the_sensor(noise: float, step: float, told: list[tuple[str, str]]):
    """What drowns the pulses is told as the sensor's steps where these are coarse and no smaller, and as bad as it is.

    Oracle: invented limits, frozen. The peak is 1.13 mmHg: steps of 0.45 and 0.9 mmHg are coarse, of 0.2 are not;
    noise over 0.28 mmHg makes doubtful, over 0.40 spoils.
    """
    oscillogram = replace(oscillogram_at(), scatter_mmhg=0.01)
    sensor = replace(FALLING, sensor_step_mmhg=step)
    found = strength.strength_findings(oscillogram, train_of(noise_mmhg=noise), sensor)
    assert [(f.code, f.severity) for f in found] == told


def test_small_pulses_on_a_fine_sensor_are_weak():
    """Pulses no larger than steps of a tenth of a millimetre are told as weak: that sensor is as fine as is asked for.

    Oracle: invented limit, frozen, the one of the remedy.
    """
    small = replace(oscillogram_at(), peak_mmhg=0.1, scatter_mmhg=0.05)
    for step, code in ((0.1, "weak-pulse"), (0.2, "coarse-steps")):
        found = strength.strength_findings(small, train_of(), replace(FALLING, sensor_step_mmhg=step))
        assert [(f.code, f.severity) for f in found] == [(code, "spoils")]


@pytest.mark.parametrize(("step", "codes"), [(0.05, ["few-pulses"]), (1.2, ["few-pulses", "coarse-steps"])])
def test_few_pulses_on_coarse_steps(step: float, codes: list[str]):
    """Where pulses are few and the steps as large as they are, both are told.

    Oracle: by construction: the highest pulse is 1.2 mmHg.
    """
    found = strength.few_pulses_findings(train_of(), replace(FALLING, sensor_step_mmhg=step))
    assert [f.code for f in found] == codes
    assert {f.severity for f in found} == {"spoils"}


def test_scattered_heights_are_weak():
    """Heights that scatter by more than a fifth of the peak are weak, on steps as on a line.

    Oracle: invented limits, frozen.
    """
    calm, train = oscillogram_at(), train_of()
    fair = replace(calm, scatter_mmhg=calm.peak_mmhg / 6.0)
    rough = replace(calm, scatter_mmhg=calm.peak_mmhg / 4.0)
    for deflation in (FALLING, replace(FALLING, kind="stepwise")):
        assert strength.strength_findings(fair, train, deflation) == ()
        assert [f.severity for f in strength.strength_findings(rough, train, deflation)] == ["doubt"]


def test_pulses_of_no_height_are_none():
    """What would be told as 0.00 mmHg high is no pulse; a hundredth of a millimetre is a weak one.

    Oracle: by construction.
    """
    for peak, code in ((0.004, "no-pulse"), (0.01, "weak-pulse")):
        found = strength.strength_findings(replace(oscillogram_at(), peak_mmhg=peak), train_of(), FALLING)
        assert [(f.code, f.severity) for f in found] == [(code, "spoils")]
