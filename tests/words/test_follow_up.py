"""Every code of the months has its words, and none names a drug, a dose or somebody at fault."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import get_args

import numpy as np
import pytest

from quietlimb.engine.follow_up.change import Change, ChangeVerdict, HighDay
from quietlimb.engine.follow_up.comparability import BREAKING, CONVERTED, MARKED, NOT_TOLD, Offset, Stretch
from quietlimb.engine.follow_up.follow import CAUTION_CODES, UntoldStep
from quietlimb.engine.follow_up.history import TreatmentStep
from quietlimb.engine.follow_up.mixture import NormalMixture
from quietlimb.engine.follow_up.recheck import DueState, Recheck, RuleCode
from quietlimb.engine.follow_up.target import target_probabilities
from quietlimb.engine.standards.acvim_2018 import SEVERELY_HYPERTENSIVE_FROM
from quietlimb.engine.standards.rule_sets import RULE_SETS
from quietlimb.engine.standards.screening import AT_RISK_CAT, YEARLY
from quietlimb.engine.values import Estimate
from quietlimb.words import follow_up as words
from words.test_no_doses import objections

DAY = date(2031, 3, 3).toordinal()
ESTIMATE = Estimate(value=170.0, low=160.0, high=180.0, own_sd=5.0, shared_sd=0.0)


def a_recheck(rule: RuleCode = "raised", state: DueState = "due", worth: int | None = None, late: int = 0) -> Recheck:
    """From 3 to 17 March 2031."""
    return Recheck(
        rule=rule,
        since_day=DAY - 28,
        earliest_day=DAY,
        latest_day=DAY + 14,
        worth_day=worth,
        window=AT_RISK_CAT,
        damaged_days=(DAY - 21, DAY - 14),
        stands_in=False,
        state=state,
        overdue_days=late,
    )


def a_change(verdict: ChangeVerdict) -> Change:
    """By 10 mmHg."""
    return Change(
        from_day=DAY, to_day=DAY + 9, by_mmhg=10.0, change=ESTIMATE, fell=0.1, rose=0.1, same=0.8, certainty=0.9,
        verdict=verdict,
    )  # fmt: skip


def a_high_day(above: float) -> HighDay:
    """A session so far above the level."""
    return HighDay(day=DAY, charted_mmhg=170.0 + above, level=ESTIMATE, above_mmhg=above, high=above >= 5.0)


def a_stretch(*offsets: Offset, untold: tuple[str, ...] = ("place",)) -> Stretch:
    """One session with these offsets among usual ones at home, the others not told of."""
    usual = {name: "home" if name == "place" else "usual" for name in MARKED}
    return Stretch(sessions=(), measured=(None, None, None), usual=usual, untold=untold, offsets=((), offsets))


def every_sentence() -> list[str]:
    """Each code of the engine in words; a code without words raises."""
    level = NormalMixture(weight=np.ones(1), mean=np.array([150.0]), sd=np.array([9.0]))
    offsets = [Offset(circumstance=name, value="other", mean_mmhg=0.0, sd_mmhg=5.0) for name in MARKED]
    offsets += [Offset(circumstance=name, value=NOT_TOLD, mean_mmhg=0.0, sd_mmhg=5.0) for name in BREAKING]
    return [
        *map(words.caution, CAUTION_CODES),
        *map(words.rule_name, get_args(RuleCode)),
        *map(words.step_name, get_args(TreatmentStep)),
        *(words.verdict(a_change(verdict)) for verdict in get_args(ChangeVerdict)),
        *(words.target_name(each) for rules in RULE_SETS.values() for each in target_probabilities(level, rules)),
        *map(words.difference, offsets),
        *words.difference_sentences(a_stretch(*offsets)),
        *(words.recheck_sentence(a_recheck(state=state, late=12)) for state in get_args(DueState)),
        *(words.worth_sentence(a_recheck(worth=DAY + late)) or "" for late in (0, 7, 14)),
        *(words.high_day_sentence(a_high_day(above)) for above in (8.0, -3.0)),
        words.untold_step_sentence(UntoldStep(from_day=DAY, to_day=DAY + 30, probability=0.8)),
        words.recheck_source(a_recheck()),
    ]


def test_every_code_has_words_without_drug_dose_or_blame() -> None:
    """All codes of the engine are in the tables, and no sentence is objected to.

    Oracle: by construction, the engine's own lists; the project's promise.
    """
    told = every_sentence()
    assert all(told)
    assert {sentence: objections(sentence) for sentence in told if objections(sentence)} == {}
    assert set(words.CAUTIONS) == set(CAUTION_CODES)
    assert set(words.RULES) == set(get_args(RuleCode))


def test_what_is_allowed_for_is_told_once_for_each_circumstance() -> None:
    """The usual value of what differs, each standard deviation once, who does not tell, and conversions apart.

    Oracle: by construction.
    """
    elsewhere = [
        Offset(circumstance="place", value=v, mean_mmhg=0.0, sd_mmhg=15.0) for v in ("carrier", "hospital-cage")
    ]
    untold = Offset(circumstance="site", value=NOT_TOLD, mean_mmhg=0.0, sd_mmhg=8.0)
    carried = Offset(circumstance=CONVERTED, value="with method doppler", mean_mmhg=4.0, sd_mmhg=6.0)
    usual, allowed, converted = words.difference_sentences(a_stretch(*elsewhere, untold, carried, untold=()))
    assert usual == "The level is that of the usual sessions here: place home."
    assert "of standard deviation: place 15 mmHg, site not told 8 mmHg (our own choice)." in allowed
    assert "6 mmHg" in converted
    assert words.difference_sentences(a_stretch(untold=())) == []
    (last,) = words.difference_sentences(a_stretch())
    assert last.endswith("taken for usual ones: place.")


@pytest.mark.parametrize(
    ("found", "expected"),
    [
        (
            words.recheck_sentence(a_recheck()),
            "Next session 3 March 2031 to 17 March 2031: raised pressure, to be confirmed; due.",
        ),
        (words.state_name(a_recheck(state="overdue", late=1)), "overdue by 1 day"),
        (words.state_name(a_recheck(state="overdue", late=12)), "overdue by 12 days"),
        (words.verdict(a_change("fell")), "fell by more than 10"),
        (words.difference(Offset(circumstance="read_by", value="b", mean_mmhg=0.0, sd_mmhg=5.0)), "person b"),
        (words.difference(Offset(circumstance=CONVERTED, value="x", mean_mmhg=4.0, sd_mmhg=5.0)), "converted by -4"),
        (words.difference(Offset(circumstance="site", value=NOT_TOLD, mean_mmhg=0.0, sd_mmhg=5.0)), "site not told"),
        (words.recheck_source(a_recheck()), "(ISFM 2017, from memory: not checked against the print)"),
    ],
)  # fmt: skip
def test_sentences_read_as_written(found: str, expected: str) -> None:
    """Word for word.

    Oracle: by construction.
    """
    assert found == expected


def test_the_day_worth_a_session_is_told_in_three_ways() -> None:
    """From the first day on, from a day within, or not at all; nothing where it was not worked out.

    Oracle: by construction.
    """
    assert "first day on" in (words.worth_sentence(a_recheck(worth=DAY)) or "")
    assert "10 March 2031" in (words.worth_sentence(a_recheck(worth=DAY + 7)) or "")
    assert "less than a fifth" in (words.worth_sentence(a_recheck(worth=DAY + 14)) or "")
    assert words.worth_sentence(a_recheck(worth=None)) is None


def test_a_first_day_of_our_own_is_not_lent_the_name_of_the_text():
    """Once a year is printed, a month before that is not.

    Oracle: by construction, the standings beside the two days.
    """
    found = words.recheck_source(replace(a_recheck(), window=YEARLY))
    assert found == "(ACVIM 2018, from memory: not checked against the print; the first day is our own choice)"


def test_an_urgent_recheck_is_not_put_off() -> None:
    """Within a window of three days nothing is said of a better day.

    Oracle: by construction.
    """
    assert words.worth_sentence(replace(a_recheck(worth=DAY + 3), latest_day=DAY + 3)) is None


def test_an_urgent_caution_names_its_limit_and_is_told_to_who_reads_it() -> None:
    """The source of the figure stands behind the sentence for everybody; only the veterinarian is not told to call or
    fetch one. All other cautions are the same for both.

    Oracle: by construction.
    """
    limit = SEVERELY_HYPERTENSIVE_FROM
    for code in CAUTION_CODES:
        anyone, hers = words.caution(code, limit), words.caution(code, limit, to="veterinarian")
        assert anyone.endswith(words.source_and_standing(limit.source, limit.standing))
        assert hers.endswith(words.source_and_standing(limit.source, limit.standing))
        assert (anyone != hers) == (code in words.TO_THE_VETERINARIAN)
    for code in words.TO_THE_VETERINARIAN:
        assert "veterinarian" not in words.caution(code, to="veterinarian")
        assert "veterinarian" in words.caution(code)
