"""The effect of the place in one animal."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import integrate, stats

from engine.session.examples import MOVED, series_of
from quietlimb.engine.circumstances import Place
from quietlimb.engine.errors import SeriesError
from quietlimb.engine.session.charted import ChartedPressure
from quietlimb.engine.session.charting import chart
from quietlimb.engine.session.place import PAIR_TO_PAIR_SD, PlacePair, place_effect
from quietlimb.engine.standards.cuff_width import OTHER_CUFF_SD
from quietlimb.engine.values import Estimate


def charted(place: Place | None, value: float, sd: float = 3.0, **told: str) -> ChartedPressure:
    """A chart with a systolic pressure as given."""
    series = series_of([value] * 6)
    return replace(
        chart(series),
        series=replace(series, circumstances=replace(series.circumstances, place=place, **told)),  # type: ignore[arg-type]
        systolic=Estimate(value=value, low=value - 1.96 * sd, high=value + 1.96 * sd, own_sd=sd, shared_sd=8.0),
    )


def pair(first: float, second: float, *, same_session: bool = True, sd: float = 3.0) -> PlacePair:
    return PlacePair(
        first=charted("carrier", first, sd), second=charted("consulting-room", second, sd), same_session=same_session
    )


def test_effect_agrees_with_direct_integration() -> None:
    """Value and interval are those of the posterior with the pair-to-pair scatter integrated out.

    Oracle: reference library, scipy.integrate and scipy.stats. Tolerance: 0.1 mmHg, of 60 values of the scatter.
    """
    found = place_effect([pair(140.0, 152.0), pair(138.0, 144.0), pair(145.0, 161.0)])
    difference, variance = np.array([12.0, 6.0, 16.0]), 18.0

    def density(effect: float) -> float:
        return integrate.quad(
            lambda tau: (
                np.exp(-0.5 * (tau / PAIR_TO_PAIR_SD) ** 2)
                * np.prod(stats.norm.pdf(difference, effect, np.sqrt(variance + tau**2)))
            ),
            0.0,
            60.0,
        )[0]

    grid = np.linspace(-40.0, 60.0, 1001)
    below = np.cumsum([density(each) for each in grid])
    low, middle, high = np.interp([0.025, 0.5, 0.975], below / below[-1], grid)
    assert found.effect.value == pytest.approx(middle, abs=0.1)
    assert (found.effect.low, found.effect.high) == pytest.approx((low, high), abs=0.1)


def test_covers_what_was_put_in() -> None:
    """Over simulated animals the interval of the effect holds the truth as often as it says, and that of a further pair
    holds the next difference.

    Oracle: by construction, 400 animals of three pairs, the scatter drawn from its prior. Tolerance: 3.5 points, three
    Monte Carlo errors.
    """
    rng = np.random.default_rng(12)
    held = np.zeros((400, 2), dtype=bool)
    for k in range(400):
        effect, between = rng.uniform(-20.0, 40.0), abs(rng.normal(0.0, PAIR_TO_PAIR_SD))
        difference = effect + between * rng.normal(size=4)
        measured = difference[:3] + np.sqrt(18.0) * rng.normal(size=3)
        found = place_effect([pair(140.0 + k, 140.0 + k + each) for k, each in enumerate(measured)])
        held[k, 0] = found.effect.low <= effect <= found.effect.high
        held[k, 1] = found.next_pair[0] <= difference[3] <= found.next_pair[1]
    assert held.mean(axis=0) == pytest.approx([0.95, 0.95], abs=0.035)


def test_days_between_widen_and_shared_part_drops_out() -> None:
    """Two days apart carry the day-to-day part twice; what one cuff shares is in neither, another cuff brings it in.

    Oracle: by construction, order of the widths.
    """
    same, apart = (place_effect([pair(140.0, 155.0, same_session=s)]).effect for s in (True, False))
    assert apart.high - apart.low > 1.2 * (same.high - same.low)
    other = PlacePair(
        first=charted("carrier", 140.0, cuff="3"), second=charted("consulting-room", 155.0, cuff="4"), same_session=True
    )
    found = place_effect([other])
    assert found.effect.high - found.effect.low > 1.1 * (same.high - same.low)
    assert found.confounded_by == ("cuff",)
    assert found.order_confounded


@pytest.mark.parametrize(
    ("first", "second", "allowed"),
    [
        ({"cuff": "3"}, {"cuff": "4"}, OTHER_CUFF_SD.value),
        ({"cuff": "3"}, {"cuff": "3"}, 0.0),
        ({"cuff": "3"}, {}, 0.0),
        ({"cuff_width_cm": 3.0}, {"cuff_width_cm": 4.0}, OTHER_CUFF_SD.value),
        # both fit the limb: 3.0 and 3.5 cm on 10 cm
        (
            {"cuff_width_cm": 3.0, "limb_circumference_cm": 10.0},
            {"cuff_width_cm": 3.5, "limb_circumference_cm": 10.0},
            0.0,
        ),
        (
            {"cuff_width_cm": 3.0, "limb_circumference_cm": 10.0},
            {"cuff_width_cm": 4.5, "limb_circumference_cm": 10.0},
            OTHER_CUFF_SD.value,
        ),
    ],
)
def test_another_cuff_widens_typed_sessions_too(first, second, allowed: float) -> None:
    """A display tells no shared part: another cuff then counts as between sessions, by how its width fits.

    Oracle: by construction: the same pair by one cuff, with the own variances larger by what is allowed.
    """
    own = 3.0

    def typed(place: Place, value: float, sd: float, told: dict) -> ChartedPressure:
        made = charted(place, value, sd, **told)
        assert made.systolic is not None
        return replace(made, systolic=replace(made.systolic, shared_sd=None))

    def effect(sd: float, here: dict, there: dict) -> Estimate:
        couple = (typed("carrier", 140.0, sd, here), typed("consulting-room", 155.0, sd, there))
        return place_effect([PlacePair(first=couple[0], second=couple[1], same_session=True)]).effect

    found = effect(own, first, second)
    expected = effect(np.sqrt(own**2 + allowed**2 / 2.0), {}, {})
    assert (found.low, found.high) == pytest.approx((expected.low, expected.high), abs=1e-9)


def test_exchanging_the_places_turns_the_sign() -> None:
    """Second minus first: exchanged, the effect is its negative. Oracle: by construction. Tolerance: rounding."""
    forth = place_effect([pair(140.0, 155.0)])
    back = place_effect([PlacePair(first=p.second, second=p.first, same_session=True) for p in [pair(140.0, 155.0)]])
    assert back.effect.value == pytest.approx(-forth.effect.value, abs=1e-9)
    assert back.probability_higher == pytest.approx(1.0 - forth.probability_higher, abs=1e-12)
    assert forth.probability_higher > 0.75


def test_only_like_is_compared_with_like() -> None:
    """Another method, the same place twice, an unknown place and a missing pressure are refused. Oracle: published rule
    (never mix methods or sites)."""
    here = charted("carrier", 140.0)
    nothing = chart(series_of([150.0], findings={0: MOVED}))
    nothing = replace(nothing, series=replace(nothing.series, circumstances=charted("home", 1e2).series.circumstances))
    for other in (
        charted("home", 150.0, method="doppler"),
        charted("home", 150.0, site="tail"),
        charted("carrier", 150.0),
        charted(None, 150.0),
        nothing,
    ):
        with pytest.raises(SeriesError):
            place_effect([PlacePair(first=here, second=other, same_session=True)])
    with pytest.raises(SeriesError):
        place_effect([])
