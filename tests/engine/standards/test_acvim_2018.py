"""The numbers of the ACVIM 2018 rule set."""

from __future__ import annotations

import pytest

from quietlimb.engine.standards import acvim_2018 as acvim


def test_categories_begin_at_140_160_and_180():
    """The three boundaries are 140, 160 and 180 mmHg.

    Oracle: published. Domingues et al. 2022, Open Vet J 12:562-566 use these lines of the ACVIM statement. Exact.
    """
    assert [(boundary.value, boundary.unit) for boundary in acvim.BOUNDARIES] == [
        (140.0, "mmHg"),
        (160.0, "mmHg"),
        (180.0, "mmHg"),
    ]
    assert len(acvim.CATEGORY_NAMES) == len(acvim.BOUNDARIES) + 1


def test_protocol_discards_one_and_averages_five_to_seven():
    """First reading dropped, 5 to 7 kept, under 20 % variability, 5 to 10 minutes to settle, 10 cm of height.

    Oracle: from memory, ACVIM 2018 protocol; 5-7 and 5-10 min repeated in a clinical review of 2022. Exact.
    """
    assert acvim.DISCARD_FIRST.value == 1
    assert (acvim.KEEP_AT_LEAST.value, acvim.KEEP_AT_MOST.value) == (5, 7)
    assert acvim.MOST_VARIABILITY.value == 0.20
    assert (acvim.SHORTEST_ACCLIMATISATION.value, acvim.LONGEST_ACCLIMATISATION.value) == (5, 10)
    assert acvim.WIDEST_HEIGHT_GAP.value == 10


@pytest.mark.parametrize(
    ("window", "weeks"),
    [
        (acvim.REPEAT_PREHYPERTENSIVE, (4, 8)),
        (acvim.REPEAT_HYPERTENSIVE, (4, 8)),
        (acvim.REPEAT_SEVERE, (1, 2)),
        (acvim.RECHECK_PREHYPERTENSIVE_WITH_DAMAGE, (1, 2)),
    ],
)
def test_windows_are_the_weeks_of_the_statement(window, weeks):
    """Repeat within 4-8 weeks, or 1-2 weeks at 180 mmHg and over; recheck of a prehypertensive with damage 1-2 weeks.

    Oracle: from memory, ACVIM 2018; 1-2 weeks at 180 and over published in the WSAVA 2018 proceedings, p. 382. Exact.
    """
    assert window.days == (7.0 * weeks[0], 7.0 * weeks[1])


def test_severe_pressure_with_damage_is_rechecked_in_24_to_72_hours():
    """One to three days.

    Oracle: from memory, ACVIM 2018. Exact.
    """
    assert acvim.RECHECK_SEVERE_WITH_DAMAGE.days == (24 / 24, 72 / 24)


def test_numbers_recalled_from_the_statement_say_so():
    """Every number whose source is the statement itself keeps the standing `from memory`.

    Oracle: by construction, the print was not at hand.
    """
    cited = [value for value in vars(acvim).values() if isinstance(value, acvim.Cited)]
    recalled = [value for value in cited if value.source == acvim.SOURCE]
    assert len(recalled) >= 10
    assert {value.standing for value in recalled} == {"from memory"}
