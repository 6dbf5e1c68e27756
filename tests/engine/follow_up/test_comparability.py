"""Which sessions are compared, which are marked, which stay apart."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from engine.follow_up.examples import course, history, session
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.follow_up.comparability import MARKED, compare_sessions
from quietlimb.engine.follow_up.history import Shift


def two(**around: Any):
    """The comparison of a usual session and, a month later, two of another kind."""
    return compare_sessions(history([(0, 150.0), session(30, 151.0, **around), session(60, 152.0, **around)]))


@pytest.mark.parametrize(
    ("around", "name"),
    [({"method": "doppler"}, "method"), ({"instrument": "display 2"}, "instrument"), ({"site": "tail"}, "site")],
)
def test_method_instrument_and_site_break_the_history(around: dict[str, Any], name: str) -> None:
    """Sessions that differ in one of them are never pooled, and the break tells in which.

    Oracle: published guidance as collected in the facts on comparing sessions; by construction.
    """
    found = two(**around)
    assert [len(each.sessions) for each in found.stretches] == [1, 2]
    assert found.breaks == (name,)


@pytest.mark.parametrize("name", MARKED)
def test_place_position_cuff_and_person_are_marked_and_widen(name: str) -> None:
    """Sessions that differ in one of them stay in the stretch, share one offset, and the level is less certain.

    Oracle: by construction.
    """
    usual = {"place": "home", "position": "standing", "cuff": "2", "read_by": "B"}
    other = {"place": "carrier", "position": "sitting", "cuff": "3", "read_by": "C"}
    both = [session(k, 150.0, **{name: usual[name]}) for k in (0, 30, 60)]
    differing = [session(k, 150.0, **{name: other[name]}) for k in (90, 120)]
    (found,) = compare_sessions(history([*both, *differing])).stretches
    assert [len(each) for each in found.offsets] == [0, 0, 0, 1, 1]
    assert found.offsets[3] == found.offsets[4]
    assert found.offsets[3][0].circumstance == name
    alike = [session(k, 150.0, **{name: usual[name]}) for k in (90, 120)]
    wide, narrow = (course([*both, *last]).level(120).estimate() for last in (differing, alike))
    assert wide.high - wide.low > narrow.high - narrow.low


@pytest.mark.parametrize(
    ("cuffs", "marked"),
    [
        # the small one at 35 %, the next at 36 %: both fit
        ([{"cuff": "small", "width": 3.5}, {"cuff": "next", "width": 3.6}], []),
        ([{"cuff": "small", "width": 3.5}, {"cuff": "small", "width": 3.5}, {"cuff": "next", "width": 4.5}], ["wide"]),
        ([{"width": 3.5}, {"width": 3.5}, {"width": 2.8}], ["narrow"]),
        # one of them does not tell its width, so the names count
        ([{"cuff": "small", "width": 3.5}, {"cuff": "small"}, {"cuff": "next", "width": 3.6}], ["next"]),
        ([{"width": 3.5}, {}, {"width": 4.5}, {"width": 3.5}], ["wide"]),
        # without the limb the widths themselves count, whatever the cuffs are called
        ([{"width": 3.5, "limb": None}, {"width": 3.5, "limb": None}, {"width": 4, "limb": None}], ["4 cm wide"]),
        ([{"cuff": "a", "width": 3, "limb": None}, {"cuff": "A", "width": 4, "limb": None}], ["3 cm wide"]),
        ([{"cuff": "a", "width": 3, "limb": None}, {"cuff": "a"}, {"width": 4, "limb": None}], ["4 cm wide"]),
    ],
)
def test_cuffs_are_compared_by_the_class_of_their_width(cuffs: list[dict[str, Any]], marked: list[str]) -> None:
    """Two cuffs that both fit are no difference, a wide one is; names count where a width is missing.

    Oracle: the facts on comparing sessions, derived there: a difference in cuff width class is marked; 30 to 40 % fits,
    from memory, ACVIM 2018.
    """
    sessions = [
        session(
            30 * k,
            150.0,
            cuff=each.get("cuff"),
            cuff_width_cm=each.get("width"),
            limb_circumference_cm=each.get("limb", 10.0) if "width" in each else None,
        )
        for k, each in enumerate(cuffs)
    ]
    (found,) = compare_sessions(history(sessions)).stretches
    assert [offset.value for each in found.offsets for offset in each] == marked


def test_a_place_that_is_not_told_among_several_is_named() -> None:
    """It counts as usual, and which circumstance that is about is told; among one place there is nothing to tell.

    Oracle: by construction.
    """
    sessions = [session(0, 150.0, place="home"), session(30, 150.0), session(60, 150.0, place="home")]
    (found,) = compare_sessions(history(sessions)).stretches
    assert (found.untold, found.offsets) == ((), ((), (), ()))
    (found,) = compare_sessions(history([*sessions, session(90, 150.0, place="carrier")])).stretches
    assert found.untold == ("place",)
    assert [len(each) for each in found.offsets] == [0, 0, 0, 1]


def test_upper_case_and_blanks_are_no_difference() -> None:
    """`Display  1` is `display 1`.

    Oracle: by construction.
    """
    assert len(two(instrument=" Display  1").stretches) == 1


def test_a_session_under_sedation_stays_out() -> None:
    """It is in no stretch and in the list of those left out.

    Oracle: published guidance as collected in the facts; by construction.
    """
    found = compare_sessions(history([(0, 150.0), session(30, 110.0, sedation="sedated"), (60, 152.0)]))
    assert [each.day for each in found.left_out] == [30]
    assert [each.day for each in found.stretches[0].sessions] == [0, 60]


def test_what_is_not_told_is_taken_for_the_only_thing_told_and_marked() -> None:
    """An instrument that one session does not tell is the one that the others tell, with an offset for the doubt.

    Oracle: by construction.
    """
    (found,) = two(instrument=None).stretches
    assert [[offset.value for offset in each] for each in found.offsets] == [[], ["not told"], ["not told"]]


def test_what_is_not_told_among_several_stands_apart() -> None:
    """With two instruments told, a session that tells none belongs to neither.

    Oracle: by construction.
    """
    found = compare_sessions(
        history([(0, 150.0), session(30, 151.0, instrument="display 2"), session(60, 150.0, instrument=None)])
    )
    assert [each.measured[1] for each in found.stretches] == ["display 1", "display 2", None]


def converted(day: int, systolic: float, add: float, **around: Any):
    """A session with a conversion of +-5 mmHg."""
    return replace(session(day, systolic, **around), conversion=Shift(add_mmhg=add, sd_mmhg=5.0))


def test_a_conversion_joins_and_shifts() -> None:
    """A Doppler session converted by -10 counts as one 10 mmHg lower, less surely than one measured alike.

    Oracle: by construction, the same history with the shifted value and no conversion.
    Tolerance: 2 mmHg, because the converted session counts for less and the prior for more.
    """
    joined = course([converted(0, 170.0, -10.0, method="doppler"), (30, 158.0)])
    alike = course([(0, 160.0), (30, 158.0)])
    assert len(joined.stretch.sessions) == 2
    assert joined.level(0).spread() > alike.level(0).spread()
    assert joined.level(0).estimate().value == pytest.approx(alike.level(0).estimate().value, abs=2.0)


def test_sessions_with_one_conversion_share_its_error() -> None:
    """Ten sessions with a conversion of +-5 mmHg leave the present level no surer than about 5 mmHg.

    Oracle: by construction, the error of a shared offset does not average out. Tolerance: none, an inequality.
    """
    many = [converted(day, 160.0, 0.0, method="doppler") for day in range(0, 300, 30)]
    shared = course([*many, (300, 160.0)])
    alike = course([(day, 160.0) for day in range(0, 330, 30)])
    assert shared.level(300).spread() > 1.15 * alike.level(300).spread()


@pytest.mark.parametrize(
    ("sessions", "code"),
    [
        ([converted(0, 150.0, 1.0)], "nothing-to-convert-to"),
        ([converted(0, 150.0, 1.0), (30, 150.0)], "conversion-not-needed"),
        (
            [converted(0, 150.0, 1.0, site="tail"), converted(9, 150.0, 2.0, site="tail"), (30, 150.0)],
            "conversions-differ",
        ),
    ],
)
def test_conversions_that_make_no_sense_are_refused(sessions: list[Any], code: str) -> None:
    """Each with its own code.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError) as caught:
        compare_sessions(history(sessions))
    assert caught.value.code == code


def test_the_latest_session_decides_which_stretch_is_the_present() -> None:
    """Two instruments in turn give two stretches, the one last used at the end.

    Oracle: by construction.
    """
    sessions = [session(30 * k, 150.0, instrument=f"display {1 + k % 2}") for k in range(5)]
    found = compare_sessions(history(sessions))
    assert [each.measured[1] for each in found.stretches] == ["display 2", "display 1"]


def test_an_instrument_is_shown_as_it_was_spelt() -> None:
    """Spellings that differ in case are one instrument, shown as the latest session has it.

    Oracle: by construction.
    """
    told = history([session(0, 150.0, instrument="d1"), session(30, 150.0, instrument="D1")])
    (found,) = compare_sessions(told).stretches
    assert found.measured[1] == "d1"
    assert found.measured_as_told[1] == "D1"
