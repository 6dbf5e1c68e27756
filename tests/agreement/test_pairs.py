"""The vocabulary of a comparison: what it takes and what it refuses.

Oracle of every test here: by construction.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from quietlimb.agreement.pairs import Pairs, Replicates
from quietlimb.engine.errors import PairsError

GIVEN: dict[str, Any] = {
    "quantity": "systolic",
    "animal": ["a", "b", "a"],
    "tested": [120.0, 150.0, 130.0],
    "reference": [125.0, 149.0, 131.0],
    "truth": "changing",
}


def pairs(**changed: Any) -> Pairs:
    return Pairs(**(GIVEN | changed))


def test_pairs_keep_their_values_as_read_only_arrays() -> None:
    """Differences are tested minus reference, animals come in the order of their first pair, nothing can be edited."""
    found = pairs()
    assert found.n == 3
    assert found.animals == ("a", "b")
    assert found.index.tolist() == [0, 1, 0]
    assert found.difference.tolist() == [-5.0, 1.0, -1.0]
    assert found.average.tolist() == [122.5, 149.5, 130.5]
    with pytest.raises(ValueError, match="read-only"):
        found.tested[0] = 1.0


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({"truth": "still"}, "unknown-truth"),
        ({"truth": "single"}, "replicates-of-one"),
        ({"tested": [], "reference": [], "animal": []}, "no-pairs"),
        ({"reference": [1.0, 2.0]}, "unequal-lengths"),
        ({"species": ("cat",)}, "unequal-lengths"),
        ({"tested": [120.0, float("nan"), 130.0]}, "not-finite"),
        ({"tested": ["high", 1, 2]}, "not-numbers"),
        ({"tested": [[1.0], [2.0], [3.0]]}, "not-a-row"),
        ({"animal": ["a", "", "b"]}, "not-text"),
        ({"animal": [1, 2, 3]}, "not-text"),
        ({"first": ("tested", "tested", "neither")}, "unknown-first"),
        ({"failed_tested": 2}, "attempts-missing"),
        ({"failed_tested": -2, "attempts": 5}, "impossible-count"),
        ({"failed_reference": 3, "attempts": 5}, "impossible-count"),
    ],
)
def test_what_does_not_fit_is_refused_with_a_remedy(changed: dict[str, Any], code: str) -> None:
    """Each slip has its own code, says what was found, and says what to do."""
    with pytest.raises(PairsError) as caught:
        pairs(**changed)
    assert caught.value.code == code
    assert caught.value.says
    assert caught.value.remedy


def test_a_part_of_the_pairs_keeps_what_belongs_to_each() -> None:
    """A mask takes every column along and drops what was counted of the whole."""
    whole = pairs(species=("cat", "dog", "cat"), occasion=["1", "1", "2"], failed_tested=1, attempts=4)
    part = whole.where(whole.index == 0)
    assert part is not None
    assert part.animals == ("a",)
    assert part.species == ("cat", "cat")
    assert np.asarray(part.occasion).tolist() == ["1", "2"]
    assert part.attempts is None
    assert whole.where(np.zeros(3, dtype=bool)) is None


def test_replicates_of_a_constant_truth_need_not_be_equal_in_number() -> None:
    """Values are gathered by animal; linked pairs are refused, as are animals with one method only."""
    found = Replicates.from_pairs(pairs(truth="constant"))
    assert found.animals == ("a", "b")
    assert found.tested_means.tolist() == [125.0, 150.0]
    assert found.reference_means.tolist() == [128.0, 149.0]
    unequal = Replicates(
        quantity="systolic",
        animals=("a",),
        tested=(np.array([1.0, 2.0, 3.0]),),
        reference=(np.array([2.0]),),
    )
    assert unequal.tested_means.tolist() == [2.0]
    with pytest.raises(PairsError, match="belong together"):
        Replicates.from_pairs(pairs())
    for animals, tested in ((("a", "a"), 2), (("a", "b"), 1), ((), 0)):
        with pytest.raises(PairsError):
            Replicates(
                quantity="systolic",
                animals=animals,
                tested=(np.array([1.0]),) * tested,
                reference=(np.array([1.0]),) * len(animals),
            )
    with pytest.raises(PairsError, match="no reference value"):
        Replicates(quantity="systolic", animals=("a",), tested=(np.array([1.0]),), reference=(np.array([]),))
