"""A plan, and what departs from it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from agreement.invented_rows import invented_rows
from quietlimb.agreement.comparing import as_run
from quietlimb.agreement.plan import Analysis, Plan, deviations
from quietlimb.agreement.window_rule import Rule
from quietlimb.engine.errors import PairsError, ParameterError

ANALYSIS = Analysis(quantities=("systolic",))
PLAN = Plan(
    title="A tail cuff in cats",
    question="Does it agree?",
    tested="tail cuff",
    reference="catheter in a pedal artery",
    primary="systolic",
    animals=9,
    readings=4,
    made_on="2031-02-04",
    analysis=ANALYSIS,
)


def test_nothing_departs_where_all_was_done() -> None:
    """Rows and analysis as planned.

    Oracle: by construction.
    """
    rows, analysis = as_run(invented_rows(), ANALYSIS)
    assert deviations(PLAN, rows, analysis) == ()
    assert deviations(PLAN, replace(rows, taken_from="2031-02-04"), analysis) == ()


def test_each_departure_is_told_with_what_was_planned() -> None:
    """Another name, fewer animals, other criteria, bounds that were not planned, data before the plan.

    Oracle: by construction.
    """
    rows = replace(invented_rows(animals=7, readings=3), tested_name="other cuff", taken_from="2031-01-01")
    changed = Analysis(
        quantities=("systolic",),
        schemes=("iso-81060-2",),
        bounds={"systolic": (100.0, 150.0)},
        confidence=0.9,
        rule=Rule(),
    )
    found = {each.code: each for each in deviations(PLAN, *as_run(rows, changed))}
    assert set(found) == {"tested", "animals", "readings", "schemes", "bounds", "confidence", "data-before-plan"}
    assert (found["animals"].planned, found["animals"].done) == ("9", "7")
    assert found["bounds"].planned == "thirds"
    assert found["data-before-plan"].done == "2031-01-01"


def test_a_planned_rule_is_held() -> None:
    """A window other than the planned one departs.

    Oracle: by construction.
    """
    plan = replace(PLAN, analysis=replace(ANALYSIS, rule=Rule()))
    rows, analysis = as_run(invented_rows(), replace(ANALYSIS, rule=Rule(window="before")))
    (found,) = deviations(plan, rows, analysis)
    assert found.code == "rule"


def test_rows_and_analysis_may_not_contradict_each_other() -> None:
    """Truth and kind of reference.

    Oracle: by construction.
    """
    with pytest.raises(PairsError, match="truth"):
        as_run(invented_rows(), Analysis(truth="constant"))
    with pytest.raises(PairsError, match="reference_is"):
        as_run(invented_rows(), Analysis(reference_is="indirect"))
    with pytest.raises(PairsError, match="no row has"):
        as_run(invented_rows(), Analysis(quantities=("diastolic",)))


@pytest.mark.parametrize(
    "options",
    [
        {"schemes": ("of-the-house",)},
        {"confidence": 1.0},
        {"error_ratio": 0.0},
        {"bounds": {"systolic": (150.0, 100.0)}},
    ],
)
def test_an_impossible_analysis_is_refused(options: dict) -> None:
    """With a remedy.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError):
        Analysis(**options)


@pytest.mark.parametrize("options", [{"animals": 1}, {"readings": 0}, {"primary": "mean"}])
def test_an_impossible_plan_is_refused(options: dict) -> None:
    """With a remedy.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError):
        replace(PLAN, **options)
