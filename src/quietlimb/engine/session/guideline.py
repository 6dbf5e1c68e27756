"""The guideline average: what a published protocol would have the team write down.

By ACVIM 2018 the first reading is dropped and five to seven consistent ones are averaged. A reading with a stated cause
(verdict discard) is left out; none is left out for being high. The statement asks for less than 20 % variability and
does not define it, so the definition is a choice and is named with the result. A mean or diastolic value that cannot be
right beside the other two of its display is left out of its own average, and named; the systolic average keeps the
reading.
"""

from __future__ import annotations

from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.errors import ParameterError
from quietlimb.engine.findings import Quantity
from quietlimb.engine.session.charted import GuidelineAverage
from quietlimb.engine.session.displays import judged_displays
from quietlimb.engine.session.series import Series
from quietlimb.engine.standards.acvim_2018 import PROTOCOL
from quietlimb.engine.standards.rule_set import Protocol

Values = NDArray[np.float64]
Flags = NDArray[np.bool_]
Variability = Literal["range", "largest-distance", "coefficient-of-variation"]

FEWEST_LEFT = 3  # readings that can be called consistent [invented]
LEAST_LEFT = 0.75  # of those kept: a set that loses more is scattered, not spoiled [invented]

_FORMULA: dict[Variability, str] = {
    "range": "(max - min) / mean",
    "largest-distance": "max |x - mean| / mean",
    "coefficient-of-variation": "SD / mean",
}


def spread_of(systolic: Values, variability: Variability) -> float:
    """Variability of two or more systolic pressures as a share of their mean, by one of the three definitions."""
    mean = float(systolic.mean())
    if variability == "range":
        return float(np.ptp(systolic)) / mean
    if variability == "largest-distance":
        return float(np.abs(systolic - mean).max()) / mean
    return float(systolic.std(ddof=1)) / mean


def guideline_average(
    series: Series,
    variability: Variability = "range",
    *,
    protocol: Protocol = PROTOCOL,
    spoiled: Flags | None = None,
) -> GuidelineAverage:
    """Mean of the readings that the protocol keeps; None where it keeps none.

    Only the first reading ever taken is dropped for being first: where it was discarded for a cause, the second stays.
    Without two kept readings there is no spread, and they cannot be called consistent. Where it is told which readings
    (n,) the series speaks against, it is also told whether the others would be consistent by themselves. Scatter and a
    steep course speak against none, so they are no such excuse.

    Raises ParameterError for an unknown definition of variability.
    """
    if variability not in _FORMULA:
        raise ParameterError(
            "unknown-variability",
            f"the definition of variability is {variability!r}",
            f"use one of: {', '.join(get_args(Variability))}",
        )
    usable = np.isfinite(series.systolic) & np.array([verdict != "discard" for verdict in series.verdicts], dtype=bool)
    usable[: int(protocol.drop_first.value)] = False
    kept = np.flatnonzero(usable)
    spread = spread_of(series.systolic[kept], variability) if kept.size >= 2 else None
    most = protocol.most_variability.value
    left = kept if spoiled is None else kept[~spoiled[kept]]
    enough_left = left.size >= max(FEWEST_LEFT, LEAST_LEFT * kept.size)
    alone = enough_left and spread_of(series.systolic[left], variability) < most
    left_out = _impossible_parts(series, kept)
    return GuidelineAverage(
        protocol=protocol,
        rule=f"{protocol.name}: first reading dropped, mean of the rest; "
        f"{_FORMULA[variability]} below {100 * most:g} %",
        kept=tuple(int(k) + 1 for k in kept),
        systolic=_average(series.systolic[kept]),
        mean=_average(series.mean[_without(kept, left_out.get("mean", ()))]),
        diastolic=_average(series.diastolic[_without(kept, left_out.get("diastolic", ()))]),
        spread=spread,
        consistent=spread is not None and spread < most,
        enough=kept.size >= protocol.keep_at_least.value,
        consistent_but_for_spoiled=alone,
        left_out=left_out,
    )


def _impossible_parts(series: Series, kept: NDArray[np.intp]) -> dict[Quantity, tuple[int, ...]]:
    """1-based ordinals of kept readings whose mean or diastolic value alone is what does not fit its display."""
    found = judged_displays(series)
    parts: tuple[Quantity, ...] = ("mean", "diastolic")
    wrong = {
        part: tuple(
            int(k) + 1
            for k in kept
            if any(each.code == "mean-outside-pulse" and each.touches == (part,) for each in found[k])
        )
        for part in parts
    }
    return {part: ordinals for part, ordinals in wrong.items() if ordinals}


def _without(kept: NDArray[np.intp], ordinals: tuple[int, ...]) -> NDArray[np.intp]:
    return kept[~np.isin(kept + 1, ordinals)]


def _average(values: Values) -> float | None:
    known = values[np.isfinite(values)]
    return float(known.mean()) if known.size else None
