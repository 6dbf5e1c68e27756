"""Trending: whether the method sees the pressure rise and fall as the reference does, whatever its bias.

Changes from each pair of an animal to its next, in the four quadrants of a plot of one change against the other
([Critchley2010]). Small changes are noise by either method, so those in a square around the middle are left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from quietlimb.agreement.interval import CONFIDENCE
from quietlimb.agreement.pairs import Pairs
from quietlimb.agreement.shares import SLACK, Share, share_of
from quietlimb.engine.errors import PairsError, ParameterError
from quietlimb.engine.values import Cited

EXCLUSION = Cited(5.0, "mmHg", "practice", "half side of the square left out", "common practice")
WANTED = Cited(0.90, "share", "practice", "concordance of change, 90 to 92 %", "common practice")


@dataclass(frozen=True, slots=True, kw_only=True)
class Trending:
    """Four-quadrant concordance.

    changes  : from pair to pair within animals
    left_out : of them, those by which both methods moved by at most `exclusion` [unit]
    concordance : of the others, the share that went the same way; a method that stood still while the other moved
                  did not. None where none is left
    """

    exclusion: float
    changes: int
    left_out: int
    concordance: Share | None


def trending(pairs: Pairs, *, exclusion: float = EXCLUSION.value, confidence: float = CONFIDENCE) -> Trending:
    """Concordance of the changes between successive pairs of an animal, in the order given.

    exclusion : half the side of the square that is left out. [unit]

    Raises PairsError unless the truth changed and an animal has two pairs; ParameterError for a negative exclusion.
    """
    if exclusion < 0.0:
        raise ParameterError("impossible-exclusion", f"the exclusion is {exclusion:g}", "give 0 or more")
    if pairs.truth != "changing" or pairs.n == len(pairs.animals):
        raise PairsError(
            "no-changes",
            f"{pairs.quantity}: no animal has pairs between which its pressure changed",
            "take several pairs of an animal while its pressure changes",
        )
    index = pairs.index
    order = np.argsort(index, kind="stable")
    same = np.diff(index[order]) == 0
    of_tested, of_reference = (np.diff(v[order])[same] for v in (pairs.tested, pairs.reference))
    kept = np.maximum(np.abs(of_tested), np.abs(of_reference)) > exclusion + SLACK
    together = (of_tested * of_reference > 0.0)[kept]
    return Trending(
        exclusion=exclusion,
        changes=int(same.sum()),
        left_out=int((~kept).sum()),
        concordance=share_of(together, index[order][1:][same][kept], confidence=confidence) if kept.any() else None,
    )
