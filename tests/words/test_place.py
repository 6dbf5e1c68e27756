"""The effect of the place in words."""

from __future__ import annotations

from typing import Any, get_args

from quietlimb.engine.circumstances import Place
from quietlimb.engine.session.place import MAY_EXPLAIN, PlaceEffect
from quietlimb.engine.values import Estimate
from quietlimb.words.place import CIRCUMSTANCES, PLACES, effect_sentence, place_remarks


def effect(**changes: Any) -> PlaceEffect:
    told: dict[str, Any] = {
        "first_place": "carrier",
        "second_place": "consulting-room",
        "effect": Estimate(value=11.6, low=2.2, high=21.0, own_sd=4.8, shared_sd=0.0),
        "next_pair": (-8.4, 31.6),
        "probability_higher": 0.992,
        "pairs": 2,
        "confounded_by": (),
        "order_confounded": False,
    }
    return PlaceEffect(**{**told, **changes})


def test_every_place_and_circumstance_has_a_name() -> None:
    """Oracle: by construction, the engine's vocabulary."""
    assert set(PLACES) == set(get_args(Place))
    assert set(CIRCUMSTANCES) == set(MAY_EXPLAIN)


def test_the_effect_is_told_with_sign_and_interval() -> None:
    """Oracle: by construction, the numbers given."""
    told = effect_sentence(effect())
    assert told.startswith("Systolic pressure in the consulting room minus in the carrier: +12 mmHg")
    assert "(95 % interval +2 to +21), from 2 pairs" in told
    assert "with a probability of 99 %" in told
    assert "from 1 pair;" in effect_sentence(effect(pairs=1))


def test_what_else_may_have_been_measured_is_said() -> None:
    """Circumstances that differ and an order that never changed are named; nothing is said of them otherwise.

    Oracle: by construction.
    """
    plain = place_remarks(effect())
    assert len(plain) == 2
    assert plain[0] == "In a further pair the difference would lie between -8 and +32 mmHg."
    assert "never subtracted" in plain[-1]
    suspect = place_remarks(effect(confounded_by=("cuff", "held_by"), order_confounded=True))
    assert "cuff, who held" in suspect[1]
    assert "always came first" in suspect[2]
    assert "The readings of 1 session broke the protocol's rule" in place_remarks(effect(uneven=1))[1]
    assert "The readings of 2 sessions broke" in place_remarks(effect(uneven=2))[1]
