"""A sensor on a serial line, over a pseudo-terminal."""

from __future__ import annotations

import itertools
import os
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from capture.listening import Heard, listen
from exchange.sensor_lines import STEP_US, header, pressure_of, samples
from quietlimb.capture.errors import CaptureError
from quietlimb.capture.line_stream import RETRY_S, LineStream
from quietlimb.capture.serial_line import ports, serial_line
from quietlimb.exchange.errors import ProtocolError
from quietlimb.exchange.line_decoder import LineDecoder

if sys.platform == "win32":
    pytest.skip("Windows has no pseudo-terminals", allow_module_level=True)

from capture.pseudo_terminal import PseudoTerminal


@pytest.fixture
def line(tmp_path: Path) -> Iterator[PseudoTerminal]:
    """A sensor that is plugged in."""
    terminal = PseudoTerminal(tmp_path)
    yield terminal
    if terminal.port.is_symlink():
        terminal.unplug()


def ended(lines: list[bytes], end: bytes = b"\n") -> bytes:
    """Lines as they are sent."""
    return b"".join(line + end for line in lines)


def sending(target: PseudoTerminal, *parts: bytes, after_s: float = 0.3, pause_s: float = 0.0) -> threading.Thread:
    """Send parts from another thread, once the port is open."""

    def send() -> None:
        time.sleep(after_s)
        for part in parts:
            target.send(part)
            time.sleep(pause_s)

    thread = threading.Thread(target=send, daemon=True)
    thread.start()
    return thread


def count(size: int) -> object:
    """Whether that many samples have come."""
    return lambda heard: heard.time_s.size >= size


@pytest.mark.parametrize("end", [b"\n", b"\r\n"])
def test_every_sample_arrives_with_the_sensors_time(line: PseudoTerminal, end: bytes) -> None:
    """300 samples in pieces that cut lines anywhere are 300 samples, spaced by the sensor's clock.

    Oracle: by construction.
    """
    octets = ended([*header(), *samples(range(300), start_us=2**32 - 500_000)], end)
    cuts = [0, 7, 50, 51, 1000, 2001, len(octets)]
    source = serial_line(str(line.port))
    sending(line, *(octets[a:b] for a, b in itertools.pairwise(cuts)), pause_s=0.05)
    before = time.time()
    heard = listen(source, count(300))
    assert heard.time_s == pytest.approx(np.arange(300) * STEP_US / 1e6)
    assert heard.pressure.tolist() == [pressure_of(k) for k in range(300)]
    assert source.troubles == {}
    assert source.header["unit"] == "mmHg"
    assert all(before <= frame.received_utc_s <= time.time() for frame in heard.frames)


def test_what_is_to_be_kept_reads_back_as_the_same_samples(line: PseudoTerminal) -> None:
    """The lines of the frames give the same times and pressures, and hold what the sensor sent word for word.

    Oracle: by construction, the decoder on the kept lines.
    """
    sent = ended([*header("kPa", check=True), *samples(range(200), pressure=12.34, check=True)])
    source = serial_line(str(line.port))
    sending(line, sent)
    heard = listen(source, count(200))
    again = LineDecoder().feed(heard.lines.split(b"\n")[:-1])
    assert again.time_s.tolist() == heard.time_s.tolist()
    assert again.cuff_pressure_mmhg.tolist() == heard.pressure.tolist()
    theirs = [row for row in heard.lines.splitlines(keepends=True) if not row.startswith(b"#received")]
    assert b"".join(theirs) == sent


def test_a_minute_as_fast_as_it_goes_loses_nothing(line: PseudoTerminal) -> None:
    """12,000 lines sent without a pause, one minute at 200 Hz, all arrive.

    Oracle: by construction.
    """
    source = serial_line(str(line.port))
    sending(line, ended([*header(), *samples(range(12_000))]))
    heard = listen(source, count(12_000))
    assert heard.time_s.size == 12_000
    assert source.troubles == {}


def test_a_stutter_a_gap_a_repeat_and_a_jump_are_told_and_survived(line: PseudoTerminal) -> None:
    """A pause of 1.5 s within a line, 20 samples missing, 10 sent twice, a restart and noise: each is counted.

    Oracle: by construction.
    """
    steady = ended([*header(), *samples(range(100), start_us=3_000_000)])
    parts = [
        steady[:-4],
        steady[-4:],
        ended([*samples(range(120, 150), start_us=3_000_000), *samples(range(140, 150), start_us=3_000_000)]),
        b"\xff\x00 noise\n",
        ended(samples(range(50))),
    ]
    source = serial_line(str(line.port))
    sending(line, *parts, pause_s=1.5)
    heard = listen(source, count(180))
    assert heard.time_s.size == 180
    assert (np.diff(heard.time_s) > 0.0).all()
    told = dict(source.troubles)
    assert told.pop("silent") >= 3
    assert told == {"gap": 1, "sample-missing": 20, "repeated": 10, "unreadable-line": 1, "began-anew": 1}
    # The restart came 3 s after the gap, by the host's clock; a reader waits for hundredths, or on a busy machine more.
    assert np.diff(heard.time_s)[129] == pytest.approx(3.0, abs=1.0)


def test_a_plug_that_is_pulled_and_put_in_again(line: PseudoTerminal) -> None:
    """What came before stays, the source waits, and goes on with the host's clock when the sensor is back.

    Oracle: by construction; the second after which the port is tried again is the source's own.
    """
    source = serial_line(str(line.port))
    states = []

    def each(heard: Heard) -> None:
        size = heard.time_s.size
        if size == 50 and not states:
            states.append(time.monotonic())
            line.unplug()
        if source.troubles.get("went-away") and len(states) == 1 and time.monotonic() - states[0] > 1.5:
            line.plug()
            states.append(time.monotonic())
            sending(line, b"99,1,2", ended([b"34", *header(), *samples(range(50))]), after_s=RETRY_S + 0.5)

    sending(line, ended([*header(), *samples(range(50))]))
    heard = listen(source, count(100), each=each)
    assert heard.time_s.size == 100
    assert {"went-away": 1, "came-back": 1, "began-anew": 1, "cut-line": 1}.items() <= source.troubles.items()
    away_s = np.diff(heard.time_s)[49]
    assert away_s == pytest.approx(3.0, abs=1.5)
    assert LineDecoder().feed(heard.lines.split(b"\n")[:-1]).time_s.tolist() == heard.time_s.tolist()


def test_a_port_that_is_not_there_is_refused(tmp_path: Path) -> None:
    """The sentence names the port and how to find the right one.

    Oracle: by construction.
    """
    with pytest.raises(CaptureError, match="--list") as refused:
        listen(serial_line(str(tmp_path / "nothing")))
    assert refused.value.code == "no-port"
    assert str(tmp_path / "nothing") in refused.value.says


def test_an_unknown_unit_ends_the_capture(line: PseudoTerminal) -> None:
    """Bars are not converted by a guess.

    Oracle: by construction.
    """
    source = serial_line(str(line.port))
    sending(line, ended(header("bar")))
    with pytest.raises(ProtocolError, match="'bar'"):
        listen(source)


def test_a_line_that_pretends_to_be_the_hosts_is_left_out(line: PseudoTerminal) -> None:
    """A sensor cannot set the host's clock.

    Oracle: by construction.
    """
    source = serial_line(str(line.port))
    sending(line, ended([*header(), b"#received_utc=1.0", *samples(range(5))]))
    heard = listen(source, count(5))
    assert b"=1.0\n" not in heard.lines


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_a_thread_that_meets_the_unforeseen_does_not_end_in_silence() -> None:
    """The capture ends with an error and not as if the source had come to its end.

    Oracle: by construction.
    """

    def opens() -> object:
        raise RuntimeError("unforeseen")

    with pytest.raises(CaptureError, match="without a word"):
        listen(LineStream(opens, comes_back=True))


def test_ports_are_listed_and_none_is_opened(monkeypatch: pytest.MonkeyPatch) -> None:
    """Listing asks the system only.

    Oracle: by construction: opening fails here, and a port is known.
    """
    import serial
    from serial.tools import list_ports
    from serial.tools.list_ports_common import ListPortInfo

    def never(*_args: object, **_options: object) -> None:
        raise AssertionError("opened")

    invented = ListPortInfo("/dev/invented0", skip_link_detection=True)
    monkeypatch.setattr(serial, "Serial", never)
    monkeypatch.setattr(list_ports, "comports", lambda: [invented])
    assert [port.name for port in ports()] == ["/dev/invented0"]


def test_closing_ends_within_a_moment(line: PseudoTerminal) -> None:
    """A silent source that is closed ends in well under a second, and its thread with it.

    Oracle: by construction. Tolerance: 1 s, several times what the source waits.
    """
    source = serial_line(str(line.port))
    frames = source.frames()
    next(frames)
    source.close()
    began = time.monotonic()
    assert sum(frame.time_s.size for frame in frames) == 0
    assert time.monotonic() - began < 1.0
    time.sleep(0.5)
    assert not any(thread.name == "quietlimb source" for thread in threading.enumerate())
    assert os.path.exists(line.port)
