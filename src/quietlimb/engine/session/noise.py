"""How far one reading may lie from the pressure at its minute: the ordinary scatter, and readings that were spoiled.

    y = pressure at its minute + error,   error ~ Student-t(tail) with standard deviation s, or moved(r) if spoiled
    moved(r) = 8 / (pi b^3) * r^2 / (1 + r^2/b^2)^3        (most likely at b / sqrt 2, nothing at 0, tails as r^-4)

The standard deviation is learned from the series under a log-normal prior by method of measuring and species; a reading
with a standard deviation of its own has sqrt(own^2 + s^2). A spoiled reading says nothing about the pressure, so its
density vanishes where it would agree; how often and in which company readings are spoiled is told in `spoiling`.
Numbers without a source are invented: they were chosen on simulated series, on other seeds than those of the printed
validation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.circumstances import Species, Technique
from quietlimb.engine.session.spoiling import Spoiling
from quietlimb.engine.values import Cited

Values = NDArray[np.float64]
Cells = NDArray[np.floating]


@dataclass(frozen=True, slots=True, kw_only=True)
class Noise:
    """What is believed of the errors before the series is seen.

    sd_median, sd_spread : median [mmHg] and standard deviation of the logarithm of the scatter between readings
    sd_nodes             : how many values of it the quadrature takes
    tail                 : degrees of freedom of the ordinary error, over 2; inf for a normal one
    spoiling             : how often readings are spoiled without a stated cause
    spoiled_reach_mmhg   : b above
    serial               : correlation of neighbours that the number of readings is discounted for
    doubtful_widening    : how much wider a doubtful reading scatters
    doubtful_odds        : and by which factor the odds rise that it is spoiled
    """

    sd_median: float
    sd_spread: float = 0.55
    sd_nodes: int = 7
    tail: float = 5.0
    spoiling: Spoiling = field(default_factory=Spoiling)
    spoiled_reach_mmhg: float = 50.0
    serial: float = 0.1
    doubtful_widening: float = 1.5
    doubtful_odds: float = 2.5

    def sd_quadrature(self) -> tuple[Values, Values]:
        """(m,) values of the scatter [mmHg] and their weights, by Gauss-Hermite in its logarithm."""
        node, weight = _hermite(self.sd_nodes)
        return self.sd_median * np.exp(self.sd_spread * node), weight

    def effective_share(self, n: int) -> float:
        """What n neighbouring readings are worth, as a share of n independent ones.

        n Var(mean) / Var(one) = 1 + 2 sum_k (1 - k/n) serial^k for a first-order correlation.
        """
        k = np.arange(1, n)
        return float(1.0 / (1.0 + 2.0 * np.sum((1.0 - k / n) * self.serial**k)))

    @property
    def peak(self) -> float:
        """Density of the ordinary error at 0, times its standard deviation."""
        if math.isinf(self.tail):
            return 1.0 / math.sqrt(2.0 * math.pi)
        nu = self.tail
        return math.exp(math.lgamma((nu + 1.0) / 2.0) - math.lgamma(nu / 2.0)) / math.sqrt((nu - 2.0) * math.pi)

    def ordinary(self, squared: Cells, out: Cells | None = None) -> tuple[Cells, Cells]:
        """Density of the ordinary error as a share of its peak, and its weight in a location estimate (0..1).

        squared : (error / standard deviation)^2. It is used up: its memory becomes the weight, which halves the time
        out     : memory for the density; fresh memory where none is given
        """
        if math.isinf(self.tail):
            return np.exp(-0.5 * squared), np.ones_like(squared)
        weight = squared
        weight *= 1.0 / (self.tail - 2.0)
        weight += 1.0
        np.reciprocal(weight, out=weight)
        if self.tail != 5.0:
            return weight ** ((self.tail + 1.0) / 2.0), weight
        # 5 is what is shipped, and a product is many times as fast as a power
        density: Cells = np.multiply(weight, weight, out=out)
        density *= weight
        return density, weight

    def moved(self, squared_mmhg: Cells) -> Cells:
        """Density of a spoiled reading's error [1/mmHg] at its square [mmHg^2]."""
        b = self.spoiled_reach_mmhg
        inverse = squared_mmhg / (b * b)
        inverse += 1.0
        np.reciprocal(inverse, out=inverse)
        density: Cells = 8.0 / (math.pi * b**3) * squared_mmhg
        for _ in range(3):
            density *= inverse
        return density


# Median scatter within a session. Published: cats by Doppler 4.55 and 5.09 (35 cats, ACVIM Forum 2023); dogs by Doppler
# 9.0 (29 dogs, Wernick et al. 2012, J Am Vet Med Assoc 240:962-968) and 4.1 % of the mean (100 dogs, Hsiang et al.
# 2008, J Vet Med Sci 70:449-453); dogs by oscillometry 13.3 and 14.1 (Wernick), 14.7 to 16.6 (5 dogs, Rattez et al.
# 2008) and 3.6 to 14.1 % (6 dogs, Chetboul et al. 2010, Am J Vet Res 71:766-772). Those are sets as they came, with
# what is called spoiled here counted in, so ours for oscillometry lie below. For cats by oscillometry none was found.
SCATTER: dict[tuple[Technique, Species], Cited] = {
    ("doppler", "cat"): Cited(5.0, "mmHg", "AcvimForum2023Tape", "35 cats, 4.55 and 5.09", "published"),
    ("doppler", "dog"): Cited(7.0, "mmHg", "Wernick2012", "below its 9.0, with Hsiang 2008 at 4.1 %", "derived"),
    ("oscillometric", "cat"): Cited(8.0, "mmHg", "Quietlimb", "between its neighbours here", "invented"),
    ("oscillometric", "dog"): Cited(10.0, "mmHg", "Wernick2012", "below its 13.3, without spoiled readings", "derived"),
}
# Beside a reading's own standard deviation only what truly varies between readings is left to learn.
BESIDE_OWN_SD = 0.6


def noise_for(method: Technique, species: Species, *, own_sd_known: bool) -> Noise:
    """The errors to expect of a method in a species; less beside readings whose own standard deviation is known."""
    scatter = SCATTER[method, species].value
    return Noise(sd_median=BESIDE_OWN_SD * scatter if own_sd_known else scatter)


@lru_cache(maxsize=16)
def _hermite(nodes: int) -> tuple[Values, Values]:
    node, weight = np.polynomial.hermite_e.hermegauss(nodes)
    return node, weight / weight.sum()
