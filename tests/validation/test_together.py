"""What the study of charted pressures makes of errors and covers."""

from __future__ import annotations

import numpy as np
import pytest
from together import common, decided


def test_errors_are_parted_into_shared_and_own() -> None:
    """Errors of 4 mmHg of their own and 3 mmHg for all of a session give 5 and 3.

    Oracle: by construction, 5 = hypot(3, 4). Tolerance: three times the Monte Carlo error of 4000 sessions.
    """
    rng = np.random.default_rng(1)
    sessions = [3.0 * rng.normal() + 4.0 * rng.normal(size=5) for _ in range(4000)]
    one, shared = common(sessions)
    assert one == pytest.approx(5.0, abs=0.12)
    assert shared == pytest.approx(3.0, abs=0.2)


def test_errors_of_their_own_share_nothing() -> None:
    """Readings that err in turn up and down have nothing in common, and a missing one is left out.

    Oracle: by construction; the mean product of 1 and -1 is below 0.
    """
    one, shared = common([np.array([1.0, -1.0, np.nan]), np.array([-1.0, 1.0])])
    assert one == 1.0
    assert shared == 0.0


@pytest.mark.parametrize(
    ("held", "error", "said"),
    [
        (95.0, 0.1, "met"),
        (97.5, 0.5, "undecided"),
        (98.5, 0.5, "NOT MET"),
        (92.0, 0.6, "undecided"),
        (90.0, 1.0, "NOT MET"),
    ],
)
def test_a_cover_is_decided_by_its_error(held: float, error: float, said: str) -> None:
    """Outside the target by more than twice the Monte Carlo error is missed, by less is undecided.

    Oracle: by construction, 93 to 97 %.
    """
    assert decided(held, error) == said
