"""What an owner is told."""

from __future__ import annotations

from typing import get_args

import pytest

from quietlimb.engine.interpretation.organs import organ_checks
from quietlimb.words.owner import HEIGHTS, Height, next_sentence, not_looked_at, not_looked_at_sentence, preparing


def test_every_height_has_a_sentence_that_names_the_animal() -> None:
    """With the pressure in all of them but that of none.

    Oracle: by construction.
    """
    assert set(HEIGHTS) == set(get_args(Height))
    assert all("{animal}" in text for text in HEIGHTS.values())
    assert [height for height, text in HEIGHTS.items() if "{mmhg}" not in text] == ["none"]


@pytest.mark.parametrize(
    ("organs", "told"),
    [
        ({}, ["eyes", "brain", "heart and vessels", "kidneys"]),
        ({"left eye": "absent", "brain": "unclear", "heart": "absent"}, ["the right eye", "kidneys"]),
        ({"eyes": "absent", "brain": "absent", "heart": "present", "kidneys": "known disease"}, []),
    ],
)
def test_what_was_not_looked_at_is_named(organs: dict[str, str], told: list[str]) -> None:
    """One eye by itself; what is unclear was looked at; nothing to say where all were.

    Oracle: by construction.
    """
    assert not_looked_at(organ_checks(organs)) == told  # type: ignore[arg-type]
    assert bool(not_looked_at_sentence(told)) == bool(told)


@pytest.mark.parametrize(
    ("first", "last", "words"),
    [
        (None, None, "No day is set yet"),
        ("2031-03-10", "2031-03-17", "between 10 March 2031 and 17 March 2031"),
        ("2031-03-10", "2031-03-10", "by 10 March 2031"),
        ("2031-03-01", "2031-03-03", "by 3 March 2031"),
        ("2031-02-01", "2031-03-02", "was due by 2 March 2031: please ring"),
    ],
)
def test_when_to_come_again(first: str | None, last: str | None, words: str) -> None:
    """Seen on 3 March 2031.

    Oracle: by construction.
    """
    assert words in next_sentence(first, last, today="2031-03-03")


def test_tablets_are_named_only_where_there_are_any() -> None:
    """A carrier is a cat's.

    Oracle: by construction.
    """
    cat, dog = (preparing(species, animal="Pebble", treated=species == "dog") for species in ("cat", "dog"))
    assert ["carrier" in cat[0], "carrier" in dog[0]] == [True, False]
    assert ["tablets" in " ".join(each) for each in (cat, dog)] == [False, True]
