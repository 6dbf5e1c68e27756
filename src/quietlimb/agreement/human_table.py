"""Second criterion of ISO 81060-2: how far the mean errors of single subjects may scatter, by the mean error of all.

The printed table was seen; its meaning is that 85 % of the subjects shall have a mean error within 10 mmHg if these
are normal, and that equation gives its figures to within 0.024 mmHg. The table decides, not the equation: the mean
error, without its sign, is rounded to a tenth, a half upwards, and looked up. Beyond 5.0 nothing is allowed.
"""

from __future__ import annotations

import math

from quietlimb.engine.values import Cited

SOURCE = "ISO81060part2"
STEP = Cited(0.1, "mmHg", SOURCE, "5.2.4.1.2 b, table", "published")
# Largest SD in steps of 0.1 of the mean error: ten a row, the rows begin at 0, 1, 2, 3, 4 and 5 mmHg.
LARGEST_SD = (
    (6.95, 6.95, 6.95, 6.95, 6.93, 6.92, 6.91, 6.90, 6.89, 6.88),
    (6.87, 6.86, 6.84, 6.82, 6.80, 6.78, 6.76, 6.73, 6.71, 6.68),
    (6.65, 6.62, 6.58, 6.55, 6.51, 6.47, 6.43, 6.39, 6.34, 6.30),
    (6.25, 6.20, 6.14, 6.09, 6.03, 5.97, 5.89, 5.83, 5.77, 5.70),
    (5.64, 5.56, 5.49, 5.41, 5.33, 5.25, 5.16, 5.08, 5.01, 4.90),
    (4.79,),
)
_IN_ORDER = tuple(value for row in LARGEST_SD for value in row)


def largest_sd(mean_error: float) -> Cited | None:
    """What the table allows for a mean error of either sign, in mmHg; None where it allows nothing."""
    # 4.25 / 0.1 is a hair less than 42.5 as binary numbers
    step = math.floor(abs(mean_error) / STEP.value + 0.5 + 1e-9)
    if step >= len(_IN_ORDER):
        return None
    return Cited(_IN_ORDER[step], "mmHg", SOURCE, f"5.2.4.1.2 b, table, at {step * STEP.value:.1f}", "published")
