"""The picture at the table: labels that can be read."""

from __future__ import annotations

from itertools import pairwise

from clinic.examples import Clinic, reading
from quietlimb.clinic.sessions.picture import picture


def test_labels_of_the_axis_never_touch(clinic: Clinic) -> None:
    """From 40 to 310 mmHg as from 150 to 170: labels stand apart by more than their height on a telephone.

    Oracle: by construction; 22 px is the height of the letters there, by the style sheet.
    """
    for values in ((150, 170), (45, 310), (90, 210)):
        drawn = picture([reading(clinic, k, value) for k, value in enumerate(values)], None, hidden=True)
        assert drawn is not None
        places = [tick.y for tick in drawn.ticks]
        assert len(places) > 2
        assert min(a - b for a, b in pairwise(places)) > 22
        assert drawn.low_mmhg < min(values)
        assert drawn.high_mmhg > max(values)
