"""Invented data are recognised."""

from __future__ import annotations

import pytest

from quietlimb.engine.circumstances import Circumstances
from quietlimb.figures.invented import INVENTED_WORDS, invented_words, is_invented


@pytest.mark.parametrize(
    ("animal", "instrument", "invented"),
    [
        (None, "simulator", True),
        (None, " Simulator ", True),
        ("Simulated cat 4", None, True),
        ("invented: Pebble", "bench sensor", True),
        ("Pebble", "bench sensor", False),
        (None, None, False),
    ],
)
def test_simulator_and_invented_animals_are_marked(animal: str | None, instrument: str | None, invented: bool) -> None:
    """The simulator as instrument, or an animal named as simulated or invented, is enough; case does not matter.

    Oracle: by construction.
    """
    circumstances = Circumstances(species="cat", animal=animal, instrument=instrument)
    assert is_invented(circumstances) is invented
    assert invented_words(circumstances) == (INVENTED_WORDS if invented else None)
