"""What takes long in a process beside the server's: the same answers, and no process that outlives the server."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from quietlimb.clinic.process_beside import a_process_beside, worked_out
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.session.charting import chart
from quietlimb.engine.session.enough import enough
from quietlimb.engine.session.series import series_from_values

HOLDER = """
import os, sys
from quietlimb.clinic.process_beside import a_process_beside, worked_out
with a_process_beside():
    print(worked_out(os.getpid), flush=True)
    sys.stdin.read()
"""


def test_the_answer_is_the_one_worked_out_in_place() -> None:
    """Advice on a series to the last digit, another process for it, and an error as it is raised in place.

    Oracle: reference, the same function called in place.
    """
    charted = chart(
        series_from_values(
            circumstances=Circumstances(species="cat", method="oscillometric"),
            minute=[0.0, 1.0, 2.5, 4.0],
            systolic=[171.0, 160.0, 158.0, 149.0],
        )
    )
    with a_process_beside():
        assert worked_out(enough, charted, rules="iris-2019") == enough(charted, rules="iris-2019")
        assert worked_out(os.getpid) != os.getpid()
        with pytest.raises(ParameterError) as caught:
            worked_out(enough, charted, wanted_mmhg=-1.0)
        assert caught.value.code == "impossible-width"
    assert worked_out(os.getpid) == os.getpid()


def test_a_process_that_has_ended_is_done_without(caplog: pytest.LogCaptureFixture) -> None:
    """The answer comes all the same, in place; that it does is told once.

    Oracle: by construction.
    """
    with a_process_beside():
        os.kill(worked_out(os.getpid), signal.SIGTERM)
        assert [worked_out(os.getpid), worked_out(os.getpid)] == 2 * [os.getpid()]
    assert [record.levelname for record in caplog.records] == ["WARNING"]


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="asks Linux for a process by its number")
@pytest.mark.parametrize("by", ["kill", "terminate", "interrupt"])
def test_it_ends_with_the_server_however_that_ends(by: str, tmp_path: Path) -> None:
    """Killed, terminated, or stopped with Ctrl+C, which reaches both.

    Oracle: by construction, the operating system's list of processes.
    """
    server = subprocess.Popen(
        [sys.executable, "-c", HOLDER],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        cwd=tmp_path,
        start_new_session=True,
    )
    assert server.stdin is not None
    assert server.stdout is not None
    beside = int(server.stdout.readline())
    assert _lives(beside)
    if by == "interrupt":
        os.killpg(server.pid, signal.SIGINT)
    else:
        server.send_signal(signal.SIGKILL if by == "kill" else signal.SIGTERM)
    server.wait(timeout=30)
    server.stdin.close()
    server.stdout.close()
    end = time.monotonic() + 30
    while _lives(beside):
        assert time.monotonic() < end, "it outlives the server"
        time.sleep(0.1)


def _lives(pid: int) -> bool:
    """Whether a process is there and has not ended: one that nobody has waited for yet is only a name."""
    try:
        told = Path(f"/proc/{pid}/stat").read_text(encoding="ascii", errors="replace")
    except OSError:
        return False
    return told.rpartition(")")[2].split()[0] != "Z"
