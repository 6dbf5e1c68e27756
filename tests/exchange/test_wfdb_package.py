"""Our reader of WFDB records beside the `wfdb` package, both ways."""

from __future__ import annotations

import warnings
from datetime import date, time
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from exchange.invented_channels import falling, tenths, wfdb_record
from quietlimb.exchange.recording_wfdb import FORMATS, read_recording

# The package has not yet followed pandas 3.1; its warnings are not ours to judge.
pytestmark = pytest.mark.filterwarnings("ignore:The inplace keyword in")

GAINS = {16: 100.0, 24: 40_000.0, 32: 10_000_000.0, 80: 1.0, 212: 10.0}


@pytest.fixture(scope="module")
def wfdb() -> Any:
    """The package, where it is installed. It takes a second to import, so only these tests do."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # those of its own imports are not ours to judge
        return pytest.importorskip("wfdb")


@pytest.mark.parametrize("length", [800, 801])
@pytest.mark.parametrize("kind", FORMATS)
def test_what_the_package_writes_is_read_alike(wfdb: Any, tmp_path: Path, kind: int, length: int) -> None:
    """Two signals, one with invalid samples: the same pressures at the same times, comments and start as written.

    Oracle: reference library, wfdb 4.3.1 (wrsamp, rdrecord). Tolerance: float64; both divide the same integers.
    """
    cuff = falling(length, top=110.0)
    cuff[200:220] = np.nan
    ecg = np.sin(np.arange(length) / 7.0)
    wfdb.wrsamp(
        "r1",
        fs=100,
        units=["mV", "mmHg"],
        sig_name=["ECG II", "Cuff pressure"],
        p_signal=np.stack([ecg, cuff], axis=1),
        fmt=[str(kind)] * 2,
        adc_gain=[50.0, GAINS[kind]],
        baseline=[0, 10],
        comments=["species: cat", "cuff_width_cm: 2.5"],
        base_time=time(10, 30, 15),
        base_date=date(2026, 11, 25),
        write_dir=str(tmp_path),
    )
    theirs = wfdb.rdrecord(str(tmp_path / "r1"))
    measured = ~np.isnan(theirs.p_signal[:, 1])
    assert measured.sum() == length - 20
    ours = read_recording(tmp_path / "r1.hea")
    np.testing.assert_allclose(ours.cuff_pressure_mmhg, theirs.p_signal[measured, 1], rtol=1e-14)
    np.testing.assert_allclose(ours.time_s, np.flatnonzero(measured) / theirs.fs, rtol=1e-14)
    assert (ours.circumstances.species, ours.circumstances.cuff_width_cm) == ("cat", 2.5)
    assert ours.circumstances.started_at == theirs.base_datetime.isoformat() == "2026-11-25T10:30:15"


def test_several_samples_a_frame_are_read_alike(wfdb: Any, tmp_path: Path) -> None:
    """A slow and a fast signal in one file.

    Oracle: reference library, wfdb 4.3.1 with smooth_frames=False. Tolerance: float64.
    """
    wfdb.wrsamp(
        "r1",
        fs=25,
        units=["mV", "mmHg"],
        sig_name=["ECG II", "Cuff"],
        e_p_signal=[np.sin(np.arange(200.0)), falling(800)],
        samps_per_frame=[1, 4],
        fmt=["16", "16"],
        adc_gain=[1000.0, 100.0],
        baseline=[0, 0],
        write_dir=str(tmp_path),
    )
    theirs = wfdb.rdrecord(str(tmp_path / "r1"), smooth_frames=False)
    ours = read_recording(tmp_path / "r1.hea", species="dog")
    np.testing.assert_allclose(ours.cuff_pressure_mmhg, theirs.e_p_signal[1], rtol=1e-14)
    np.testing.assert_allclose(ours.time_s, np.arange(800) / 100, rtol=1e-14)


@pytest.mark.parametrize("length", [800, 801])
@pytest.mark.parametrize("kind", FORMATS)
def test_the_package_reads_the_files_of_our_tests_alike(wfdb: Any, tmp_path: Path, kind: int, length: int) -> None:
    """The plain loop that the other tests lean on writes the format that the package knows.

    Oracle: reference library, wfdb 4.3.1. Tolerance: float64.
    """
    gain = 1 if kind == 80 else 10
    values = [value // (10 // gain) - (120 if kind == 80 else 0) for value in tenths(falling(length))]
    wfdb_record(tmp_path, values, kind=kind, gain=f"{gain}({-120 if kind == 80 else 0})/mmHg")
    theirs = wfdb.rdrecord(str(tmp_path / "r1"))
    assert theirs.checksum == [sum(values) % 65536 - (65536 if sum(values) % 65536 >= 32768 else 0)]
    np.testing.assert_allclose(
        read_recording(tmp_path / "r1.hea").cuff_pressure_mmhg, theirs.p_signal[:, 0], rtol=1e-14
    )
