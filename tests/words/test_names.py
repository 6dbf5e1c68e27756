"""Names of categories, courses, fits and organs."""

from __future__ import annotations

from typing import get_args

import pytest

from engine.session.examples import series_of
from quietlimb.engine.interpretation.categories import category_probabilities, exact
from quietlimb.engine.interpretation.clues import CLUE_CODES
from quietlimb.engine.interpretation.interpretation import Eye, GoalSays, Organ, OrganState, StatusName, TreatmentSays
from quietlimb.engine.interpretation.status import STATUS_REASONS
from quietlimb.engine.interpretation.would_change import CHANGE_CODES
from quietlimb.engine.session.charted import Course
from quietlimb.engine.session.charting import chart
from quietlimb.engine.standards.cuff_width import Fit
from quietlimb.engine.standards.rule_sets import RULE_SETS
from quietlimb.engine.standards.treatment_in_print import PRINTED_TREATMENT
from quietlimb.instruments.cuffs import CircumferenceRemark
from quietlimb.words import categories, clues, courses, cuffs, organs, other_rules, sources, status


def test_nothing_that_the_engine_says_lacks_a_name():
    """Categories, courses, fits, remarks, organs and their states.

    Oracle: by construction, the engine's own vocabularies.
    """
    names = {name for rules in RULE_SETS.values() for name in rules.categories}
    assert set(categories.NAMES) == set(categories.RISKS) == names
    assert set(status.NAMES) == set(get_args(StatusName))
    assert set(status.REASONS) == set(STATUS_REASONS)
    assert set(clues.SENTENCES) == set(CLUE_CODES)
    assert set(other_rules.CHANGES) == set(CHANGE_CODES)
    assert set(other_rules.TREATMENT) == set(get_args(TreatmentSays))
    assert set(other_rules.GOALS) == set(get_args(GoalSays))
    assert set(courses.COURSES) == set(get_args(Course))
    assert set(cuffs.FITS) == set(get_args(Fit))
    assert set(cuffs.REMARKS) == set(get_args(CircumferenceRemark))
    assert set(organs.NAMES) == set(get_args(Organ))
    assert set(organs.STATES) == set(get_args(OrganState))
    assert set(organs.EYES) == set(get_args(Eye))


def test_every_source_of_a_rule_has_a_readable_name():
    """The citation keys of the rule sets are not shown to people.

    Oracle: by construction, the rule sets and the treatment lines in print.
    """
    keys = {rules.source for rules in RULE_SETS.values()} | {text.source for text in PRINTED_TREATMENT}
    assert len(keys) == 8
    for key in keys:
        assert sources.source_name(key) != key


def test_courses_are_told_in_the_words_of_the_trade():
    """Level, still falling, still rising, cannot tell.

    Oracle: invented, the words that we agreed on.
    """
    assert [courses.course_name(course) for course in get_args(Course)] == [
        "level",
        "still falling",
        "still rising",
        "cannot tell",
    ]


def test_a_fall_that_came_to_its_end_is_not_told_to_go_on():
    """With the speed under which it is not; level and unclear courses have none.

    Oracle: by construction.
    """
    fell = chart(series_of([190.0, 175.0, 165.0, 160.0, 157.0, 156.0, 155.0, 155.0, 155.0, 156.0, 154.0]))
    assert courses.charted_course(fell) == "falling, under 1 mmHg a minute at the end"
    falls = chart(series_of([195.0, 182.0, 173.0, 166.0, 161.0, 158.0, 156.0]))
    assert courses.charted_course(falls) == "still falling"
    assert courses.charted_course(chart(series_of([150.0, 151.0, 149.0, 150.0, 151.0, 149.0]))) == "level"


def test_a_slightly_wide_cuff_may_read_low():
    """Fit and direction in one phrase.

    Oracle: common practice: narrow reads high, wide reads low.
    """
    assert cuffs.fit_words("wide") == "slightly wide: may read low"
    assert "high" in cuffs.fit_words("narrow")
    assert "high" in cuffs.fit_words("far too narrow")
    assert "low" in cuffs.fit_words("far too wide")


def test_pressure_ranges_are_half_open_in_words():
    """Under 140, 140 to under 160, ..., 180 and over.

    Oracle: published lines 140, 160, 180 (Domingues et al. 2022).
    """
    ranges = [
        categories.pressure_range(category.from_mmhg, category.to_mmhg)
        for category in category_probabilities(exact(150.0))
    ]
    assert ranges == ["under 140 mmHg", "140 to under 160 mmHg", "160 to under 180 mmHg", "180 mmHg and over"]


def test_no_category_says_so():
    """None has a name too.

    Oracle: by construction.
    """
    assert categories.category_name(None) == "No category"


@pytest.mark.parametrize(
    ("organ", "word"),
    [("eyes", "detachment"), ("brain", "neurological"), ("heart", "murmur"), ("kidneys", "creatinine")],
)
def test_each_check_list_names_what_to_look_for(organ, word):
    """A sign or test that the trade would miss first.

    Oracle: common practice, the organ check list.
    """
    told = organs.check_list(organ)
    assert word in f"{told.look_for}; {told.examine}"
    assert told.noticed_at_home


@pytest.mark.parametrize(("species", "target"), [("cat", "best 35 % in a cat"), ("dog", "best 40 % in a dog")])
def test_a_cuff_is_judged_by_named_shares(species, target):
    """Target, accepted range and outer limits, each with its source.

    Oracle: the limits of ACVIM 2018, from memory (30 to 40 %), of a clinical review of 2022 (40 % in dogs) and of a
    clinical column quoting a textbook (25 and 50 %).
    """
    told = cuffs.judged_by(species)
    for words in (target, "accepted 30 to 40 % (ACVIM 2018, from memory", "under 25 % and over 50 % (Stepien"):
        assert words in told
