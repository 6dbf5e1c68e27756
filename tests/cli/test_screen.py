"""`quietlimb screen`."""

from __future__ import annotations

import json

import jsonschema

from quietlimb.exchange.schemas import schema


def test_text_and_json_tell_the_same(run) -> None:
    """Sign, illness and interval, each with its source; JSON is valid by its schema.

    Oracle: from memory, ACVIM 2018 for signs, ISFM 2017 for cats at risk.
    """
    told = ("screen", "--species", "cat", "--age", "12", "--conditions", "kidney-disease", "--signs")
    text = " ".join(run(*told).stdout.split())
    found = json.loads(run(*told, "--json").stdout)
    jsonschema.validate(found, schema("screen"))
    assert [each["code"] for each in found["asks"]] == ["first-signs", "first-at-risk"]
    assert found["age_years"] == 12.0
    for each in found["asks"]:
        assert each["says"] in text
    assert "Measure today: a sign of damage" in text
    assert "again in 3 to 6 months each time. (ISFM 2017, from memory" in text
    assert "The veterinarian decides" in text


def test_an_animal_that_no_text_is_about_is_told_so(run) -> None:
    """A dog of twelve without an illness; a rule set for cats and an illness that is none are wrong use.

    Oracle: by construction.
    """
    assert "the age of this one is not told" in " ".join(run("screen", "--species", "cat").stdout.split())
    assert "No text at hand asks for the pressure" in run("screen", "--species", "dog", "--age", "12").stdout
    assert run("screen", "--species", "dog", "--rules", "isfm-2017").exit_code == 2
    assert run("screen", "--species", "dog", "--conditions", "sneezing").exit_code == 2
