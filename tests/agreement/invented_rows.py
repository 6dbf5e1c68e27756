"""Invented determinations with a bias and two standard deviations that were put in."""

from __future__ import annotations

import numpy as np

from quietlimb.agreement.pair_rows import PairRow, PairRows, Pressures


def invented_rows(
    seed: int = 1, *, animals: int = 9, readings: int = 4, bias: float = -4.0, failed: int = 0, mean: bool = False
) -> PairRows:
    """Cats under a tail cuff and a catheter, the truth changing; the first `failed` rows without a tested value."""
    rng = np.random.default_rng(seed)
    rows = []
    for k in range(animals):
        own, level = rng.normal(bias, 5.0), rng.uniform(80.0, 180.0)
        for occasion in range(readings):
            reference = level + rng.normal(0.0, 12.0)
            tested = reference + own + rng.normal(0.0, 6.0)
            lost = len(rows) < failed
            rows.append(
                PairRow(
                    animal=f"invented cat {k + 1}",
                    occasion=str(occasion + 1),
                    species="cat",
                    site="tail",
                    condition="anaesthetised",
                    first="together",
                    tested=Pressures()
                    if lost
                    else Pressures(systolic=round(tested, 1), mean=round(0.75 * tested, 1) if mean else None),
                    reference=Pressures(
                        systolic=round(reference, 1), mean=round(0.75 * reference, 1) if mean else None
                    ),
                    failed="tested" if lost else None,
                )
            )
    return PairRows(
        rows=tuple(rows),
        truth="changing" if readings > 1 else "single",
        tested_name="tail cuff",
        reference_name="catheter in a pedal artery",
        reference_is="intra-arterial",
        blinded=True,
        invented=True,
    )
