"""Cases: those that come with the program, a practice's own, and what is refused."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

from quietlimb.engine.errors import ParameterError
from quietlimb.engine.standards.cuff_width import judge_width
from quietlimb.instruments.cuffs import DEFAULT_WIDTHS_CM, circumference_remark
from quietlimb.simulator.training import CASES, as_mapping, case_from


def test_the_cases_are_graded_and_told_apart() -> None:
    """Some ten cases of three grades, each with its own key, title and seed; two of the hardest mix what there is.

    Oracle: by construction.
    """
    cases = list(CASES.values())
    assert len(cases) >= 10
    assert {case.difficulty for case in cases} == {1, 2, 3}
    assert sum(not case.teaches for case in cases) == 2
    for name in ("key", "title", "seed"):
        assert len({getattr(case, name) for case in cases}) == len(cases)


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_a_case_comes_back_from_text(case: Any) -> None:
    """As a mapping, written as JSON and read again, a case is the same.

    Oracle: by construction.
    """
    assert case_from(json.loads(json.dumps(as_mapping(case)))) == case


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_every_limb_is_plausible_and_has_a_cuff_that_fits(case: Any) -> None:
    """Each circumference is one that the cuff choice does not wonder at, and a width on sale fits it.

    Oracle: by construction, the widths and limits of the cuff choice.
    """
    for around in case.circumference_cm.values():
        assert circumference_remark(around, case.species) is None
        assert any(judge_width(width, around, case.species).fit == "fits" for width in DEFAULT_WIDTHS_CM)


def without(name: str) -> Callable[[dict[str, Any]], object]:
    return lambda told: told.pop(name)


def with_(name: str, value: object, part: str | None = None) -> Callable[[dict[str, Any]], object]:
    return lambda told: (told if part is None else told[part]).update({name: value})


@pytest.mark.parametrize(
    ("spoil", "code", "says"),
    [
        (without("resting"), "case-not-understood", "resting is not told; add it"),
        (with_("species", "fox"), "impossible-case", "species is 'fox'; use one of: cat, dog"),
        (with_("colour", "red"), "case-not-understood", "there is no 'colour'; use only: key"),
        (with_("moods", 1, "temper"), "case-not-understood", "there is no 'moods' of temper"),
        (with_("systolic", "high", "resting"), "case-not-understood", "systolic of resting is 'high'; give a number"),
        (with_("systolic", 400.0, "resting"), "impossible-case", "systolic is 400; give 60 to 260"),
        (with_("mean", 127.0, "resting"), "impossible-case", "mean is 127 mmHg; give 92 to 100 mmHg"),
        (with_("mean", 20.0, "resting"), "impossible-case", "give a systolic above the mean"),
        (with_("moves", True, "temper"), "case-not-understood", "moves of temper is True; give a number"),
        (with_("owner_calms", 1, "temper"), "case-not-understood", "owner_calms of temper is 1; give true or false"),
        (with_("animal", " ", "story"), "impossible-case", "animal of the story is empty"),
        (with_("circumference_cm", {}), "impossible-case", "no limb can take a cuff"),
        (with_("circumference_cm", {"ear": 5.0}), "impossible-case", "site is 'ear'"),
        (with_("circumference_cm", [8.0]), "case-not-understood", "circumference_cm is"),
        (with_("places", "home"), "case-not-understood", "places is 'home'; give a list of words"),
        (with_("places", ["moon"]), "impossible-case", "place is 'moon'"),
        (with_("seed", 1.5), "case-not-understood", "seed is 1.5; give a whole number"),
        (with_("difficulty", 4), "impossible-case", "difficulty is 4; use one of: 1, 2, 3"),
        (with_("fault", {"kind": "leak", "size": 50.0}), "impossible-case", "size of the fault is 50; give 0.3 to 3"),
        (with_("fault", {"kind": "rust", "size": 1.0}), "impossible-case", "kind of the fault is 'rust'"),
        (with_("fault", 3), "case-not-understood", "fault is 3; give names with their values"),
    ],
)
def test_what_is_wrong_with_a_case_is_told(spoil: Callable[[dict[str, Any]], object], code: str, says: str) -> None:
    """What, where, and what to do.

    Oracle: by construction.
    """
    told = as_mapping(CASES["just-arrived"])
    spoil(told)
    with pytest.raises(ParameterError, match=says) as raised:
        case_from(told)
    assert raised.value.code == code


def test_text_is_no_case() -> None:
    """A file that holds a sentence is refused.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError, match="the case is 'a cat'; give names with their values"):
        case_from("a cat")  # type: ignore[arg-type]
