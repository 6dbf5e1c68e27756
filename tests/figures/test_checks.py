"""Pictures of checks hold the numbers of the checks, and draw."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from figures.specs import rows
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.errors import ParameterError
from quietlimb.figures.checks import drift_figure, leak_figure, static_figure
from quietlimb.figures.export import svg
from quietlimb.figures.invented import INVENTED_WORDS
from quietlimb.instruments.checks import Reference, StaticPoints
from quietlimb.instruments.drift import DriftPoint, drift
from quietlimb.instruments.leak import fitted_holds, judged_holds
from quietlimb.instruments.limits import STATIC_LIMITS
from quietlimb.instruments.static import static_accuracy
from quietlimb.simulator.closed_cuff import ClosedCuff, record_closed_cuff

POINTS = StaticPoints(
    reference_mmhg=(0.0, 100.0, 250.0, 100.0),
    instrument_mmhg=(0.0, 101.0, 256.0, 103.0),
    direction=("up", "up", "up", "down"),
    reference=Reference(correction_mmhg=0.5),
)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_errors_at_rest_are_drawn_with_their_limit(theme: str):
    """Each point once, at the corrected reference; the automated limit widens with pressure; it draws.

    Oracle: by construction.
    """
    limit = STATIC_LIMITS["automated"]
    result = static_accuracy(POINTS, limit)
    spec = static_figure(POINTS, result, limit, title="dial", theme=theme)  # type: ignore[arg-type]
    drawn = {(row["mmhg"], row["error"], row["direction"]) for row in rows(spec, "error", "direction")}
    assert drawn == {(0.5, -0.5, "up"), (100.5, 0.5, "up"), (250.5, 5.5, "up"), (100.5, 2.5, "down")}
    edges = rows(spec, "edge")
    assert min(abs(row["edge"]) for row in edges) == 3.0
    assert max(row["edge"] for row in edges) == pytest.approx(0.02 * 255.5)
    assert "fails" in spec["description"]
    assert svg(spec).startswith("<svg")


def test_an_invented_leak_says_so_and_draws_fit_and_leak():
    """Measured means, the fit, the leak alone: its line falls by the rate.

    Oracle: by construction.
    """
    made = record_closed_cuff(5, ClosedCuff(leak_mmhg_per_min=2.0, settling_share=0.03, settling_s=8.0))
    holds = fitted_holds(made)
    spec = leak_figure(holds, judged_holds(holds), made.circumstances)
    assert spec["title"]["text"] == INVENTED_WORDS
    assert len(rows(spec, "s", "mmhg", "hold")) >= 2 * holds[0].time_s.size
    assert INVENTED_WORDS in svg(spec)
    with pytest.raises(ParameterError, match="no cuff was closed"):
        leak_figure((), judged_holds(()), Circumstances(species="cat"))


def test_drift_is_drawn_with_band_mean_and_limit():
    """Every check is a dot; of two checks there is neither band nor mean.

    Oracle: by construction.
    """
    limit = STATIC_LIMITS["non-automated"].most
    points = [
        DriftPoint(on=date(2028, 1, 10) + timedelta(days=182 * k), error_mmhg=e)
        for k, e in enumerate((0.1, 0.0, 0.2, 0.1, 0.0, 2.4))
    ]
    found = drift(points, limit)
    spec = drift_figure(found)
    assert len(rows(spec, "error")) == 6
    assert len(rows(spec, "ewma")) == 6
    assert {row["edge"] for row in rows(spec, "edge")} == {-3.0, 3.0}
    assert svg(spec).startswith("<svg")
    two = drift_figure(drift(points[:2], limit))
    assert not rows(two, "ewma")
    assert len(rows(two, "error")) == 2
    with pytest.raises(ParameterError, match="340 or more"):
        drift_figure(found, width=200)
