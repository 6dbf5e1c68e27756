"""What a comparison still lacks."""

from __future__ import annotations

import numpy as np

from agreement.invented_rows import invented_rows
from quietlimb.agreement.criteria import effective_pairs
from quietlimb.agreement.pairs import Pairs
from quietlimb.agreement.recruitment import recruitment
from quietlimb.agreement.schemes import CONTINUOUS, HUMAN_STANDARD, VETERINARY


def pairs_of(reference: list[float], animals: list[str], species: list[str]) -> Pairs:
    """Pairs without a difference."""
    return Pairs(
        quantity="systolic",
        animal=animals,
        tested=reference,
        reference=reference,
        truth="changing",
        species=tuple(species),
    )


SOME = pairs_of([80.0, 120.0, 130.0, 100.0], ["a", "a", "b", "c"], ["cat", "cat", "cat", "dog"])


def test_animals_are_counted_against_the_veterinary_list() -> None:
    """Eight against a catheter, 25 against another cuff; nothing of either where that is not told.

    Oracle: from memory, ACVIM 2007.
    """
    for kind, need in (("intra-arterial", 8), ("indirect", 25)):
        (found,) = recruitment(SOME, VETERINARY, reference_is=kind).needs
        assert (found.have, found.need, found.missing) == (3, need, need - 3)
        assert found.limit.standing == "from memory"
    assert recruitment(SOME, VETERINARY, reference_is=None).needs == ()


def test_ranges_and_species_show_what_is_missing() -> None:
    """One low, three normal, none high; two cats and a dog.

    Oracle: by construction; bounds 90 and 160 mmHg of the rule sets.
    """
    found = recruitment(SOME, VETERINARY, reference_is="intra-arterial")
    assert [(each.name, each.animals, each.pairs) for each in found.ranges] == [
        ("low", 1, 1),
        ("normal", 3, 3),
        ("high", 0, 0),
    ]
    assert found.ranges[1].by_species == {"cat": 2, "dog": 1}
    assert found.animals_by_species == {"cat": 2, "dog": 1}
    assert found.empty_ranges == ("high",)
    assert not found.complete
    moved = recruitment(SOME, VETERINARY, reference_is="intra-arterial", bounds=(100.0, 130.0))
    assert [each.pairs for each in moved.ranges] == [1, 2, 1]


def test_the_spread_of_the_human_standard_is_of_the_pairs_it_asks_for() -> None:
    """A tenth of 150 at 100 mmHg or less, and at 160 or more.

    Oracle: from memory and published, ISO 81060-2 with a catheter.
    """
    found = {need.key: need for need in recruitment(SOME, HUMAN_STANDARD, reference_is="intra-arterial").needs}
    assert (found["low-enough"].have, found["low-enough"].need) == (2, 15)
    assert (found["high-enough"].have, found["high-enough"].missing) == (0, 15)
    assert found["pairs"].missing == 146
    assert found["pairs-of-an-animal"].missing == 0


def test_a_full_comparison_lacks_nothing() -> None:
    """Fifteen animals with ten pairs over the whole range.

    Oracle: by construction.
    """
    reference = np.linspace(60.0, 190.0, 150).tolist()
    animals = [f"a{k % 15}" for k in range(150)]
    found = recruitment(pairs_of(reference, animals, ["dog"] * 150), HUMAN_STANDARD, reference_is="intra-arterial")
    assert found.complete
    crowded = pairs_of(reference, [f"a{k % 14}" for k in range(150)], ["dog"] * 150)
    too_many = {need.key: need for need in recruitment(crowded, HUMAN_STANDARD, reference_is="intra-arterial").needs}
    assert too_many["pairs-of-an-animal"].missing == 1
    assert too_many["animals"].missing == 1


def test_effective_pairs_that_are_too_few_are_missing() -> None:
    """As the criterion has them, rounded down.

    Oracle: by construction, the criterion's own count.
    """
    pairs = invented_rows(7, animals=12, readings=5).pairs("systolic")
    found = recruitment(pairs, CONTINUOUS, reference_is="intra-arterial")
    (need,) = found.needs
    assert (need.have, need.need) == (int(effective_pairs(pairs)), 278)
    assert not found.complete
