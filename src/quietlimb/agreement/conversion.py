"""A conversion estimated from pairs: the reference on the tested value, animals having levels of their own.

The line foretells the reference from a tested value as it was read, so it is the regression that carries over, not a
line of agreement between two methods that both err: a slope under 1 is what scatter of the tested value does to it,
and is right for values that scatter as much. Levels of animals are pooled in part, by REML; the slope is one for all.
"""

from __future__ import annotations

import math

import numpy as np

from quietlimb.agreement.mixed import fit_mixed
from quietlimb.agreement.pairs import Pairs
from quietlimb.engine.circumstances import Consciousness, Site, Species, Technique
from quietlimb.engine.conversion import Conversion
from quietlimb.engine.errors import ConversionError

LEAST_ANIMALS = 8  # as the veterinary list asks for against a catheter; fewer tell too little of a new animal


def estimate_conversion(
    pairs: Pairs,
    *,
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
    converts_to : what the reference is, in words.
    others      : as of `Conversion`.

    Raises
    ------
    ConversionError : fewer than 8 animals, another unit, pairs of another species or site, tested values that are all
                      alike, a reference that does not rise with them.
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
    middle = float(pairs.tested.mean())
    x = np.column_stack([np.ones(pairs.n), pairs.tested - middle])
    fit = fit_mixed(pairs.reference, x, pairs.index)
    _, df = fit.variance_and_df(np.array([1.0, 0.0]), new_animal=True)
    sds = np.sqrt(np.diag(fit.covariance))
    return Conversion(
        quantity=pairs.quantity,
        converts_to=converts_to,
        species=species,
        site=site,
        technique=technique,
        instrument=instrument,
        cuff_shares=cuff_shares,
        sedation=sedation,
        middle=middle,
        at_middle=float(fit.coefficients[0]),
        slope=float(fit.coefficients[1]),
        middle_sd=float(sds[0]),
        slope_sd=float(sds[1]),
        correlation=float(fit.covariance[0, 1] / (sds[0] * sds[1])) if sds.min() > 0.0 else 0.0,
        between_sd=None if pairs.n == animals else math.sqrt(fit.between_variance),
        residual_sd=math.sqrt(fit.residual_variance),
        df=min(df, float(animals - 1)),
        low=float(pairs.tested.min()),
        high=float(pairs.tested.max()),
        animals=animals,
        pairs=pairs.n,
        study=study,
        version=version,
    )
