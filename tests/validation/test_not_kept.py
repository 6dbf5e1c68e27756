"""The table of reasons counts what readings carry."""

from __future__ import annotations

import numpy as np
from not_kept import Outcome, outcomes, row


def test_a_row_tells_share_scenarios_errors_and_cover() -> None:
    """Of four recordings two were doubted, one of them without an oscillogram; the other's errors are 3, 4 and -6 mmHg.

    Oracle: by construction; half widths of 5 mmHg hold the first two. Tolerance: none.
    """
    seen = Outcome(why="x", scenario="purring", error=np.array([3.0, 4.0, -6.0]), half=np.full(3, 5.0))
    blind = Outcome(why="x", scenario="ectopic", error=np.full(3, np.nan), half=np.full(3, np.nan))
    told = row("weak", [seen, blind], 4).split()
    assert told == ["2", "50.00", "0", "1", "0", "1", "3.0", "4.0", "6.0", "100", "100", "0", "weak"]
    assert row("few", [blind], 4).split() == ["1", "25.00", "0", "1", "0", "0", "few"]


def test_kept_recordings_have_no_reason() -> None:
    """Of eight mildly disturbed recordings most are kept, and a kept one has values.

    Oracle: by construction; 19 of 20 such recordings are kept, so five of eight all but always.
    """
    kept = [outcome for outcome in outcomes(range(22719101, 22719109)) if not outcome.why]
    assert len(kept) >= 5
    assert all(np.isfinite(outcome.error).all() for outcome in kept)
