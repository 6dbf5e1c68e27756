"""Artery fit: first the heights of the pulses, then from there their whole waveforms (`waveform_fit`).

The heights are the difference of an artery's volume at systolic and at diastolic pressure:

    A(Pe) = k [ V(Ps - Pe - A/2) - V(Pd - Pe + A/2) ]        Pe at mid height, so that foot and top have their own

with Student-t errors and population priors on level, pulse pressure and both compliance widths. The priors matter most
where the pulses are weak: there the fit shrinks towards what most animals are like instead of following noise. The
shape of the compliance is not known either, so several families are fitted and averaged by their marginal likelihood.
A second round takes into account what a lagging wall withholds of each height (`pulse_form`).

What one recording cannot tell is kept apart from what it can. With data precision J, prior precision L and
C = (J + L)^-1, an estimate errs by noise with covariance C J C, drawn anew at each reading, and by the distance of this
animal from the population with covariance C L C, the same at each reading; both add up to C. The offset of the
compliance peak, what no family fits and, of the heights, the spread between families belong to the second part too: the
same artery gives the same error again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.arteries.artery import FAMILIES, Family
from quietlimb.engine.methods.least_squares import Fitted, fit
from quietlimb.engine.methods.pulse_form import FORM_FACTOR, FORM_FACTOR_SD, PulseForm, lag_response, pulse_form
from quietlimb.engine.methods.waveform_fit import Population, fit_waveforms
from quietlimb.engine.methods.waveforms import average_waveforms
from quietlimb.engine.oscillogram import Oscillogram
from quietlimb.engine.pulses import PulseTrain
from quietlimb.engine.values import Cited

Array = NDArray[np.float64]

# Priors. Order of parameters: level = Pd + 0.4 PP, ln PP, ln collapsed, ln(distended / collapsed), ln k
LEVEL_SHARE = 0.4
LEVEL = Cited(110.0, "mmHg", "Quietlimb", "broad, holds cats and dogs from shock to crisis", "invented")
LEVEL_SD = Cited(35.0, "mmHg", "Quietlimb", "see LEVEL", "invented")
PULSE_SHARE = Cited(0.45, "1", "Quietlimb", "pulse pressure over level; hospital animals 30-80 mmHg", "from memory")
PULSE_SHARE_LN_SD = Cited(0.35, "1", "Quietlimb", "see PULSE_SHARE", "invented")
COLLAPSED = Cited(14.0, "mmHg", "Quietlimb", "half widths of published artery models: 6 to 25 mmHg", "derived")
COLLAPSED_LN_SD = Cited(0.45, "1", "Quietlimb", "see COLLAPSED", "derived")
DISTENDED_LN = Cited(0.35, "1", "Quietlimb", "ln of distended over collapsed in the same models: 0 to 1.3", "derived")
DISTENDED_LN_SD = Cited(0.45, "1", "Quietlimb", "see DISTENDED_LN", "derived")
BEAT_TO_BEAT = Cited(0.05, "1", "Chen2016", "breathing modulates pulse height with SD about 5 %", "published")
PEAK_OFFSET_SD = Cited(2.0, "mmHg", "Quietlimb", "offset of the compliance peak, which no cuff can see", "invented")
FAMILY_SD = (  # what our families and heights are wrong by on foreign arteries: systolic, mean, diastolic
    Cited(5.0, "mmHg", "Quietlimb", "set on simulated log-sigmoid and logistic arteries", "derived"),
    Cited(5.0, "mmHg", "Quietlimb", "set on simulated log-sigmoid and logistic arteries", "derived"),
    Cited(6.0, "mmHg", "Quietlimb", "set on simulated log-sigmoid and logistic arteries", "derived"),
)
WAVEFORM_SD = (  # the same for whole waveforms
    Cited(2.0, "mmHg", "Quietlimb", "set on simulated arteries of eight families that nothing is scored on", "derived"),
    Cited(0.8, "mmHg", "Quietlimb", "set on simulated arteries of eight families that nothing is scored on", "derived"),
    Cited(0.8, "mmHg", "Quietlimb", "set on simulated arteries of eight families that nothing is scored on", "derived"),
)
UNSEEN_COV = np.full((3, 3), PEAK_OFFSET_SD.value**2)
BOUNDS = (np.array([0.0, 1.0, 0.5, -2.0, -16.0]), np.array([350.0, 5.7, 4.6, 2.5, 6.0]))
POPULATION = Population(
    level_share=LEVEL_SHARE,
    level=(LEVEL.value, LEVEL_SD.value),
    pulse_share_ln=(float(np.log(PULSE_SHARE.value)), PULSE_SHARE_LN_SD.value),
    form_factor=(FORM_FACTOR.value, FORM_FACTOR_SD.value),
    collapsed_ln=(float(np.log(COLLAPSED.value)), COLLAPSED_LN_SD.value),
    ratio_ln=(DISTENDED_LN.value, DISTENDED_LN_SD.value),
)
FARTHEST_MMHG = 80.0  # invented: where heights and waveforms lie farther apart, the fit of the waveforms is lost
POSSIBLE = 0.1  # invented: posterior probability of a family that the heights leave possible
START_PULSE_PRESSURES = (30.0, 60.0)
ROUGHLY, SETTLED = 1e-2, 1e-3  # a step that gains so little is about 1/7, 1/20 of a standard deviation long
RESPONSE_POINTS = 48  # over all cuff pressures: lines between them miss it by 0.0002 mostly, 0.006 at most
PEAK_WEIGHT = 0.45  # of the systolic in the pressure of the largest pulse; published for people [Chandrasekhar2019]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ArteryFit:
    """Fit of one oscillogram.

    values      : systolic, mean, diastolic [mmHg]
    own_cov     : (3, 3) covariance of the part that the next reading draws anew [mmHg^2]
    shared_cov  : (3, 3) covariance of the part that all readings of this animal, cuff and method share [mmHg^2]
    family      : the likeliest family, and `weight` its posterior probability
    parameters  : (5,) of that family
    response    : share of the height that the lagging wall lets through, at the cuff pressures `response_at`
    misfit      : root mean square of its standardised residuals; 1 when the noise is as it should be
    family_spread_mmhg : how far apart the families that the heights leave possible put the systolic pressure
    """

    values: Array
    own_cov: Array
    shared_cov: Array
    family: str
    weight: float
    parameters: Array
    response_at: Array
    response: Array
    misfit: float
    family_spread_mmhg: float

    def envelope(self, cuff_pressure_mmhg: Array) -> Array:
        """Fitted pulse height at these cuff pressures [mmHg]."""
        gain = np.interp(cuff_pressure_mmhg, self.response_at, self.response) * np.exp(self.parameters[4])
        family, artery = FAMILIES[self.family], _artery(self.parameters)
        widths = np.array(artery["collapsed"]), np.array(artery["distended"])
        foot = artery["diastolic"] - cuff_pressure_mmhg
        height = np.zeros_like(cuff_pressure_mmhg)
        for _ in range(4):  # the height shifts foot and top apart, by a few percent: a fixed point
            ends = np.stack((foot + artery["pulse_pressure"] - height / 2.0, foot + height / 2.0))
            top, bottom = family.volume(ends, *widths)
            height = gain * (top - bottom)
        return height


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _FamilyFit:
    """One family's fit of one oscillogram: values and covariances as in ArteryFit, log evidence up to a constant."""

    name: str
    parameters: Array
    values: Array
    own_cov: Array
    shared_cov: Array
    log_evidence: float
    misfit: float
    response_at: Array
    response: Array


def fit_artery(
    oscillograms: Sequence[Oscillogram], trains: Sequence[PulseTrain], *, families: Mapping[str, Family] = FAMILIES
) -> list[ArteryFit]:
    """Fits of many oscillograms at once, each from several starts and by every family.

    families : of `FAMILIES`, at least one; fewer than all only to learn what one of them is worth
    """
    if not oscillograms:
        return []
    heights = _heights_of(oscillograms)
    starts = _from_best_start(next(iter(families.values())), oscillograms, heights)
    by_family = [_fit_family(name, family, oscillograms, heights, trains, starts) for name, family in families.items()]
    by_heights = [_averaged(fits) for fits in zip(*by_family, strict=True)]
    return [_by_waveforms(fit, train) for fit, train in zip(by_heights, trains, strict=True)]


def _by_waveforms(by_heights: ArteryFit, train: PulseTrain) -> ArteryFit:
    """The fit with values and covariances of the whole waveforms, where they can be had."""
    heights = train.pulses.height_mmhg[train.pulses.kept]
    if heights.max(initial=0.0) <= train.noise_mmhg:
        return by_heights
    artery = _artery(by_heights.parameters)
    form = _form(FAMILIES[by_heights.family], by_heights.parameters, train)
    try:
        found = fit_waveforms(
            average_waveforms(train),
            POPULATION,
            pulse=artery["diastolic"] + artery["pulse_pressure"] * form.curve,
            collapsed=artery["collapsed"],
            distended=artery["distended"],
            gain=float(np.exp(by_heights.parameters[4])),
        )
    except np.linalg.LinAlgError:  # equations that cannot be solved say nothing; none such was met so far
        return by_heights
    if found is None or found.values.min() <= 0.0 or np.abs(found.values - by_heights.values).max() > FARTHEST_MMHG:
        return by_heights
    shared = found.shared_cov + UNSEEN_COV + np.diag([sd.value**2 for sd in WAVEFORM_SD])
    return replace(by_heights, values=found.values, own_cov=found.own_cov, shared_cov=shared)


def _averaged(fits: Sequence[_FamilyFit]) -> ArteryFit:
    evidence = np.array([f.log_evidence for f in fits])
    weight = np.exp(evidence - evidence.max())
    weight /= weight.sum()
    values = sum((w * f.values for w, f in zip(weight, fits, strict=True)), np.zeros(3))
    own = sum((w * f.own_cov for w, f in zip(weight, fits, strict=True)), np.zeros((3, 3)))
    shared = UNSEEN_COV + np.diag([sd.value**2 for sd in FAMILY_SD])
    for w, f in zip(weight, fits, strict=True):
        shared = shared + w * (f.shared_cov + np.outer(f.values - values, f.values - values))
    best = int(np.argmax(weight))
    return ArteryFit(
        values=values,
        own_cov=own,
        shared_cov=shared,
        family=fits[best].name,
        weight=float(weight[best]),
        parameters=fits[best].parameters,
        response_at=fits[best].response_at,
        response=fits[best].response,
        misfit=fits[best].misfit,
        family_spread_mmhg=float(np.ptp([f.values[0] for w, f in zip(weight, fits, strict=True) if w >= POSSIBLE])),
    )


def _from_best_start(
    family: Family, oscillograms: Sequence[Oscillogram], heights: tuple[Array, Array, Array, Array]
) -> Array:
    """Rough parameters (b, 5) of one family, from the better of the starts; the other families' lie near."""
    starts = np.stack([_starts(family, o) for o in oscillograms])
    recordings, per, q = starts.shape
    pressure, observed, sd, around = (np.repeat(values, per, axis=0) for values in heights)
    given = (pressure, around, np.ones_like(pressure))
    found = fit(
        starts.reshape(-1, q),
        partial(_heights, family),
        observed,
        sd,
        _prior,
        bounds=BOUNDS,
        given=given,
        settled=ROUGHLY,
    )
    best = np.argmin(found.cost.reshape(recordings, per), axis=1)
    return np.asarray(found.parameters[best + per * np.arange(recordings)])


def _fit_family(
    name: str,
    family: Family,
    oscillograms: Sequence[Oscillogram],
    heights: tuple[Array, Array, Array, Array],
    trains: Sequence[PulseTrain],
    starts: Array,
) -> list[_FamilyFit]:
    pressure, observed, sd, around = heights
    model, response = partial(_heights, family), np.ones_like(pressure)
    given = (pressure, around, response)
    found = fit(starts, model, observed, sd, _prior, bounds=BOUNDS, given=given, settled=ROUGHLY).parameters
    forms = [_form(family, theta, train) for theta, train in zip(found, trains, strict=True)]
    for row, theta, form, o, train in zip(response, found, forms, oscillograms, trains, strict=True):
        cuff = o.cuff_pressure_mmhg
        at = np.linspace(cuff.min(), cuff.max(), RESPONSE_POINTS)
        lagged = lag_response(family, form, at, period_s=train.period_s, **_artery(theta))
        row[: len(o)] = np.interp(cuff, at, lagged)
    second = fit(found, model, observed, sd, _prior, bounds=BOUNDS, given=given, settled=SETTLED)
    return [
        _conclude(name, second, k, oscillogram, form, row)
        for k, (oscillogram, form, row) in enumerate(zip(oscillograms, forms, response, strict=True))
    ]


def _artery(theta: Array) -> dict[str, float]:
    """Diastolic, pulse pressure and half widths of one set of parameters."""
    pulse_pressure = float(np.exp(theta[1]))
    return {
        "diastolic": float(theta[0]) - LEVEL_SHARE * pulse_pressure,
        "pulse_pressure": pulse_pressure,
        "collapsed": float(np.exp(theta[2])),
        "distended": float(np.exp(theta[2] + theta[3])),
    }


def _form(family: Family, theta: Array, train: PulseTrain) -> PulseForm:
    return pulse_form(family, train=train, **_artery(theta))


def _heights_of(oscillograms: Sequence[Oscillogram]) -> tuple[Array, Array, Array, Array]:
    """Cuff pressures, heights, their scales and the smoothed heights of many oscillograms, one a row, filled up."""
    shape = len(oscillograms), max(len(o) for o in oscillograms)
    pressure, height, sd, around = (np.full(shape, empty) for empty in (100.0, 0.0, np.inf, 0.0))
    for k, o in enumerate(oscillograms):
        smooth = o.smoothed(o.cuff_pressure_mmhg)
        pressure[k, : len(o)], height[k, : len(o)] = o.cuff_pressure_mmhg, o.height_mmhg
        sd[k, : len(o)], around[k, : len(o)] = o.scale(BEAT_TO_BEAT.value), np.maximum(smooth, 0.0)
    return pressure, height, sd, around


def _starts(family: Family, o: Oscillogram) -> Array:
    starts = []
    for pulse_pressure in START_PULSE_PRESSURES:
        diastolic = o.peak_at_mmhg - PEAK_WEIGHT * pulse_pressure
        low, high = np.array(-PEAK_WEIGHT * pulse_pressure), np.array((1.0 - PEAK_WEIGHT) * pulse_pressure)
        collapsed, distended = np.array(COLLAPSED.value), np.array(COLLAPSED.value * np.exp(DISTENDED_LN.value))
        reach = family.volume(high, collapsed, distended) - family.volume(low, collapsed, distended)
        starts.append(
            [
                diastolic + LEVEL_SHARE * pulse_pressure,
                np.log(pulse_pressure),
                np.log(COLLAPSED.value),
                DISTENDED_LN.value,
                np.log(max(o.peak_mmhg, 1e-3) / float(reach)),
            ]
        )
    return np.array(starts)


def _heights(family: Family, theta: Array, pressure: Array, height: Array, response: Array) -> tuple[Array, Array]:
    """Predicted heights (b, n) and their Jacobian (b, n, 5).

    height   : (b, n) the height that parts foot from top
    response : (b, n) share of the height that the lagging wall lets through
    """
    level, pp, collapsed, ratio, k = (theta[:, j : j + 1] for j in range(5))
    pulse_pressure, k = np.exp(pp), response * np.exp(k)
    collapsed, distended = np.exp(collapsed), np.exp(collapsed + ratio)
    diastolic = level - LEVEL_SHARE * pulse_pressure
    at_foot = diastolic - pressure + height / 2.0
    at = np.stack((at_foot + pulse_pressure - height, at_foot))
    (top, foot), (g_top, g_foot), by_c, by_d = family.volume_and_slopes(at, collapsed, distended)
    predicted, g_top, g_foot = k * (top - foot), k * g_top, k * g_foot
    by_distended = k * (by_d[0] - by_d[1])
    jacobian = np.stack(
        (
            g_top - g_foot,
            pulse_pressure * ((1.0 - LEVEL_SHARE) * g_top + LEVEL_SHARE * g_foot),
            k * (by_c[0] - by_c[1]) + by_distended,
            by_distended,
            predicted,
        ),
        axis=-1,
    )
    return predicted, jacobian


def _prior(theta: Array) -> tuple[Array, Array]:
    level, pp, collapsed, ratio = theta[:, 0], theta[:, 1], theta[:, 2], theta[:, 3]
    safe = np.maximum(level, 20.0)
    pull = np.stack(
        (
            (level - LEVEL.value) / LEVEL_SD.value,
            (pp - np.log(PULSE_SHARE.value * safe)) / PULSE_SHARE_LN_SD.value,
            (collapsed - np.log(COLLAPSED.value)) / COLLAPSED_LN_SD.value,
            (ratio - DISTENDED_LN.value) / DISTENDED_LN_SD.value,
        ),
        axis=1,
    )
    slope = np.zeros((theta.shape[0], 4, 5))
    slope[:, 0, 0] = 1.0 / LEVEL_SD.value
    slope[:, 1, 0] = np.where(level > 20.0, -1.0 / safe / PULSE_SHARE_LN_SD.value, 0.0)
    slope[:, 1, 1] = 1.0 / PULSE_SHARE_LN_SD.value
    slope[:, 2, 2] = 1.0 / COLLAPSED_LN_SD.value
    slope[:, 3, 3] = 1.0 / DISTENDED_LN_SD.value
    return pull, slope


def _conclude(
    name: str, fitted: Fitted, k: int, oscillogram: Oscillogram, form: PulseForm, response: Array
) -> _FamilyFit:
    theta = fitted.parameters[k]
    residual = fitted.residual[k][: len(oscillogram)]
    misfit = float(np.sqrt(np.sum(np.minimum(residual**2, 9.0)) / max(residual.size - 5, 1)))
    data, prior = fitted.data_precision[k] / max(misfit, 1.0) ** 2, fitted.prior_precision[k]
    covariance = np.linalg.inv(data + prior + 1e-12 * np.eye(5))
    pulse_pressure = float(np.exp(theta[1]))
    values = theta[0] - LEVEL_SHARE * pulse_pressure + pulse_pressure * np.array([1.0, form.factor, 0.0])
    by_theta = np.zeros((3, 5))
    by_theta[:, 0] = 1.0
    by_theta[:, 1] = pulse_pressure * np.array([1.0 - LEVEL_SHARE, form.factor - LEVEL_SHARE, -LEVEL_SHARE])
    project = by_theta @ covariance
    shared = project @ prior @ project.T
    shared[1, 1] += (form.factor_sd * pulse_pressure) ** 2  # the pulse's form hardly changes between readings
    order = np.argsort(oscillogram.cuff_pressure_mmhg)
    return _FamilyFit(
        name=name,
        parameters=theta,
        values=values,
        own_cov=project @ data @ project.T,
        shared_cov=shared,
        log_evidence=float(-fitted.cost[k] + 0.5 * np.linalg.slogdet(covariance)[1]),
        misfit=misfit,
        response_at=oscillogram.cuff_pressure_mmhg[order],
        response=response[: len(oscillogram)][order],
    )
