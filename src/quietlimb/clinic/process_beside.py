"""What takes long is worked out in a process beside the server's, where threads would share one processor with it.

The server starts that process itself and it ends with the server, however the server ends. Where there is none, as in a
test or an export, or where it has broken down, the same function is called in place: the answer is the same.
"""

from __future__ import annotations

import logging
import os
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing import get_context, parent_process
from typing import ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")

YIELDS = 5  # how much less urgent than the server itself, of 20 steps; a saved reading goes first [invented]

_log = logging.getLogger(__name__)
_beside: ProcessPoolExecutor | None = None


@contextmanager
def a_process_beside() -> Iterator[ProcessPoolExecutor]:
    """Have one while this lasts; it gets ready while nothing is asked."""
    global _beside
    with ProcessPoolExecutor(1, mp_context=get_context("spawn"), initializer=_begin) as process:
        process.submit(_ready)
        _beside = process
        try:
            yield process
        finally:
            _beside = None
            process.shutdown(wait=False, cancel_futures=True)


def worked_out(function: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
    """What a function of a module answers; its arguments and its answer go from process to process."""
    global _beside
    process = _beside
    if process is not None:
        try:
            return process.submit(function, *args, **kwargs).result()
        except BrokenProcessPool:
            _beside = None
            _log.warning("The process beside the clinic has ended: what takes long is worked out in the clinic itself.")
    return function(*args, **kwargs)


def _begin() -> None:
    """In the process beside: whoever stops the server with Ctrl+C stops this one too, and it is left by nobody."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(os, "nice"):
        os.nice(YIELDS)
    threading.Thread(target=_end_with_the_server, daemon=True).start()


def _end_with_the_server() -> None:
    server = parent_process()
    assert server is not None
    server.join()
    os._exit(0)


def _ready() -> None:
    """Load the engine before it is asked for."""
    import quietlimb.engine.session.enough  # noqa: F401
