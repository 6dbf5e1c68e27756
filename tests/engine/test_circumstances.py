"""Circumstances."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest

from quietlimb.engine.circumstances import CIRCUMSTANCE_NAMES, NUMERIC_CIRCUMSTANCES, Circumstances
from quietlimb.engine.errors import CircumstancesError


def test_only_the_species_must_be_known():
    """With the species alone, everything else is not told, and the technique is the oscillometric one.

    Oracle: by construction.
    """
    circumstances = Circumstances(species="dog")
    told = {name for name in CIRCUMSTANCE_NAMES if getattr(circumstances, name) is not None}
    assert told == {"species", "method"}
    assert circumstances.method == "oscillometric"


@pytest.mark.parametrize("name", ["species", "site", "side", "position", "place", "method", "sedation"])
def test_a_word_out_of_its_list_is_refused(name: str):
    """The error names the circumstance, the word, and the words that would do.

    Oracle: by construction.
    """
    words: dict[str, Any] = {"species": "cat", name: "Somewhere"}
    with pytest.raises(CircumstancesError, match=f"{name} is 'Somewhere'; use one of: ") as caught:
        Circumstances(**words)
    assert caught.value.code == "unknown-circumstance"


@pytest.mark.parametrize(
    ("name", "possible", "impossible"),
    [
        ("cuff_width_cm", (0.5, 4.0, 100.0), (0.49, 100.1, -3.0)),
        ("limb_circumference_cm", (0.5, 11.0, 100.0), (0.0, 101.0)),
        ("cuff_below_heart_cm", (-200.0, 0.0, 200.0), (-200.1, 200.1)),
        ("acclimatisation_min", (0.0, 10.0, 1440.0), (1441.0,)),
    ],
)
def test_lengths_and_minutes_within_reason(name: str, possible: tuple[float, ...], impossible: tuple[float, ...]):
    """Numbers up to and including the limits are taken; beyond them, and not-a-number, are refused by name.

    Oracle: invented limits, frozen so that a mistyped unit is seen and no real limb is refused.
    """
    assert name in NUMERIC_CIRCUMSTANCES
    for value in possible:
        assert getattr(Circumstances(species="cat", **{name: value}), name) == value  # type: ignore[arg-type]
    for value in (*impossible, float("nan"), float("inf")):
        with pytest.raises(CircumstancesError, match=name) as caught:
            Circumstances(species="cat", **{name: value})  # type: ignore[arg-type]
        assert caught.value.code == "impossible-circumstance"


@pytest.mark.parametrize(("name", "value"), [("started_at", datetime(2031, 3, 4, 9)), ("cuff", 3), ("animal", 12)])
def test_what_is_text_is_given_as_text(name: str, value: Any):
    """A time or a number is refused here with its remedy, not later where it cannot be written.

    Oracle: by construction.
    """
    told: dict[str, Any] = {name: value}
    with pytest.raises(CircumstancesError, match=f"{name} is ") as caught:
        Circumstances(species="cat", **told)
    assert (caught.value.code, "isoformat" in caught.value.remedy) == ("not-text", True)
