"""Octets that arrive when they like, read by a thread of their own, as frames."""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final, Protocol

from quietlimb.capture.errors import CaptureError
from quietlimb.capture.source import Frame
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.recording import CutBy
from quietlimb.exchange.line_decoder import LineDecoder, Trouble
from quietlimb.exchange.pressure_lines import (
    RECEIVED_ANEW,
    RECEIVED_NOTHING,
    RECEIVED_UTC,
    RESERVED,
    LineBuffer,
    UnfinishedLine,
    clock_line,
)

BEAT_S: Final = 0.2  # an empty frame at least so often
RETRY_S: Final = 1.0
SILENT_S: Final = 1.0
# Chunks that wait for a reader that is busy; then the thread waits too, and the pipe or the port's own buffer holds.
_MOST_WAITING: Final = 4096
_TOGETHER: Final = 64  # chunks that become one frame when the reader was late


class Octets(Protocol):
    """Something that was opened and can be read."""

    def read(self) -> bytes | None:
        """What is there, waiting a moment for the first; empty if nothing came; None at the end. OSError: gone."""

    def close(self) -> None:
        """Give it back."""


@dataclass(frozen=True, slots=True)
class _Chunk:
    received_utc_s: float
    octets: bytes


@dataclass(frozen=True, slots=True)
class _Opened:
    received_utc_s: float


@dataclass(frozen=True, slots=True)
class _Gone:
    pass


@dataclass(frozen=True, slots=True)
class _RanOut:
    """It has ended by itself; not where it was closed, which may be in the middle of any line."""


@dataclass(frozen=True, slots=True)
class _End:
    error: CaptureError | None = None


@dataclass(frozen=True, slots=True)
class _Silent:
    """For a second nothing came."""


_Event = _Chunk | _Opened | _Gone | _Silent | _RanOut | _End


def stopped_without_a_word() -> CaptureError:
    """Of a thread that has met what nobody foresaw; the interpreter has told the rest on stderr."""
    return CaptureError("source-stopped", "the source stopped without a word", "begin again; what came is kept")


class LineStream:
    """A source that sends the lines of the protocol.

    opens      : opens it; CaptureError the first time ends the capture, later it is tried again
    comes_back : whether to wait for it when it has gone, as a plug is put in again; otherwise that is the end
    """

    is_waveform = True
    circumstances: Circumstances | None = None

    def __init__(self, opens: Callable[[], Octets], *, comes_back: bool) -> None:
        self._opens, self._comes_back = opens, comes_back
        self._events: queue.Queue[_Event] = queue.Queue(_MOST_WAITING)
        self._closing = threading.Event()
        self._buffer, self._decoder = LineBuffer(), LineDecoder()
        self._own: dict[Trouble, int] = {}

    @property
    def header(self) -> Mapping[str, str]:
        """What the sensor told."""
        return dict(self._decoder.header)

    @property
    def troubles(self) -> Mapping[Trouble, int]:
        """Those of the lines, and those of the port."""
        too_long: dict[Trouble, int] = {"long-line": self._buffer.too_long} if self._buffer.too_long else {}
        return {**self._decoder.troubles, **self._own, **too_long}

    @property
    def began_cut(self) -> bool:
        """Whether it had been silent before the first sample."""
        return self._decoder.began_cut

    @property
    def cut_by(self) -> CutBy | None:
        """The sensor, where it had gone, ended by itself or fallen silent after the newest sample."""
        return "sensor" if self._decoder.was_cut else None

    def close(self) -> None:
        """Let the thread and `frames` end."""
        self._closing.set()

    def frames(self) -> Iterator[Frame]:
        """Frames as lines arrive; empty ones while nothing does."""
        thread = threading.Thread(target=self._listen, name="quietlimb source", daemon=True)
        thread.start()
        heard, silent = time.monotonic(), False
        try:
            while True:
                events = self._waiting()
                # A thread that waits in a pipe for ever ends with the program; nothing more is asked of it.
                if not events and self._closing.is_set():
                    return
                if not events and not thread.is_alive():
                    raise stopped_without_a_word()
                something = any(isinstance(event, _Chunk) for event in events)
                if not something and not silent and not self._closing.is_set() and time.monotonic() - heard > SILENT_S:
                    self._count("silent")
                    silent = True
                    events.insert(0, _Silent())
                yield self._frame(events)
                if something:  # counted from here: what was done with the samples is no silence of the source
                    heard, silent = time.monotonic(), False
                if self._decoder.failed is not None:
                    raise self._decoder.failed
                if events and isinstance(events[-1], _End):
                    if events[-1].error is not None:
                        raise events[-1].error
                    return
        finally:
            self.close()

    def _waiting(self) -> list[_Event]:
        try:
            events = [self._events.get(timeout=BEAT_S)]
        except queue.Empty:
            return []
        while len(events) < _TOGETHER and not isinstance(events[-1], _End):
            try:
                events.append(self._events.get_nowait())
            except queue.Empty:
                break
        return events

    def _frame(self, events: list[_Event]) -> Frame:
        kept: list[bytes] = []
        unfinished: UnfinishedLine | None = None
        now = time.time()
        for event in events:
            if isinstance(event, _Opened):
                now = event.received_utc_s
                self._buffer.clear()
                kept.append(clock_line(RECEIVED_ANEW, now))
                if self._own.get("went-away"):
                    self._count("came-back")
            elif isinstance(event, _Chunk):
                now = event.received_utc_s
                lines = [line for line in self._buffer.add(event.octets) if not line.startswith(RESERVED)]
                if lines:
                    kept.append(clock_line(RECEIVED_UTC, now))
                    kept.extend(line + b"\n" for line in lines)
            elif isinstance(event, _Gone):
                self._count("went-away")
            if isinstance(event, _Gone | _RanOut) and (begun := self._buffer.unfinished) is not None:
                unfinished = begun
                kept.append(begun.kept)
                self._buffer.clear()
            if isinstance(event, _Gone | _Silent | _RanOut):
                kept.append(clock_line(RECEIVED_NOTHING, now))
        # What is kept is what is read: nothing that comes of these lines can differ from what comes of the file.
        samples = self._decoder.feed(line[:-1] for line in kept)
        return Frame(
            time_s=samples.time_s,
            cuff_pressure_mmhg=samples.cuff_pressure_mmhg,
            received_utc_s=now,
            lines=b"".join(kept),
            unfinished=unfinished,
        )

    def _count(self, trouble: Trouble) -> None:
        self._own[trouble] = self._own.get(trouble, 0) + 1

    def _listen(self) -> None:
        """The thread: open, read, and open again."""
        first = True
        while not self._closing.is_set():
            try:
                port = self._opens()
            except CaptureError as error:
                if first:
                    self._put(_End(error))
                    return
                self._closing.wait(RETRY_S)
                continue
            first = False
            self._put(_Opened(time.time()))
            if self._read_on(port):
                self._put(_End())
                return

    def _read_on(self, port: Octets) -> bool:
        """Read until closed, ended or gone; True where that is the end of the source."""
        try:
            while not self._closing.is_set():
                octets = port.read()
                if octets is None:
                    self._put(_RanOut())
                    return True
                if octets:
                    self._put(_Chunk(time.time(), octets))
        except OSError:
            self._put(_Gone())
            if self._comes_back:
                self._closing.wait(RETRY_S)
                return False
        finally:
            port.close()
        return True

    def _put(self, event: _Event) -> None:
        while True:
            try:
                return self._events.put(event, timeout=BEAT_S)
            except queue.Full:
                # Only a reader that has stopped listening leaves the queue full for good.
                if self._closing.is_set():
                    return
