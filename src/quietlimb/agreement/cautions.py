"""What has to be known before the figures of a comparison are looked at, because it can make them worthless."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from quietlimb.agreement.pair_rows import PairRows
from quietlimb.agreement.summary import Comparison
from quietlimb.engine.values import Cited

FEW_ANIMALS: Final = Cited(
    25.0, "animals", "Quietlimb", "validation/comparison_intervals.txt: too short with 8, and with 12", "derived"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """A code with what it is about; what is wrong with arterial lines is told by `LineSummary`.

    sites-mixed, species-mixed : the pairs are of several, told under `names`
    told-twice      : `rows` rows that say the same of the same animal and occasion as another
    not-blinded     : the methods were read with knowledge of each other
    all-the-same    : of the pressures `names`, all differences are alike: `difference` [mmHg]
    one-value-tested, one-value-reference : of the pressures `names`, a method gave the same value throughout
    few-animals     : `animals`, with which some intervals are too short
    """

    code: str
    names: tuple[str, ...] = ()
    numbers: Mapping[str, float] = field(default_factory=dict)


def cautions_of(rows: PairRows, compared: Sequence[Comparison]) -> tuple[Caution, ...]:
    """All that hold, the most harmful first."""
    found = []
    same = [each for each in compared if each.pairs.n > 1 and np.ptp(each.pairs.difference) == 0.0]
    if same:
        numbers = {"difference": float(same[0].pairs.difference[0])}
        found.append(Caution(code="all-the-same", names=tuple(each.quantity for each in same), numbers=numbers))
    for method in ("tested", "reference"):
        alike = [each for each in compared if each.pairs.n > 1 and np.ptp(getattr(each.pairs, method)) == 0.0]
        if alike:
            found.append(Caution(code=f"one-value-{method}", names=tuple(each.quantity for each in alike)))
    for code, name in (("species-mixed", "species"), ("sites-mixed", "site")):
        told = {value for row in rows.rows if (value := getattr(row, name)) is not None}
        if len(told) > 1:
            found.append(Caution(code=code, names=tuple(sorted(told))))
    twice = sum(count - 1 for count in Counter(row for row in rows.rows if row.occasion is not None).values())
    if twice:
        found.append(Caution(code="told-twice", numbers={"rows": float(twice)}))
    if rows.blinded is False:
        found.append(Caution(code="not-blinded"))
    animals = min((len(each.pairs.animals) for each in compared), default=0)
    if animals < FEW_ANIMALS.value:
        found.append(Caution(code="few-animals", numbers={"animals": float(animals)}))
    return tuple(found)
