"""The picture of a session holds the numbers of the charted pressure, and draws in every case."""

from __future__ import annotations

import re
from dataclasses import replace

import altair
import numpy as np
import pytest

from figures.examples import CAT, charted, interpretation, uncharted
from figures.specs import rows
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.interpretation.interpretation import Interpretation
from quietlimb.engine.session.charted import ChartedPressure
from quietlimb.engine.values import TWO_SIDED_95
from quietlimb.figures.export import svg
from quietlimb.figures.invented import INVENTED_WORDS
from quietlimb.figures.session import LARGEST_DOT, SMALLEST_SHARE, session_figure


def test_dots_are_the_readings_given() -> None:
    """Minutes, systolic values and weights stand in the specification unchanged, the discarded third as discarded.

    Oracle: by construction; equality.
    """
    given = charted(6)
    drawn = sorted(
        (r for r in rows(session_figure(given, None), "minute", "weight") if r["value"] == "systolic"),
        key=lambda row: row["reading"],
    )
    assert [row["minute"] for row in drawn] == given.series.minute.tolist()
    assert [row["mmhg"] for row in drawn] == given.series.systolic.tolist()
    assert [row["weight"] for row in drawn] == [judged.systolic_weight for judged in given.readings]
    assert [row["verdict"] == "discard" for row in drawn] == [k == 2 for k in range(6)]


def test_dot_area_is_proportional_to_weight() -> None:
    """Area over weight is one constant, except for weights so small that the dot would vanish.

    Oracle: by construction.
    """
    for row in rows(session_figure(charted(6), None), "area"):
        if row["value"] == "systolic":
            assert row["area"] == pytest.approx(LARGEST_DOT * max(SMALLEST_SHARE, row["weight"]), rel=1e-12)


def test_whiskers_are_the_own_part_and_absent_where_unknown() -> None:
    """A reading whose own standard deviation is 3.2 reaches 1.96 times as far; a typed one has no whisker.

    Oracle: by construction: the 97.5 % point of the normal law to three digits. Tolerance: rounding.
    """
    known = [r for r in rows(session_figure(charted(6), None), "area") if r["value"] == "systolic"]
    assert [row["high"] - row["mmhg"] for row in known] == pytest.approx([TWO_SIDED_95 * 3.2] * 6)
    typed = rows(session_figure(charted(6, only_systolic=True), None), "area")
    assert all(row["low"] == row["mmhg"] == row["high"] for row in typed)


def test_band_line_and_tick_are_the_values_given() -> None:
    """The charted interval, value and guideline average are drawn where they are.

    Oracle: by construction; equality.
    """
    given = charted(6)
    assert given.systolic is not None
    assert given.guideline is not None
    spec = session_figure(given, interpretation())
    band = next(r for r in rows(spec, "value", "low", "high") if r["value"] == "systolic" and "reading" not in r)
    assert (band["mmhg"], band["low"], band["high"]) == (given.systolic.value, given.systolic.low, given.systolic.high)
    assert [row["mmhg"] for row in rows(spec, "rule")] == [given.guideline.systolic]


def test_boundaries_come_from_the_interpretation() -> None:
    """140, 160 and 180 are hairlines with the four names beside them; without an interpretation there are none.

    Oracle: by construction.
    """
    spec = session_figure(charted(6), interpretation())
    assert sorted(row["boundary"] for row in rows(spec, "boundary")) == [140.0, 160.0, 180.0]
    assert [row["name"] for row in rows(spec, "depth")] == [c.name for c in interpretation().today]
    assert rows(session_figure(charted(6), None), "boundary") == []


def test_a_first_category_that_starts_at_zero_does_not_stretch_the_axis() -> None:
    """Whether the lowest category starts at 0 or nowhere, the axis stays near the readings.

    Oracle: by construction.
    """
    told = interpretation()
    zero = replace(told, today=(replace(told.today[0], from_mmhg=0.0), *told.today[1:]))
    assert session_figure(charted(6), zero) == session_figure(charted(6), told)


def test_near_a_boundary_a_decimal_is_shown() -> None:
    """148.4 is told as 148, but as 148.4 where a boundary lies at 150.

    Oracle: by construction.
    """
    told = interpretation()
    near = replace(told, today=(told.today[0], replace(told.today[1], from_mmhg=150.0), *told.today[2:]))
    assert "charted 148.4" in svg(session_figure(charted(6), near))
    assert "systolic 148.4 (142.1 to 154.7) mmHg" in svg(session_figure(charted(6), near))
    assert re.search(r"charted 148<", svg(session_figure(charted(6), interpretation())))


@pytest.mark.parametrize("width", [340, 390, 560, 900])
def test_the_picture_is_as_wide_as_asked(width: int) -> None:
    """The SVG has exactly the width asked for, so that it fits a phone of 390 px.

    Oracle: by construction; equality.
    """
    drawn = svg(session_figure(charted(10), interpretation(), width=width))
    found = re.search(r'<svg[^>]* width="([\d.]+)"', drawn)
    assert found is not None
    assert float(found[1]) == width


def readings_without_values() -> ChartedPressure:
    """Every reading without any value."""
    nothing = uncharted()
    empty = np.full(3, np.nan)
    return replace(nothing, series=replace(nothing.series, systolic=empty, mean=empty, diastolic=empty))


@pytest.mark.parametrize(
    ("given", "told"),
    [
        (charted(1), interpretation()),
        (charted(40), interpretation()),
        (charted(6, only_systolic=True), None),
        (uncharted(), interpretation(category=None)),
        (readings_without_values(), None),
    ],
)
def test_it_draws_in_every_case(given: ChartedPressure, told: Interpretation | None) -> None:
    """One reading, forty, systolic alone, nothing charted, no values at all: a valid picture with its headline.

    Oracle: by construction; validated against the Vega-Lite schema by altair 6.
    """
    spec = session_figure(given, told)
    altair.Chart.from_dict(spec, validate=True)
    words = "no pressure could be charted" if np.isfinite(given.series.systolic).any() else "no pressure obtained"
    assert (words in svg(spec)) is (given.systolic is None)


@pytest.mark.parametrize("told", [None, interpretation(category=None)])
def test_without_a_value_the_picture_is_whole(told: Interpretation | None) -> None:
    """No reading gave a value and no category is told: full width, the words in full, the limits, a cross for each.

    Oracle: by construction: 3 readings without a value; the limits are those of the rule set, 140, 160 and 180.
    """
    given = readings_without_values()
    simulated = replace(given.series, circumstances=replace(CAT, instrument="simulator"))
    nothing = None if told is None else replace(told, today=(), animal=())
    spec = session_figure(replace(given, series=simulated), nothing)
    drawn = svg(spec)
    size = re.search(r'<svg[^>]* width="([\d.]+)" height="([\d.]+)"', drawn)
    assert size is not None
    assert float(size[1]) == 560
    assert float(size[2]) > 300
    for words in (INVENTED_WORDS, "no pressure obtained", "none of the 3 readings gave a value", "× no value"):
        assert words in drawn
    assert "larger dots" not in drawn
    assert sorted(row["boundary"] for row in rows(spec, "boundary")) == ([] if told is None else [140.0, 160.0, 180.0])
    assert [row["minute"] for row in rows(spec, "without_value")] == given.series.minute.tolist()


def test_a_reading_without_a_value_is_a_cross_on_the_time_axis() -> None:
    """The third of six readings has no pressure: one cross at its minute, none without such a reading.

    Oracle: by construction.
    """
    given = charted(6)
    holed = {name: getattr(given.series, name).copy() for name in ("systolic", "mean", "diastolic")}
    for column in holed.values():
        column[2] = np.nan
    spec = session_figure(replace(given, series=replace(given.series, **holed)), None)
    crosses = rows(spec, "without_value")
    assert [(row["without_value"], row["minute"]) for row in crosses] == [(3, given.series.minute[2])]
    assert "× no value" in svg(spec)
    assert "1 without a value" in spec["description"]
    whole = session_figure(given, None)
    assert rows(whole, "without_value") == []
    assert "no value" not in svg(whole)


def test_the_categories_say_of_which_pressure_they_are() -> None:
    """Mean and diastolic dots stand beside the categories, so these are headed `systolic`.

    Oracle: by construction.
    """
    assert [row["of"] for row in rows(session_figure(charted(6), interpretation()), "of")] == ["systolic"]
    assert rows(session_figure(charted(6), None), "of") == []


def test_invented_data_say_so() -> None:
    """A session of a simulated animal carries the words, that of a patient does not; too narrow is refused.

    Oracle: by construction.
    """
    invented = charted(6, circumstances=replace(CAT, animal="Simulated cat 3"))
    assert INVENTED_WORDS in svg(session_figure(invented, None, title="anything"))
    assert INVENTED_WORDS not in svg(session_figure(charted(6), None))
    with pytest.raises(ParameterError) as caught:
        session_figure(charted(6), None, width=200)
    assert caught.value.code == "too-narrow"
