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


def test_a_pipe_is_read_to_its_end() -> None:
    """All whole lines come; the end of the pipe is the end of the source; a line that was begun is none.

    Oracle: by construction.
    """
    reading, writing = os.pipe()
    octets = b"\n".join([*header(), *samples(range(5000))]) + b"\n5000,2"

    def send() -> None:
        with os.fdopen(writing, "wb") as pipe:
            pipe.write(octets)

    threading.Thread(target=send).start()
    with os.fdopen(reading, "rb") as pipe:
        source = standard_input(pipe)
        heard = listen(source)
    assert heard.time_s == pytest.approx(np.arange(5000) * STEP_US / 1e6)
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
