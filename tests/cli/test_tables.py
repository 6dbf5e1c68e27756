"""`quietlimb interpret` and `quietlimb cuff`: the tables on their own."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest

from quietlimb.exchange.schemas import __path__ as schema_folders

FOLDER = Path(schema_folders[0])
# ACVIM 2018 risk categories of systolic pressure, half open at 140, 160 and 180 mmHg
CATEGORIES = [
    ("139.5", "normotensive"),
    ("140", "prehypertensive"),
    ("159.5", "prehypertensive"),
    ("160", "hypertensive"),
    ("179.5", "hypertensive"),
    ("180", "severely hypertensive"),
]


def valid(text: str, schema: str) -> dict[str, object]:
    """One line of JSON, valid by the committed schema."""
    told: dict[str, object] = json.loads(text)
    jsonschema.validate(told, json.loads((FOLDER / f"{schema}.json").read_text(encoding="utf-8")))
    return told


@pytest.mark.parametrize(("systolic", "category"), CATEGORIES)
def test_interpret_gives_the_category_of_the_unrounded_pressure(run, systolic: str, category: str) -> None:
    """At and around each boundary the category is that of the half-open table, with certainty for an exact value.

    Oracle: published, ACVIM 2018 consensus statement, risk categories (from memory; the same four lines are used by
    Domingues et al. 2022, Open Vet J 12:562-566).
    """
    told = valid(run("interpret", systolic, "--species", "cat", "--sd", "0", "--json").stdout, "interpret")
    assert told["category"] == category
    assert [each["name"] for each in told["categories"]["today"] if each["probability"] == 1.0] == [category]


def test_interpret_with_a_spread_shares_the_probability(run) -> None:
    """A pressure on a boundary with a standard deviation lies on either side with equal probability.

    Oracle: by construction, symmetry of the normal distribution; tolerance from 4 decimals in JSON.
    """
    told = valid(run("interpret", "160", "--species", "dog", "--sd", "5", "--json").stdout, "interpret")
    shares = {each["name"]: each["probability"] for each in told["categories"]["today"]}
    assert shares["prehypertensive"] == pytest.approx(0.5, abs=1e-4)
    assert told["near_boundary"] is True


def test_interpret_text_lists_organs_to_examine(run) -> None:
    """An organ that is known is not on the list to examine; the others are.

    Oracle: by construction.
    """
    text = run("interpret", "185", "--species", "cat", "--organs", "eyes=absent").stdout
    to_examine = text.split("To examine")[1].split("Next")[0]
    assert "Brain:" in to_examine
    assert "Eyes:" not in to_examine


@pytest.mark.parametrize(
    "arguments",
    [("nan",), ("-5",), ("400",), ("abc",), ("150", "--sd", "nan"), ("150", "--sd", "-1")],
    ids=" ".join,
)
def test_impossible_pressures_are_wrong_use(run, arguments: tuple[str, ...]) -> None:
    """A pressure that no animal has, and a spread that means nothing, are refused without traceback.

    Oracle: common practice, exit code 2 for wrong use.
    """
    result = run("interpret", "--species", "cat", *arguments)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert "Traceback" not in result.stderr


@pytest.mark.parametrize(
    ("circumference", "species", "width", "fit", "direction", "words"),
    [
        ("8", "cat", "2.5", "fits", "none", "31.2 %"),
        ("13", "dog", "5", "fits", "none", "38.5 %"),
        ("13", "dog", "3", "far too narrow", "reads high", "23.1 %"),
        ("6", "cat", "2.5", "wide", "reads low", "41.7 %"),
        ("8", "cat", "4", "wide", "reads low", "50.0 %"),
    ],
)
def test_cuff_judges_the_worked_examples(run, circumference, species, width, fit, direction, words) -> None:
    """Five cuffs on five limbs are judged as worked out by hand from the accepted shares, with the direction of error.

    Oracle: by construction from 30 to 40 % accepted (ACVIM 2018, from memory) and 25 to 50 % as the outer limits
    (clinical column quoting Stepien): 2.5/8 = 31.25 %, 5/13 = 38.5 %, 3/13 = 23.1 %, 2.5/6 = 41.7 %, 4/8 = 50 %.
    """
    arguments = ("cuff", circumference, "--species", species, "--width", width)
    (cuff,) = valid(run(*arguments, "--json").stdout, "cuff")["cuffs"]
    assert (cuff["fit"], cuff["direction"]) == (fit, direction)
    assert words in run(*arguments).stdout


def test_cuff_asks_back_about_an_unlikely_limb(run) -> None:
    """75 is no circumference of a cat's limb in centimetres; the text asks.

    Oracle: common practice, cats' limbs and tails measure 3 to 13 cm around.
    """
    result = run("cuff", "75", "--species", "cat")
    assert result.exit_code == 0
    assert "centimetres" in result.stdout
    assert "no width fits" in result.stdout


@pytest.mark.parametrize("arguments", [("0",), ("nan",), ("8", "--width", "-1")], ids=" ".join)
def test_impossible_lengths_are_wrong_use(run, arguments: tuple[str, ...]) -> None:
    """A length that means nothing is refused.

    Oracle: common practice, exit code 2 for wrong use.
    """
    assert run("cuff", "--species", "cat", *arguments).exit_code == 2
