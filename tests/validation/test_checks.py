"""The study of checks counts what it says that it counts."""

from __future__ import annotations

import math

import numpy as np
from checks import _checked, _one_instrument, _sounded, share, true_leak

from quietlimb.engine.values import Cited
from quietlimb.instruments.drift import drift
from quietlimb.simulator.closed_cuff import ClosedCuff


def test_a_share_has_its_monte_carlo_error() -> None:
    """95 of 100 is 95 % give or take sqrt(p q / n).

    Oracle: by construction.
    """
    assert share(95, 100) == f"95.0+-{100.0 * math.sqrt(0.95 * 0.05 / 100.0):.1f}"
    assert share(0, 0) == "-"


def test_the_true_leak_leaves_the_settling_out() -> None:
    """A tight cuff that settles loses nothing through a hole; 6 mmHg/min fades to their mean.

    Oracle: by construction, the loss of an exponential fall over its time.
    """
    assert true_leak(ClosedCuff(leak_mmhg_per_min=0.0, settling_share=0.05, settling_s=5.0), 250.0, 0.0, 60.0) == 0.0
    hole = ClosedCuff(leak_mmhg_per_min=6.0, settling_share=0.0, settling_s=5.0)
    lost = 250.0 * (1.0 - math.exp(-6.0 / 250.0))
    assert math.isclose(true_leak(hole, 250.0, 0.0, 60.0), lost, rel_tol=1e-4)


def test_an_instrument_yields_each_interval_at_most_once_and_most_of_them() -> None:
    """Of 40 instruments each kind of interval holds in 30 at least, which 95 % do all but always.

    Oracle: by construction.
    """
    rng = np.random.default_rng(3)
    held = [list(_one_instrument(rng, 1.0, 1.0)) for _k in range(40)]
    for name in ("at", "all", "mean", "hysteresis", "display"):
        assert all(each.count(name) <= 1 for each in held)
        assert sum(name in each for each in held) >= 30


def test_the_first_sound_of_a_rule_is_found() -> None:
    """A jump by 5 mmHg at the eighth check sounds there, and in no other rule before.

    Oracle: by construction.
    """
    points = _checked(np.random.default_rng(4), 0.2, 0.0, 7) + _checked(np.random.default_rng(5), 0.2, 20.0, 9)[7:8]
    found = drift(points, Cited(100.0, "mmHg", "practice", "-", "invented"))
    assert _sounded(found, "jump") == 7
    assert _sounded(found, "slow-drift", "restless") == 7
