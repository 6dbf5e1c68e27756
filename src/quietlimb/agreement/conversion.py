"""A conversion estimated from pairs: how the tested method shows the reference, read the other way round.

The reference on the tested value would be flattened by the scatter of the tested value, most of all within animals
whose pressure hardly moved, and a charted pressure, which rests on several readings, scatters less than each of them.
So the line is that of the tested value on the reference, as an instrument is calibrated, and it is turned round. A
reference scatters too: where it stood still by its replicates, where it is a cuff as much as the tested method, by
assumption; in an artery it is taken for the pressure itself. What that scatter does to the slope is taken out by its
moments. [Fuller1987], [Osborne1991]. Levels of animals are pooled in part, by REML; the slope is one for all.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from quietlimb.agreement.mixed import Groups, fit_mixed
from quietlimb.agreement.pairs import Pairs
from quietlimb.agreement.schemes import ReferenceKind
from quietlimb.engine.circumstances import Consciousness, Site, Species, Technique
from quietlimb.engine.conversion import Conversion
from quietlimb.engine.errors import ConversionError

LEAST_ANIMALS = 8  # as the veterinary list asks for against a catheter; fewer tell too little of a new animal
LEAST_RELIABLE = 0.5  # of what moves in the reference, that is pressure and not its scatter [invented]
# Square of the slope's half-interval over the slope: from there on a line is not turned round. [Osborne1991] wants it
# well under 1; the figure is invented.
MOST_UNSURE = 0.1
ROUNDS, SETTLED = 20, 1e-7
LEAST_VARIANCE = 1e-12  # of pairs that lie on a line to the last digit


def estimate_conversion(
    pairs: Pairs,
    *,
    reference_is: ReferenceKind,
    converts_to: str,
    species: Species,
    site: Site,
    technique: Technique,
    sedation: Consciousness,
    study: str,
    version: str,
    instrument: str | None = None,
    cuff_shares: tuple[float, float] | None = None,
) -> Conversion:
    """Conversion of the tested method to the reference.

    Parameters
    ----------
    pairs       : in mmHg, of one species and site as far as they tell any.
    reference_is : "intra-arterial", taken for the pressure itself; or "indirect", taken to scatter as the tested method
                  does. Replicates of a constant truth tell it themselves.
    converts_to : what the reference is, in words.
    others      : as of `Conversion`.

    Raises
    ------
    ConversionError : fewer than 8 animals, another unit, pairs of another species or site, a reference that moves no
                      more than it scatters, a tested value that does not rise with it, a slope that is hardly known.
    """
    if pairs.unit != "mmHg":
        raise ConversionError("not-mmhg", f"the pairs are in {pairs.unit}", "give them in mmHg")
    for name, column, wanted in (("species", pairs.species, species), ("site", pairs.site, site)):
        others = sorted(set(column or ()) - {wanted})
        if others:
            raise ConversionError(
                f"other-{name}",
                f"among the pairs for {wanted} are some of {', '.join(others)}",
                f"give the pairs of one {name} only",
            )
    animals = len(pairs.animals)
    if animals < LEAST_ANIMALS:
        raise ConversionError(
            "too-few-animals",
            f"{animals} animals tell too little of how a new one would differ",
            f"compare in {LEAST_ANIMALS} animals at least",
        )
    if np.ptp(pairs.tested) == 0.0:
        raise ConversionError(
            "pressures-alike", f"every tested value is {pairs.tested[0]:g} mmHg", "compare over a wider range"
        )
    found = _calibrated(pairs, reference_is)
    if found.slope <= 0.0:
        raise ConversionError(
            "no-relation", "the tested value does not rise with the reference", "do not convert by this method"
        )
    df = min(found.df, float(animals - 1))
    unsure = float(stdtrit(df, 0.975)) * found.slope_sd / found.slope
    if unsure**2 > MOST_UNSURE:
        raise ConversionError(
            "slope-not-known",
            f"the slope is known only to within {unsure:.0%}",
            "compare over a wider range of pressures, or in more animals",
        )
    return Conversion(
        quantity=pairs.quantity,
        converts_to=converts_to,
        species=species,
        site=site,
        technique=technique,
        instrument=instrument,
        cuff_shares=cuff_shares,
        sedation=sedation,
        middle=found.tested,
        at_middle=found.reference,
        slope=1.0 / found.slope,
        middle_sd=found.tested_sd / found.slope,
        slope_sd=found.slope_sd / found.slope**2,
        correlation=0.0,
        between_sd=None if pairs.n == animals else math.sqrt(found.between_variance) / found.slope,
        residual_sd=math.sqrt(found.residual_variance) / found.slope,
        df=df,
        low=float(pairs.tested.min()),
        high=float(pairs.tested.max()),
        animals=animals,
        pairs=pairs.n,
        study=study,
        version=version,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Calibrated:
    """The tested value on the reference: a line through (reference, tested), where its two errors are independent.

    between_variance, residual_variance : of tested less line: animals' levels, single pairs with both methods' scatter
    """

    reference: float
    tested: float
    tested_sd: float
    slope: float
    slope_sd: float
    between_variance: float
    residual_variance: float
    df: float


def _calibrated(pairs: Pairs, reference_is: ReferenceKind) -> _Calibrated:
    index, tested, reference = pairs.index, pairs.tested, np.asarray(pairs.reference, dtype=np.float64)
    ones = np.ones(pairs.n)
    groups = Groups(tested, ones[:, None], index)
    sizes = groups.sizes
    still, own = pairs.truth == "constant", 0.0
    if still:
        means = np.bincount(index, reference) / sizes
        own = float(((reference - means[index]) ** 2).sum() / max(pairs.n - sizes.size, 1))
        reference = means[index]
    if np.ptp(reference) == 0.0:
        raise _alike()
    fit = fit_mixed(tested, np.column_stack([ones, reference - reference.mean()]), index)
    slope = float(fit.coefficients[1])
    for _ in range(ROUNDS):
        residual = max(fit.residual_variance, LEAST_VARIANCE)
        weights = groups.whiten(ones[:, None], fit.ratio)[:, 0] / residual
        middle = float(weights @ reference / weights.sum())
        x = reference - middle
        whitened = groups.whiten(x[:, None], fit.ratio)[:, 0] / residual
        moved = float(whitened @ x)
        # by how much the scatter of the reference alone makes that greater
        held = groups.held(fit.ratio)
        if still:
            scatter = float((own * (1.0 - held * sizes)).sum() / residual)
        elif reference_is == "indirect":  # as much as the tested method: the residual holds both
            scatter = fit.residual_variance / (1.0 + slope**2) * float((sizes * (1.0 - held)).sum()) / residual
        else:
            scatter = 0.0
        pressure = max(moved - scatter, 0.5 * LEAST_RELIABLE * moved)  # on the way it may seem less than it is
        before, slope = slope, float(whitened @ tested) / pressure
        if scatter == 0.0 or abs(slope - before) <= SETTLED * abs(slope):
            break
        fit = fit_mixed(tested - slope * x, ones[:, None], index)
    if moved - scatter < LEAST_RELIABLE * moved:
        raise _alike()
    _, df = fit.variance_and_df(np.eye(fit.coefficients.size)[0], new_animal=True)
    return _Calibrated(
        reference=middle,
        tested=float(weights @ tested / weights.sum()),
        tested_sd=math.sqrt(1.0 / weights.sum()),
        slope=slope,
        slope_sd=math.sqrt(moved) / pressure,
        between_variance=fit.between_variance,
        residual_variance=fit.residual_variance + slope**2 * own,
        df=df,
    )


def _alike() -> ConversionError:
    return ConversionError(
        "pressures-alike",
        "the reference moves hardly more than it scatters",
        "compare over a wider range of pressures",
    )
