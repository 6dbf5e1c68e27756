"""Figures of a class. Oracle: by construction, a few results counted by hand."""

from __future__ import annotations

import uuid
from collections.abc import Callable

import pytest
from django.test import Client
from django.utils import timezone

from clinic.examples import Clinic
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.stores import PRACTICE, TEACHING
from quietlimb.clinic.teaching.figures import figures_of
from quietlimb.clinic.teaching.models import TrainingResult

pytestmark = pytest.mark.django_db(databases=[PRACTICE, TEACHING])
SignIn = Callable[[Person], Client]


def a_result(clinic: Clinic, error_mmhg: float | None, owner_told: str = "") -> TrainingResult:
    result = TrainingResult(
        practice=clinic.nurse.practice, run=uuid.uuid4(), case_key="just-arrived", title="Just out of the car",
        finished_at=timezone.now(), grade="near", error_mmhg=error_mmhg, inflations=6, wasted=1, minutes=11.0,
        owner_told=owner_told,
    )  # fmt: skip
    result.save(force_insert=True)
    return result


def test_an_error_has_a_sign_and_a_distance_has_none(clinic: Clinic) -> None:
    """Of -20, -4 and +6 mmHg the median is -4 and the median distance 6; nothing charted is no error."""
    (line,) = figures_of([a_result(clinic, error) for error in (-20.0, 6.0, -4.0, None)]).months
    assert (line.error_mmhg, line.error_told, line.off_mmhg) == (-4.0, "-4", 6.0)
    assert (line.runs, line.charted, line.within) == (4, 3, 2)


@pytest.mark.parametrize(
    ("error", "told"), [(47.5, "+48"), (46.5, "+47"), (-46.5, "-47"), (0.3, "0"), (-0.3, "0"), (None, "")]
)
def test_the_sign_is_always_told(clinic: Clinic, error: float | None, told: str) -> None:
    (line,) = figures_of([a_result(clinic, error)]).cases
    assert line.error_told == told


def test_the_page_of_the_class_says_what_its_figures_are(clinic: Clinic, signed_in: SignIn) -> None:
    """Runs of +94 and +1: a median of +48 to the one side, a distance of 48."""
    for error in (94.0, 1.0):
        a_result(clinic, error)
    page = signed_in(clinic.lead).get("/teaching/class").text
    assert "<td>+48</td><td>48</td>" in page
    for head in (
        "Error, median, mmHg: + too high, - too low",
        "Distance either way, median, mmHg",
        "Minutes from coming in to the last inflation, median",
    ):
        assert head in page


def test_runs_that_nobody_put_forward_are_not_told_as_none(clinic: Clinic, signed_in: SignIn) -> None:
    """Without a run, none was finished; with one of nobody, nobody has put one forward."""
    browser = signed_in(clinic.lead)
    none = browser.get("/teaching/class").text
    assert none.count("No run has been finished yet.") == 3
    assert "put a run forward" not in none
    a_result(clinic, 1.0)
    page = browser.get("/teaching/class").text
    assert page.count("Nobody has put a run forward yet.") == 1
    assert "No run has been finished yet." not in page


def test_what_owners_were_told_is_counted_where_it_was_asked(clinic: Clinic, signed_in: SignIn) -> None:
    """Of six runs two are from before it was asked; of four one held, two did not follow, one misled."""
    for standing in ("", "", "holds", "does not follow", "does not follow", "truth is another"):
        row = a_result(clinic, 4.0, standing)
    (line,) = figures_of([*TrainingResult.objects.all()]).months
    assert row.practice == clinic.nurse.practice
    assert (line.runs, line.told, line.told_holds, line.told_astray, line.told_misled) == (6, 4, 1, 2, 1)
    page = signed_in(clinic.lead).get("/teaching/class").text
    assert "<td>1 / 4</td><td>2</td><td>1</td>" in page
    for head in ("Owner told what holds, of those asked", "Did not follow from the chart", "the truth was another"):
        assert head in page
