"""What was received is on the disk."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from exchange.sensor_lines import STEP_US, header, pressure_of, samples
from quietlimb.capture import keeping as module
from quietlimb.capture.keeping import SYNC_S, Keeping, recover
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.recording import recording
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.recording_csv import read_recording

C3 = "009100ff07ff07"  # 145 mmHg systolic, by hand from the layout of the service


def ended(lines: list[bytes]) -> bytes:
    """Lines as they are kept."""
    return b"".join(line + b"\n" for line in lines)


def test_the_disk_is_reached_twice_a_second_and_before_anything_is_called_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Within two seconds of lines every 50 ms the disk is asked at least four times; `add` says so then, and only then.

    Oracle: by construction, the calls of fsync counted.
    """
    asked: list[float] = []
    real = os.fsync

    def counted(file: int) -> None:
        real(file)
        asked.append(time.monotonic())

    keeping = Keeping(tmp_path)
    monkeypatch.setattr(module.os, "fsync", counted)
    began = time.monotonic()
    while time.monotonic() - began < 2.0:
        before = len(asked)
        kept = keeping.add(b"1,2,3\n")
        assert kept == (len(asked) > before)
        time.sleep(0.05)
    assert len(asked) >= 4
    assert max(np.diff([began, *asked])) < 0.5
    keeping.add(b"4,5,6\n")
    time.sleep(SYNC_S)
    assert keeping.add(b"") is True
    size = len(asked)
    assert keeping.add(b"") is True
    assert len(asked) == size
    keeping.close()


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no SIGKILL")
def test_a_capture_that_is_killed_keeps_what_it_received(tmp_path: Path) -> None:
    """A process that captures from a pipe is killed with SIGKILL; every line that it had confirmed is recovered.

    Oracle: by construction: the process tells how many samples it has kept; what is recovered is those or more, in
    order, and the samples that were sent.
    """
    program = """
import sys
from pathlib import Path
from quietlimb.capture.keeping import Keeping
from quietlimb.capture.standard_input import standard_input
keeping, size = Keeping(Path(sys.argv[1])), 0
for frame in standard_input(sys.stdin.buffer).frames():
    size += frame.time_s.size
    if keeping.add(frame.lines):
        print(size, flush=True)
"""
    child = subprocess.Popen(
        [sys.executable, "-c", program, str(tmp_path / "kept")], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    assert child.stdin is not None
    assert child.stdout is not None
    sent, confirmed = 0, 0
    child.stdin.write(ended(header()))
    while confirmed < 600:
        child.stdin.write(ended(samples(range(sent, sent + 100))))
        child.stdin.flush()
        sent += 100
        if sent % 1000 == 0:
            confirmed = int(child.stdout.readline())
    child.stdin.write(b"%d,%d,1" % (sent, sent * STEP_US))
    child.stdin.flush()
    child.send_signal(signal.SIGKILL)
    child.wait()
    child.stdin.close()
    child.stdout.close()
    assert child.returncode == -signal.SIGKILL
    found = recover(tmp_path / "kept" / "received.txt")
    assert confirmed <= found.time_s.size <= sent
    assert found.time_s == pytest.approx(np.arange(found.time_s.size) * STEP_US / 1e6)
    assert found.cuff_pressure_mmhg.tolist() == [pressure_of(k) for k in range(found.time_s.size)]
    assert found.first_utc_s == pytest.approx(time.time(), abs=60.0)


@pytest.mark.parametrize("cut", [1, 3, 9])
def test_a_line_that_was_cut_is_left_out(tmp_path: Path, cut: int) -> None:
    """Only whole lines count; what came after them is told.

    Oracle: by construction.
    """
    octets = ended([*header(), *samples(range(50))])
    (tmp_path / "received.txt").write_bytes(octets[:-cut])
    found = recover(tmp_path / "received.txt")
    assert found.time_s.size == 49
    assert found.unfinished is not None
    assert found.unfinished.octets == octets.splitlines()[-1][: -cut + 1 or None]
    assert found.unfinished.number == len(octets.splitlines())


def test_nothing_is_ever_written_over(tmp_path: Path) -> None:
    """A second capture into the same folder has files of its own.

    Oracle: by construction.
    """
    time_s = np.arange(0.0, 4.0, 0.01)
    first, second = Keeping(tmp_path), Keeping(tmp_path)
    one = recording(time_s, 100.0 - time_s, Circumstances(species="cat"))
    other = recording(time_s, 200.0 - time_s, Circumstances(species="dog"))
    first.add(b"#proto=1\n")
    second.add(b"#proto=1\n")
    paths = [first.keep_recording(one), second.keep_recording(other, {"invented": "yes"}), first.keep_recording(one)]
    first.close()
    second.close()
    assert [path.name for path in paths] == ["reading-1.csv", "reading-2.csv", "reading-3.csv"]
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "reading-1.csv",
        "reading-2.csv",
        "reading-3.csv",
        "received-2.txt",
        "received.txt",
    ]
    again = read_recording(paths[1])
    assert again.fingerprint == other.fingerprint
    assert again.circumstances.species == "dog"
    assert "# invented: yes" in paths[1].read_text(encoding="utf-8")


def test_readings_of_an_instrument_are_recovered(tmp_path: Path) -> None:
    """A reading that was sent is read from its kept octets again; a damaged one is left where it is.

    Oracle: by construction; the octets were computed by hand.
    """
    text = f"#proto=1\n#measurement={C3}\n#measurement=zz\n#measurement=00\n"
    (tmp_path / "received.txt").write_text(text, encoding="ascii")
    found = recover(tmp_path / "received.txt")
    assert [reading.systolic_mmhg for reading in found.readings] == [145.0]
    assert found.time_s.size == 0


def test_a_file_that_is_not_there_is_one_sentence(tmp_path: Path) -> None:
    """The error names the file.

    Oracle: by construction.
    """
    with pytest.raises(FileError, match="nothing"):
        recover(tmp_path / "nothing.txt")
