"""Whether the readings are enough."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from engine.session.examples import MOVED, series_of
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.session.charted import ChartedPressure
from quietlimb.engine.session.charting import chart
from quietlimb.engine.session.enough import Enough, enough
from quietlimb.engine.session.expected import (
    MOST_MORE,
    STILL_FALLS_FOR_MIN,
    TYPICAL_ERRORS,
    expected_half_widths,
)

QUIET = [151.0, 150.0, 149.0, 152.0, 150.0, 148.0, 151.0, 150.0, 149.0]
RESTLESS = [150.0, 171.0, 139.0, 165.0, 128.0, 158.0, 147.0]


def judged(charted: ChartedPressure, wanted_mmhg: float = 8.0) -> Enough:
    found = enough(charted, wanted_mmhg=wanted_mmhg)
    assert found is not None
    return found


def test_now_is_the_interval_of_the_chart() -> None:
    """The first of the half-widths is half of the charted interval. Oracle: by construction, the chart itself."""
    for systolic in (QUIET, RESTLESS, QUIET[:1]):
        charted = chart(series_of(systolic))
        assert charted.systolic is not None
        now = expected_half_widths(charted)[0]
        assert now == pytest.approx((charted.systolic.high - charted.systolic.low) / 2.0, abs=1e-9)


def test_more_readings_are_never_expected_to_widen() -> None:
    """Each further reading is expected to leave the interval as wide or narrower. Oracle: by construction."""
    for systolic in (QUIET[:3], RESTLESS, [150.0, 152.0, 199.0], [150.0]):
        widths = expected_half_widths(chart(series_of(systolic)))
        assert list(widths) == sorted(widths, reverse=True)
        assert len(widths) == 4
    now, *_, after_three = expected_half_widths(chart(series_of(QUIET[:3])))
    assert after_three < 0.95 * now


@pytest.mark.parametrize("systolic", [QUIET[:4], RESTLESS, [182.0, 171.0, 166.0]])
def test_expected_widths_are_those_of_the_longer_series_charted(systolic: list[float]) -> None:
    """What is thought out for readings to come is what `chart` says of the series with them, judged in full.

    Oracle: a slower twin, each longer series charted by itself. Tolerance: single precision of the densities.
    """
    charted = chart(series_of(systolic))
    outlook = charted.outlook
    assert outlook is not None
    minute = charted.series.minute
    ahead = float(np.median(np.diff(minute))) * np.arange(1.0, MOST_MORE + 1.0)
    falls = outlook.falling_mmhg_per_min * STILL_FALLS_FOR_MIN * (1.0 - np.exp(-ahead / STILL_FALLS_FOR_MIN))
    found = []
    for more in range(1, MOST_MORE + 1):
        widths = []
        for errors in TYPICAL_ERRORS:
            to_come = outlook.level_mmhg - falls + outlook.scatter_mmhg * errors
            longer = chart(
                series_of([*systolic, *to_come[:more].tolist()], minute=[*minute, *(minute[-1] + ahead[:more])])
            ).systolic
            assert longer is not None
            widths.append(0.5 * (longer.high - longer.low))
        found.append(float(np.mean(widths)))
    now, *expected = expected_half_widths(charted)
    np.testing.assert_allclose(expected, np.minimum.accumulate([now, *found])[1:], rtol=1e-4)


def test_shared_part_stays_in_the_expectation() -> None:
    """What all readings share, 9 mmHg, keeps every expected half-width above 1.96 x 9. Oracle: by construction."""
    series = replace(series_of(QUIET), systolic_sd=np.full(9, 3.0), systolic_shared_sd=np.full(9, 9.0))
    assert min(expected_half_widths(chart(series))) > 1.959 * 9.0
    found = judged(chart(series))
    assert found.more is None
    assert "more-will-not-do" in found.why
    assert found.shared_half_width_mmhg == pytest.approx(1.96 * 9.0, rel=1e-3)
    assert found.shared_part_leads
    assert not judged(chart(series_of(QUIET))).shared_part_leads


def test_quiet_series_of_nine_is_enough() -> None:
    """Nine readings within 4 mmHg of 150 are enough by numbers and by the protocol. Oracle: by construction."""
    found = judged(chart(series_of(QUIET)))
    assert found.by_numbers
    assert found.by_protocol
    assert found.more == 0
    assert found.why == ()
    assert found.category == "prehypertensive"


def test_protocol_is_never_passed_over_in_silence() -> None:
    """Numbers that are enough before the protocol's count say so, and still ask for the rest of the count.

    Oracle: by construction: four readings, of which the protocol keeps three of five; a width of 25 mmHg is wanted.
    """
    found = judged(chart(series_of([118.0, 117.0, 119.0, 118.0])), wanted_mmhg=25.0)
    assert found.by_numbers
    assert not found.by_protocol
    assert "fewer-than-the-protocol" in found.why
    assert found.more == 2


def test_told_category_excuses_the_width() -> None:
    """A wide interval far above every boundary has a category that is told, and the width asks for nothing.

    Oracle: by construction: readings about 240 mmHg.
    """
    found = judged(chart(series_of([value + 90.0 for value in RESTLESS])))
    assert found.half_width_mmhg > 8.0
    assert found.by_numbers
    assert found.boundary_mmhg is None
    assert found.why == ("category-told-though-wide",)


def test_boundary_on_the_pressure_cannot_be_told() -> None:
    """A pressure that lies on 160 is not read on for: no number of readings will tell its side.

    Oracle: by construction.
    """
    found = judged(chart(series_of([value + 10.0 for value in QUIET])))
    assert found.boundary_mmhg == 160.0
    assert "category-cannot-be-told" in found.why
    assert found.by_numbers
    assert found.more == 0


def test_falling_pressure_is_not_enough() -> None:
    """While the pressure still falls, narrow or not, one reading more is asked for. Oracle: published protocol."""
    charted = chart(series_of([190.0, 184.0, 177.0, 171.0, 166.0, 160.0, 154.0]))
    found = judged(charted, wanted_mmhg=30.0)
    assert "still-falling" in found.why
    assert not found.by_numbers
    assert found.more == 1


def test_a_spoiled_reading_does_not_count_for_the_protocol() -> None:
    """Five kept of which one lies far off: one more is asked for, not a new beginning; with it there is enough.

    Oracle: by construction, the protocol's five.
    """
    told = [152.0, 148.0, 205.0, 149.0, 150.0, 151.0]
    found = enough(chart(series_of(told)))
    assert found is not None
    assert (found.protocol_kept, found.more, found.why) == (4, 1, ("fewer-than-the-protocol",))
    more = enough(chart(series_of([*told, 150.0])))
    assert more is not None
    assert (more.protocol_kept, more.by_protocol) == (5, True)


def test_inconsistent_readings_are_told() -> None:
    """A spread over the protocol's limit is named beside the rest. Oracle: published rule, range over mean 26 %."""
    found = judged(chart(series_of(RESTLESS)))
    assert "not-consistent" in found.why
    assert not found.by_protocol


def test_nothing_charted_gives_nothing_and_a_width_must_be_one() -> None:
    """Without a pressure there is no advice; a width of 0 is refused. Oracle: by construction."""
    assert enough(chart(series_of([150.0], findings={0: MOVED}))) is None
    with pytest.raises(ParameterError):
        enough(chart(series_of(QUIET)), wanted_mmhg=0.0)


def test_same_series_same_answer() -> None:
    """The futures are the same each time. Oracle: by construction. Tolerance: exact."""
    assert expected_half_widths(chart(series_of(RESTLESS))) == expected_half_widths(chart(series_of(RESTLESS)))


@pytest.mark.parametrize("sedation", ["sedated", "anaesthetised"])
def test_no_category_excuses_the_width_of_a_sedated_animal(sedation: str) -> None:
    """Categories are those of awake animals: none is told, and the width stays too wide. Oracle: by construction."""
    series = series_of([80.0, 92.0, 70.0])
    asleep = replace(series, circumstances=replace(series.circumstances, sedation=sedation))  # type: ignore[arg-type]
    found = judged(chart(asleep))
    assert (found.category, found.category_probability, found.boundary_mmhg) == (None, 0.0, None)
    assert "interval-too-wide" in found.why
    assert not found.by_numbers
