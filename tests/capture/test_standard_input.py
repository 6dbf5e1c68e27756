"""Lines on standard input."""

from __future__ import annotations

import os
import threading
import time

import numpy as np
import pytest

from capture.listening import listen
from exchange.sensor_lines import STEP_US, header, samples
from quietlimb.capture.standard_input import standard_input
from quietlimb.exchange.line_decoder import LineDecoder


def test_a_pipe_is_read_to_its_end() -> None:
    """All whole lines come; the end of the pipe is the end of the source; a line that was begun is none, and is told.

    Oracle: by construction.
    """
    reading, writing = os.pipe()
    whole = [*header(), *samples(range(5000))]
    octets = b"\n".join(whole) + b"\n5000,2"

    def send() -> None:
        with os.fdopen(writing, "wb") as pipe:
            pipe.write(octets)

    threading.Thread(target=send).start()
    with os.fdopen(reading, "rb") as pipe:
        source = standard_input(pipe)
        heard = listen(source)
    assert heard.time_s == pytest.approx(np.arange(5000) * STEP_US / 1e6)
    assert source.troubles == {"unfinished-line": 1}
    (cut,) = [frame.unfinished for frame in heard.frames if frame.unfinished is not None]
    assert (cut.number, cut.text) == (len(whole) + 1, "5000,2")
    unfinished, nothing = heard.lines.splitlines()[-2:]
    assert unfinished == b"#received_unfinished=%d: 5000,2" % cut.number
    assert nothing.startswith(b"#received_nothing=")
    again = LineDecoder()
    assert again.feed(heard.lines.split(b"\n")[:-1]).time_s.tolist() == heard.time_s.tolist()
    assert again.troubles == source.troubles


def test_a_pipe_that_ends_with_a_whole_line_has_nothing_to_tell() -> None:
    """The same lines with their last line feed: every sample, and no trouble.

    Oracle: by construction.
    """
    reading, writing = os.pipe()
    with os.fdopen(writing, "wb") as pipe:
        pipe.write(b"\n".join([*header(), *samples(range(500))]) + b"\n")
    with os.fdopen(reading, "rb") as pipe:
        source = standard_input(pipe)
        heard = listen(source)
    assert heard.time_s.size == 500
    assert source.troubles == {}
    assert all(frame.unfinished is None for frame in heard.frames)


def test_a_pipe_that_is_closed_in_the_middle_of_a_line_is_not_said_to_be_cut() -> None:
    """Whoever ends a capture does so in the middle of any line: nothing is told of it.

    Oracle: by construction.
    """
    reading, writing = os.pipe()
    with os.fdopen(reading, "rb") as pipe, os.fdopen(writing, "wb") as sending:
        sending.write(b"\n".join([*header(), *samples(range(500))]) + b"\n500,2")
        sending.flush()
        source = standard_input(pipe)
        heard = listen(source, lambda heard: heard.time_s.size == 500)
    assert heard.time_s.size == 500
    assert source.troubles == {}


def test_a_pipe_that_stays_silent_can_be_closed() -> None:
    """Closing ends the source though its thread still waits in the pipe.

    Oracle: by construction. Tolerance: 1 s, several times what the source waits.
    """
    reading, writing = os.pipe()
    with os.fdopen(reading, "rb") as pipe, os.fdopen(writing, "wb"):
        source = standard_input(pipe)
        frames = source.frames()
        next(frames)
        source.close()
        began = time.monotonic()
        assert list(frames) == []
        assert time.monotonic() - began < 1.0
