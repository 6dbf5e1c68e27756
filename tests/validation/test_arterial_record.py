"""Real beats around an invented cuff: what a file says is what drives it, and truth is what the artery did."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import arterial_record as script
import numpy as np
import pytest
from arterial_file import ArterialRecord, read_arterial
from numpy.typing import NDArray

from exchange.invented_channels import checksum, edf_file, packed_samples
from quietlimb.exchange.errors import FileError
from quietlimb.simulator.animals import draw_animal
from quietlimb.simulator.beats import beat_pressures, draw_beats

Samples = NDArray[np.float64]
RATE_HZ, SECONDS = 250, 100
TIME_S = np.arange(RATE_HZ * SECONDS) / RATE_HZ
HUNDREDTHS, EDF_STEPS = 100.0, 65535.0 / 450.0  # steps per mmHg of the WFDB and EDF files written here


@pytest.fixture(scope="module")
def pressure() -> Samples:
    """(n,) arterial pressure of a simulated dog [mmHg]."""
    rng = np.random.default_rng(3)
    return draw_beats(rng, draw_animal(rng, "dog"), float(SECONDS)).pressure(TIME_S)


def csv_file(folder: Path, pressure: Samples, *, column: str = "ABP_mmHg", time_s: Samples = TIME_S) -> Path:
    """A table with another column before the pressure; nan is written as an empty cell."""
    rows = [
        f"{t!r},7,{'' if np.isnan(p) else repr(p)}" for t, p in zip(time_s.tolist(), pressure.tolist(), strict=True)
    ]
    path = folder / "record.csv"
    path.write_text("\n".join([f"time_s,note,{column}", *rows, ""]), encoding="utf-8")
    return path


def wfdb_file(folder: Path, pressure: Samples) -> Path:
    """A record of an ECG and the pressure, in format 16."""
    values = [round(HUNDREDTHS * p) for p in pressure.tolist()]
    both = [value for value in values for _ in range(2)]
    (folder / "record.dat").write_bytes(packed_samples(both, 16))
    tail = f"12 0 {values[0]} {checksum(values)} 0"
    header = folder / "record.hea"
    header.write_text(
        f"record 2 {RATE_HZ} {len(values)}\nrecord.dat 16 200(0)/mV {tail} II\nrecord.dat 16 100(0)/mmHg {tail} ABP\n",
        encoding="utf-8",
    )
    return header


def two_channel_edf(folder: Path, pressure: Samples) -> Path:
    """EDF+ with an ECG and the pressure."""
    channels = [("II", "mV", np.zeros_like(pressure)), ("ABP", "mmHg", pressure)]
    return edf_file(folder / "record.edf", channels, rates_hz=[RATE_HZ, RATE_HZ])


WRITERS: dict[str, Callable[[Path, Samples], Path]] = {
    "csv": csv_file,
    "wfdb": wfdb_file,
    "edf": two_channel_edf,
}


def as_stored(kind: str, pressure: Samples) -> Samples:
    """The pressure after the rounding of that kind of file."""
    if kind == "csv":
        return pressure
    if kind == "wfdb":
        return np.round(pressure * HUNDREDTHS) / HUNDREDTHS
    return np.round((pressure + 50.0) * EDF_STEPS) / EDF_STEPS - 50.0


def record_of(pressure: Samples, time_s: Samples = TIME_S) -> ArterialRecord:
    """Straight from an array."""
    return ArterialRecord(channel="ABP", time_s=time_s, pressure_mmhg=pressure)


@pytest.mark.parametrize("kind", WRITERS)
def test_a_file_drives_the_cuff_as_its_array_does(kind: str, pressure: Samples, tmp_path: Path) -> None:
    """From CSV, WFDB and EDF come the same cuff recordings and truths as from the array itself.

    Oracle: by construction; the array is rounded as the format rounds. Tolerance: 1e-6 mmHg for the arithmetic of
    times and scales.
    """
    found, skipped = script.drive_all(read_arterial(WRITERS[kind](tmp_path, pressure), "abp"), count=2, seed=5)
    wanted, _ = script.drive_all(record_of(as_stored(kind, pressure)), count=2, seed=5)
    assert len(found) == len(wanted) == 2
    assert not skipped
    for one, other in zip(found, wanted, strict=True):
        assert np.ptp(one.recording.cuff_pressure_mmhg) > 80.0
        np.testing.assert_allclose(
            one.recording.cuff_pressure_mmhg, other.recording.cuff_pressure_mmhg, rtol=0.0, atol=1e-6
        )
        for name in ("systolic", "mean", "diastolic", "pulse_rate"):
            assert getattr(one, name) == pytest.approx(getattr(other, name), abs=1e-6)


@pytest.mark.parametrize("kind", WRITERS)
def test_another_pressure_drives_the_cuff_otherwise(kind: str, pressure: Samples, tmp_path: Path) -> None:
    """An artery 20 mmHg higher gives another recording, and a truth 20 mmHg higher within 2.

    Oracle: by construction. Tolerance: the course, and with it the beats met, is another.
    """
    found, _ = script.drive_all(read_arterial(WRITERS[kind](tmp_path, pressure + 20.0), "ABP"), count=1, seed=5)
    wanted, _ = script.drive_all(record_of(pressure), count=1, seed=5)
    assert found[0].systolic - wanted[0].systolic == pytest.approx(20.0, abs=2.0)
    assert found[0].recording.fingerprint != wanted[0].recording.fingerprint


def test_truth_is_the_mean_over_the_beats() -> None:
    """Beats of 140 and 130 over 90 mmHg in turn: systolic 135, diastolic 90, the mean that of the curve, 150 a minute.

    Oracle: by construction. Tolerance: 0.25 mmHg, as one beat more of one kind among 20 moves the mean by so much.
    """
    phase = np.arange(RATE_HZ * 2 // 5) / (RATE_HZ * 2 // 5)
    beat = np.minimum(phase / 0.2, (1.0 - phase) / 0.8)
    height = np.tile([50.0, 40.0], TIME_S.size // phase.size // 2)
    pressure = 90.0 + (height[:, np.newaxis] * beat).ravel()
    (one,), _ = script.drive_all(record_of(pressure, TIME_S[: pressure.size]), count=1)
    assert one.systolic == pytest.approx(135.0, abs=0.25)
    assert one.mean == pytest.approx(90.0 + 45.0 * beat.mean(), abs=0.25)
    assert one.diastolic == pytest.approx(90.0, abs=1e-6)
    assert one.pulse_rate == pytest.approx(150.0, abs=0.5)


@pytest.mark.parametrize("seed", range(4))
def test_beats_are_found_where_the_simulator_made_them(seed: int) -> None:
    """Of a rhythm with premature beats, every beat between two moments; pressures as the simulator's own truth.

    Oracle: by construction, the simulator's feet. Tolerance: 0.05 of the beats for a premature beat too weak to count;
    1.5 mmHg for what that does to the mean of the tops, 0.5 mmHg to the others.
    """
    rng = np.random.default_rng(seed)
    beats = draw_beats(rng, draw_animal(rng, "cat" if seed % 2 else "dog"), 40.0, rhythm="ectopic")
    pressure = beats.pressure(np.arange(40001) / 1000.0)
    wanted = beat_pressures(beats, pressure, 1000.0, 5.0, 35.0)
    found = script.find_beats(pressure, 1000.0).between(5000, 35000)
    assert found.foot.size == pytest.approx(wanted.foot_s.size, rel=0.05)
    assert found.systolic.mean() == pytest.approx(wanted.systolic.mean(), abs=1.5)
    assert found.mean.mean() == pytest.approx(wanted.mean.mean(), abs=0.5)
    assert found.diastolic.mean() == pytest.approx(wanted.diastolic.mean(), abs=0.5)


def lost(pressure: Samples) -> None:
    pressure[1000:1003] = np.nan


def dead(pressure: Samples) -> None:
    pressure[500:900] = np.linspace(100.0, 99.0, 400)
    pressure[600:760] = pressure[600]


def clipped(pressure: Samples) -> None:
    top = np.quantile(pressure[:3000], 0.6)
    pressure[:3000] = np.minimum(pressure[:3000], top)


def stopped(pressure: Samples) -> None:
    pressure[:2500] = np.linspace(100.0, 60.0, 2500)


def flushed(pressure: Samples) -> None:
    pressure[:2500] += 180.0


@pytest.mark.parametrize(
    ("spoil", "reason"),
    [
        (lost, "gap"),
        (dead, "flat"),
        (clipped, "saturated"),
        (stopped, "not enough beats"),
        (flushed, "no animal of the simulator has such pressures"),
    ],
)
def test_what_cannot_drive_the_cuff_is_skipped(
    spoil: Callable[[Samples], None], reason: str, pressure: Samples
) -> None:
    """A first stretch that is spoiled is skipped for its reason, and the next is used; unspoiled nothing is skipped.

    Oracle: by construction.
    """
    spoiled = pressure.copy()
    spoil(spoiled)
    found, skipped = script.drive_all(record_of(spoiled), count=1)
    assert dict(skipped) == {reason: 1}
    assert len(found) == 1
    found, skipped = script.drive_all(record_of(pressure), count=1)
    assert len(found) == 1
    assert not skipped


def test_missing_rows_and_empty_cells_are_gaps(pressure: Samples, tmp_path: Path) -> None:
    """One row left out or one cell left empty: both are a gap, and the same samples are left.

    Oracle: by construction.
    """
    empty = pressure.copy()
    empty[1200:1210] = np.nan
    with_cells = read_arterial(csv_file(tmp_path, empty), "ABP")
    kept = ~np.isnan(empty)
    with_rows = read_arterial(csv_file(tmp_path, empty[kept], time_s=TIME_S[kept]), "ABP")
    assert np.isnan(with_cells.pressure_mmhg).sum() == 10
    assert with_rows.pressure_mmhg.size == pressure.size - 10
    for record in (with_cells, with_rows):
        assert script.drive_all(record, count=1)[1]["gap"] == 1


def test_a_record_by_its_bare_name(pressure: Samples, tmp_path: Path) -> None:
    """A WFDB record named without the ending of its header is the same record.

    Oracle: by construction.
    """
    header = wfdb_file(tmp_path, pressure)
    bare, whole = (read_arterial(path, "ABP") for path in (header.with_suffix(""), header))
    np.testing.assert_array_equal(bare.pressure_mmhg, whole.pressure_mmhg)


def test_kilopascals_are_converted(pressure: Samples, tmp_path: Path) -> None:
    """A column in kPa gives the pressure in mmHg, 7.50062 for each.

    Oracle: published, SI brochure 9th edition (BIPM 2019) with the conventional mmHg of 133.322 Pa; tolerance: that of
    the digits.
    """
    record = read_arterial(csv_file(tmp_path, pressure * 0.133322, column="ABP_kPa"), "ABP")
    np.testing.assert_allclose(record.pressure_mmhg, pressure, rtol=1e-5)


@pytest.mark.parametrize("kind", WRITERS)
@pytest.mark.parametrize(("channel", "code"), [("ART", "channel-missing"), ("9", "channel-missing")])
def test_a_channel_that_is_not_there(kind: str, channel: str, code: str, pressure: Samples, tmp_path: Path) -> None:
    """The error names what was asked for and lists what there is.

    Oracle: by construction.
    """
    with pytest.raises(FileError) as caught:
        read_arterial(WRITERS[kind](tmp_path, pressure), channel)
    assert caught.value.code == code
    assert f"'{channel}'" in str(caught.value)
    assert "'ABP' in 'mmHg'" in str(caught.value)


@pytest.mark.parametrize(("kind", "other"), [("csv", "note"), ("wfdb", "II"), ("edf", "II")])
def test_a_channel_that_is_no_pressure(kind: str, other: str, pressure: Samples, tmp_path: Path) -> None:
    """A channel in another unit is refused.

    Oracle: by construction.
    """
    with pytest.raises(FileError, match="neither in mmHg nor in kPa"):
        read_arterial(WRITERS[kind](tmp_path, pressure), other)


def test_the_table_is_printed(pressure: Samples, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The command prints how many stretches were used and a row for each value; errors go to stderr, with status 1.

    Oracle: by construction.
    """
    path = str(csv_file(tmp_path, pressure))
    assert script.main([path, "--channel", "ABP", "--count", "1", "--deflation", "linear", "--noise", "0.01"]) == 0
    printed = capsys.readouterr().out
    assert "Stretches used: 1; skipped: 0" in printed
    assert "arterial record: 1 recordings" in printed
    assert script.main([path, "--channel", "ART"]) == 1
    told = capsys.readouterr()
    assert told.out == ""
    assert "'ART'" in told.err
    assert script.main([path, "--channel", "ABP", "--start", "95"]) == 1
    assert "Stretches used: 0" in capsys.readouterr().out
