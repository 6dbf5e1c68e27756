"""Recordings played, and an animal that is made, as if they were measured."""

from __future__ import annotations

import itertools
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from capture.listening import listen
from quietlimb.capture.file_at_pace import file_at_pace
from quietlimb.capture.keeping import Keeping, recover
from quietlimb.capture.paced import Paced, Piece
from quietlimb.capture.simulated import simulated
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.recording import Recording, recording
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.recording_csv import write_recording
from quietlimb.simulator.recordings import simulate_recording


@pytest.fixture
def invented() -> Recording:
    """A recording whose numbers have few enough decimals for a line."""
    made = simulate_recording(31, species="cat").recording
    return recording(made.time_s - made.time_s[0], np.round(made.cuff_pressure_mmhg, 6), made.circumstances)


def test_a_file_as_fast_as_possible_gives_its_own_samples(tmp_path: Path, invented: Recording) -> None:
    """Times to the microsecond and pressures to the last place are those of the file; circumstances too.

    Oracle: by construction. Tolerance of the times: half a microsecond, the clock of the lines.
    """
    write_recording(invented, tmp_path / "one.csv")
    source = file_at_pace(tmp_path / "one.csv", fast=True)
    heard = listen(source)
    assert heard.time_s == pytest.approx(invented.time_s, abs=0.51e-6)
    assert heard.pressure.tolist() == invented.cuff_pressure_mmhg.tolist()
    assert source.circumstances == invented.circumstances
    assert source.troubles == {}
    assert source.header["played"] == "one.csv"


def test_a_file_at_its_own_pace_takes_its_own_time(tmp_path: Path) -> None:
    """No sample comes before it would have been measured, and none much later.

    Oracle: by construction, the clock. Tolerance: 1 s late, on a machine that does other things as well.
    """
    time_s = np.arange(0.0, 3.1, 0.01)
    write_recording(recording(time_s, 100.0 - 20.0 * time_s, Circumstances(species="dog")), tmp_path / "short.csv")
    came: list[float] = []
    newest: list[float] = []
    began = time.monotonic()
    for frame in file_at_pace(tmp_path / "short.csv").frames():
        if frame.time_s.size:
            came.append(time.monotonic() - began)
            newest.append(float(frame.time_s[-1]))
    late = np.array(came) - np.array(newest)
    assert newest[-1] == pytest.approx(time_s[-1])
    assert late.min() > -0.02
    assert late.max() < 1.0


def test_a_species_that_the_file_lacks_has_to_be_told(tmp_path: Path, invented: Recording) -> None:
    """As everywhere: the file or the caller says which animal it is.

    Oracle: by construction.
    """
    write_recording(invented, tmp_path / "one.csv")
    text = (tmp_path / "one.csv").read_text(encoding="utf-8")
    (tmp_path / "one.csv").write_text(text.replace("# species: cat\n", ""), encoding="utf-8")
    with pytest.raises(FileError, match="species"):
        file_at_pace(tmp_path / "one.csv")
    told = file_at_pace(tmp_path / "one.csv", species="cat", defaults={"site": "tail"})
    assert told.circumstances is not None
    assert told.circumstances.species == "cat"


def test_what_a_capture_kept_can_be_played_again(tmp_path: Path, invented: Recording) -> None:
    """The kept lines give the same samples as the first time.

    Oracle: by construction.
    """
    write_recording(invented, tmp_path / "one.csv")
    keeping = Keeping(tmp_path / "kept")
    first = listen(file_at_pace(tmp_path / "one.csv", fast=True))
    keeping.add(first.lines)
    keeping.close()
    again = listen(file_at_pace(keeping.lines_path, fast=True))
    assert again.time_s.tolist() == first.time_s.tolist()
    assert again.pressure.tolist() == first.pressure.tolist()
    (tmp_path / "none.txt").write_bytes(b"#proto=1\n")
    with pytest.raises(FileError, match="no two samples"):
        file_at_pace(tmp_path / "none.txt")


def test_a_kept_file_that_ends_in_mid_line_is_played_and_told(tmp_path: Path) -> None:
    """Nothing is read from the line's beginning, which might pass for a smaller number; it is told with its number.

    Oracle: by construction.
    """
    time_s = np.arange(400) / 200.0
    source = Paced([(time_s, 100.0 + time_s)], rate_hz=200.0, header={}, circumstances=None, fast=True)
    whole = listen(source).lines
    (tmp_path / "received.txt").write_bytes(whole[:-3])
    again = file_at_pace(tmp_path / "received.txt", fast=True)
    heard = listen(again)
    assert heard.time_s.size == 399
    (cut,) = [frame.unfinished for frame in heard.frames if frame.unfinished is not None]
    assert (cut.number, cut.octets) == (whole.count(b"\n"), whole.splitlines()[-1][:-2])
    assert again.troubles == {"unfinished-line": 1}


def test_a_pause_in_what_was_kept_is_a_pause_when_it_is_played(tmp_path: Path) -> None:
    """Half a minute without samples, as between two plugs, keeps its length and is told as a gap.

    Oracle: by construction. Tolerance: a microsecond, the clock of the lines.
    """
    time_s = np.concatenate((np.arange(400) / 200.0, 32.0 + np.arange(400) / 200.0, [40.0, 40.005]))
    pieces = [(time_s, 50.0 + np.arange(time_s.size) % 7)]
    source = Paced(pieces, rate_hz=200.0, header={}, circumstances=None, fast=True)
    heard = listen(source)
    assert heard.time_s == pytest.approx(time_s, abs=1.1e-6)
    assert source.troubles == {"gap": 2, "sample-missing": 30 * 200 + 6 * 200}
    (tmp_path / "received.txt").write_bytes(heard.lines)
    again = listen(file_at_pace(tmp_path / "received.txt", fast=True))
    assert again.time_s == pytest.approx(time_s, abs=1.1e-6)


def test_the_simulated_animal_is_the_same_for_a_seed_and_marked_as_invented() -> None:
    """One seed, the same lines but for the host's clock; another seed, others; every one says that it is no patient.

    Oracle: by construction.
    """

    def lines(seed: int) -> list[bytes]:
        source = simulated(seed, species="cat", fast=True)
        heard = listen(source, lambda heard: heard.time_s.size > 3000)
        assert source.header["invented"] == "made by the simulator, not a patient"
        assert source.circumstances is not None
        assert source.circumstances.species == "cat"
        return [line for line in heard.lines.splitlines() if not line.startswith(b"#received")]

    assert lines(5) == lines(5)
    assert lines(5) != lines(6)


def test_the_simulated_animal_is_inflated_again_and_again() -> None:
    """Three inflations one after another, the cuff empty in between, at 200 Hz without a gap.

    Oracle: by construction: a cuff is inflated to above 100 mmHg and emptied to below 15.
    """
    heard = listen(simulated(8, fast=True), lambda heard: _rises(heard) >= 3)
    assert _rises(heard) == 3
    assert np.diff(heard.time_s) == pytest.approx(0.005, abs=1e-6)


def _rises(heard: object) -> int:
    """How often the pressure rose to 100 mmHg from below 15."""
    rises, low = 0, True
    for pressure in heard.pressure[::40]:
        if low and pressure > 100.0:
            rises, low = rises + 1, False
        low = low or pressure < 15.0
    return rises


def test_an_hour_at_200_hz_is_kept_without_loss_or_growth(tmp_path: Path) -> None:
    """720,000 samples through source and disk: all are there again, and memory stays where it was after five minutes.

    Oracle: by construction. Tolerance: 8 MiB, where the samples alone would be 11 MiB and their lines 18 MiB.
    """
    resource = pytest.importorskip("resource")
    total, minute = 720_000, 12_000

    def up_and_down(number: NDArray[np.intp]) -> NDArray[np.float64]:
        return 100.0 + np.abs(number % 194 - 97.0)

    def pieces() -> Iterator[Piece]:
        for first in range(0, total, minute):
            number = np.arange(first, first + minute)
            yield number / 200.0, up_and_down(number)

    source = Paced(pieces(), rate_hz=200.0, header={}, circumstances=None, fast=True)
    keeping = Keeping(tmp_path)
    came, early = 0, 0
    for frame in source.frames():
        keeping.add(frame.lines)
        came += frame.time_s.size
        if came == 5 * minute and not early:
            early = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    late = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    keeping.close()
    assert came == total
    assert early > 0
    assert late - early < 8 * 1024
    found = recover(keeping.lines_path)
    assert found.time_s.size == total
    assert found.time_s[-1] == pytest.approx((total - 1) / 200.0)
    assert (found.cuff_pressure_mmhg == up_and_down(np.arange(total))).all()
    assert not found.troubles
    assert all(b - a > 0 for a, b in itertools.pairwise(found.time_s[:: minute // 2].tolist()))
