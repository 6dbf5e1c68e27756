"""Cuff and artery in one file."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from exchange.invented_channels import edf_file, falling
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.recording import recording
from quietlimb.exchange.arterial_channel import read_arterial, read_two_channels, write_two_channels
from quietlimb.exchange.errors import FileError

STEP_MMHG = 450 / 65535  # of 16 bits over -50 to 400, the range of the invented files
ARTERY = 100.0 + 20.0 * np.sin(np.arange(1600) / 20.0)


def test_what_is_written_is_read_back(tmp_path: Path) -> None:
    """Both pressures to the last bit, samples not measured as nan, zero and level as told.

    Oracle: by construction.
    """
    time = np.arange(800) / 100.0
    made = recording(time, falling(), Circumstances(species="cat", animal="invented cat 1"))
    artery = ARTERY[::2].copy()
    artery[100:120] = np.nan
    path = tmp_path / "two.csv"
    write_two_channels(made, artery, path, {"arterial_zero_mmhg": 1.5, "transducer_below_heart_cm": -3})
    found = read_two_channels(path)
    assert found.recording.fingerprint == made.fingerprint
    np.testing.assert_array_equal(found.artery.pressure_mmhg, artery)
    assert (found.zero_mmhg, found.below_heart_cm) == (1.5, -3.0)


def test_a_second_signal_of_an_edf_file(tmp_path: Path) -> None:
    """Each at its own rate, found by its label or as it is asked for.

    Oracle: by construction. Tolerance: half a step of 16 bits.
    """
    signals = [("ABP", "mmHg", ARTERY), ("Cuff pressure", "mmHg", falling())]
    path = edf_file(tmp_path / "a.edf", signals, rates_hz=[200.0, 100.0], notes=["# species: cat"])
    for artery in (None, "abp", "1"):
        found = read_two_channels(path, artery=artery)
        np.testing.assert_allclose(found.artery.pressure_mmhg, ARTERY, atol=0.5 * STEP_MMHG)
        assert found.artery.rate_hz == pytest.approx(200.0)
        assert found.recording.sampling_rate_hz == pytest.approx(100.0)
        assert (found.zero_mmhg, found.below_heart_cm) == (None, None)


def test_a_file_without_an_artery_is_refused(tmp_path: Path) -> None:
    """Told what is missing, and how to name it.

    Oracle: by construction.
    """
    edf = edf_file(tmp_path / "a.edf", [("Cuff pressure", "mmHg", falling())], rates_hz=[100.0])
    with pytest.raises(FileError, match="--artery"):
        read_arterial(edf)
    csv = tmp_path / "a.csv"
    csv.write_text("time_s,cuff_pressure_mmHg\n0,1\n0.01,2\n", encoding="utf-8")
    with pytest.raises(FileError, match="arterial_pressure_mmHg"):
        read_arterial(csv)


@pytest.mark.parametrize(
    ("lines", "code"),
    [
        ("# arterial_zero_mmHg: 120\n", "out-of-range"),
        ("# arterial_zero_mmHg: 1\n# arterial_zero_mmHg: 2\n", "told-twice"),
        ("# transducer_below_heart_cm: low\n", "not-a-number"),
    ],
)
def test_impossible_lines_are_told(tmp_path: Path, lines: str, code: str) -> None:
    """With the line at fault.

    Oracle: by construction.
    """
    rows = "".join(f"{k / 100},{180 - k / 10},{100 + k % 30}\n" for k in range(1000))
    path = tmp_path / "a.csv"
    path.write_text(
        f"# species: cat\n{lines}time_s,cuff_pressure_mmHg,arterial_pressure_mmHg\n{rows}", encoding="utf-8"
    )
    with pytest.raises(FileError) as caught:
        read_two_channels(path)
    assert caught.value.code == code
    assert caught.value.line in (2, 3)
