"""Who asks for the pressure of an animal that was not measured yet."""

from __future__ import annotations

from typing import Any

import pytest

from quietlimb.engine.errors import ParameterError
from quietlimb.engine.interpretation.background import Background
from quietlimb.engine.interpretation.screen import SCREEN_CODES, screen

HALF_A_YEAR_TO_A_YEAR = (180.0, 365.0)
THREE_TO_SIX_MONTHS = (90.0, 180.0)
A_YEAR = (335.0, 365.0)


def _asked(species: Any, *, rules: str = "acvim-2018", signs: bool = False, before: bool = False, **told: Any):
    found = screen(species, rules=rules, background=Background(**told), signs=signs, before_anaesthesia=before)
    for each in found:
        if each.code in SCREEN_CODES:
            assert set(each.numbers) == set(SCREEN_CODES[each.code])
    return [(each.code, each.within_days) for each in found]


@pytest.mark.parametrize(
    ("species", "told", "expected"),
    [
        ("cat", {}, [("first-age-not-told", None)]),
        ("cat", {"age_years": 6.9}, [("first-no-rule", None)]),
        ("cat", {"age_years": 7.0}, [("first-healthy-cat", HALF_A_YEAR_TO_A_YEAR)]),
        ("cat", {"age_years": 9.0}, [("first-older-cat", A_YEAR), ("first-healthy-cat", HALF_A_YEAR_TO_A_YEAR)]),
        ("cat", {"age_years": 3.0, "rules": "isfm-2017"}, [("first-adult-cat", A_YEAR)]),
        (
            "cat",
            {"age_years": 11.0, "rules": "isfm-2017"},
            [("first-older-cat", HALF_A_YEAR_TO_A_YEAR), ("first-healthy-cat", HALF_A_YEAR_TO_A_YEAR)],
        ),
        ("cat", {"age_years": 12.0, "conditions": ("hyperthyroidism",)}, [("first-at-risk", THREE_TO_SIX_MONTHS)]),
        ("dog", {"conditions": ("diabetes",)}, [("first-at-risk", THREE_TO_SIX_MONTHS)]),
        ("cat", {"conditions": ("diabetes",)}, [("first-with-illness", None), ("first-age-not-told", None)]),
        ("cat", {"conditions": ("hyperthyroidism",)}, [("first-at-risk", THREE_TO_SIX_MONTHS)]),
        ("cat", {"conditions": ("diabetes",), "age_years": 6.0}, [("first-with-illness", None)]),
        (
            "cat",
            {"conditions": ("diabetes",), "age_years": 12.0, "rules": "isfm-2017"},
            [("first-with-illness", None), ("first-older-cat", HALF_A_YEAR_TO_A_YEAR)],
        ),
        ("cat", {"conditions": ("protein-loss",), "age_years": 6.0}, [("first-with-illness", None)]),
        ("dog", {"conditions": ("acute-kidney-injury",)}, [("first-with-illness", None)]),
        ("dog", {"conditions": ("acute-kidney-injury", "diabetes")}, [("first-at-risk", THREE_TO_SIX_MONTHS)]),
        ("dog", {"conditions": ("obesity",)}, [("first-no-rule", None)]),
        ("dog", {"drugs": ("toceranib",)}, [("first-at-risk", THREE_TO_SIX_MONTHS)]),
        ("dog", {"young": True}, [("first-no-routine", None)]),
        ("dog", {"age_years": 12.0}, [("first-no-rule", None)]),
    ],
)
def test_each_group_is_asked_for_by_its_rule(species, told, expected) -> None:
    """Every line of the table of screening, and animals that no line is about.

    Oracle: from memory, ACVIM 2018 and ISFM 2017; common practice, for an illness on no list; published, Caney 2021,
    the programme of care that it quotes. That a yearly look
    may come a month early is invented.
    """
    assert _asked(species, **told) == expected


def test_signs_come_first_then_the_anaesthesia() -> None:
    """Now; once; then what the animal's illness asks for.

    Oracle: from memory, ACVIM 2018, for the signs; common practice for the anaesthesia.
    """
    told = _asked("dog", signs=True, before=True, conditions=("kidney-disease",))
    assert told == [
        ("first-signs", (0.0, 0.0)),
        ("first-before-anaesthesia", None),
        ("first-at-risk", THREE_TO_SIX_MONTHS),
    ]


def test_a_rule_set_of_another_species_is_refused() -> None:
    """ISFM 2017 is for cats.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError, match="not for a dog"):
        screen("dog", rules="isfm-2017")
