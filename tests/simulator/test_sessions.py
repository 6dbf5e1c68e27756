"""Simulated sessions."""

from __future__ import annotations

import numpy as np
import pytest

from quietlimb.engine.errors import ParameterError
from quietlimb.simulator import simulate_session


def test_a_session_keeps_its_artery_cuff_and_way_of_measuring():
    """All recordings share family, peak offset, circumstances, sampling rate, inflation and deflation.

    Oracle: by construction: what all readings share must not average away.
    """
    for seed in range(5):
        session = simulate_session(seed, readings=5)
        truths = [simulated.truth for simulated in session.recordings]
        assert len({truth.family for truth in truths}) == 1
        assert len({truth.peak_offset for truth in truths}) == 1
        assert len({(truth.inflation, truth.deflation) for truth in truths}) == 1
        assert len({simulated.recording.circumstances for simulated in session.recordings}) == 1
        assert len({round(simulated.recording.sampling_rate_hz) for simulated in session.recordings}) == 1
        assert len({simulated.recording.fingerprint for simulated in session.recordings}) == 5


def test_readings_follow_each_other():
    """The first reading is at minute 0; each begins after the one before has ended, 0.6 minutes or more later.

    Oracle: by construction.
    """
    for seed in range(5):
        session = simulate_session(seed, readings=7)
        assert session.minute[0] == 0.0
        gap = np.diff(session.minute)
        assert (gap >= 0.6).all()
        lasted = np.array([simulated.recording.time_s[-1] for simulated in session.recordings[:-1]]) / 60.0
        assert (gap > lasted).all()


def test_truth_is_the_level_at_the_last_reading():
    """Without variation from reading to reading the last recording's truth is the session's, and falls are falls.

    Oracle: by construction. Tolerance: 6 mmHg, what drift and breathing do to a single recording (three SD).
    """
    for course, sign in (("level", 0.0), ("falling", 1.0), ("rising", -1.0)):
        session = simulate_session(11, readings=5, course=course, between_sd_mmhg=0.0)  # type: ignore[arg-type]
        last = session.recordings[-1].truth
        assert last.systolic == pytest.approx(session.truth.systolic, abs=6.0)
        assert last.mean == pytest.approx(session.truth.mean, abs=6.0)
        assert last.diastolic == pytest.approx(session.truth.diastolic, abs=6.0)
        assert np.sign(session.truth.fall_mmhg) == sign
        first = session.recordings[0].truth
        assert first.systolic is not None
        assert last.systolic is not None
        assert first.systolic - last.systolic == pytest.approx(session.truth.fall_mmhg, abs=8.0)


def test_readings_vary_by_the_sd_asked_for():
    """Over many readings at one level the true systolic varies by the SD asked for.

    Oracle: by construction. Tolerance: 25 %: 60 readings (four standard errors are 37 %, seeds are fixed) and the 1.5
    mmHg that each recording adds of itself.
    """
    values = []
    for seed in range(6):
        session = simulate_session(seed, readings=10, between_sd_mmhg=8.0, systolic=160.0)
        values += [simulated.truth.systolic - session.truth.systolic for simulated in session.recordings]  # type: ignore[operator]
    assert np.std(values) == pytest.approx(8.0, rel=0.25)


def test_spoiled_readings_are_told():
    """Two of six are made with sustained movement, and only those.

    Oracle: by construction.
    """
    session = simulate_session(4, readings=6, spoiled=2)
    assert session.spoiled.sum() == 2
    for simulated, spoiled in zip(session.recordings, session.spoiled, strict=True):
        assert (simulated.scenario == "sustained-motion") == spoiled


def test_more_readings_leave_the_first_ones_alone():
    """The subject and its first recording are the same whether three or six are taken.

    Oracle: by construction.
    """
    few, many = (simulate_session(4, readings=n) for n in (3, 6))
    assert few.subject.limb == many.subject.limb
    again = simulate_session(4, readings=6)
    assert [s.recording.fingerprint for s in many.recordings] == [s.recording.fingerprint for s in again.recordings]


def test_impossible_sessions_are_refused():
    """No readings, or more spoiled than taken, raise with a remedy.

    Oracle: by construction.
    """
    for readings, spoiled in ((0, 0), (3, 4)):
        with pytest.raises(ParameterError, match="one reading or more"):
            simulate_session(1, readings=readings, spoiled=spoiled)
