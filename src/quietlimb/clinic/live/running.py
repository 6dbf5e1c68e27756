"""A capture that runs: one thread listens to the source, tells the board, and saves what is finished."""

from __future__ import annotations

import logging
import threading
import time
import uuid
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from django.db import connections
from django.utils.translation import gettext as _

from quietlimb.capture.capturing import Step, capture
from quietlimb.capture.keeping import Keeping
from quietlimb.capture.source import Frame, Source
from quietlimb.clinic.live.board import Board
from quietlimb.clinic.live.telling import moment_told, pulses_told, samples_told
from quietlimb.clinic.stores import Store, working_in
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.deflation import IDLE_MMHG
from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.live.moment import Moment
from quietlimb.engine.live.remarks import after_the_end, cuts
from quietlimb.engine.reading import Reading
from quietlimb.exchange.blood_pressure_service import InstrumentReading
from quietlimb.words.live import at_the_end, say, when_an_instrument_is_silent, when_lost
from quietlimb.words.troubles import trouble_sentence

logger = logging.getLogger(__name__)
TELL_EVERY_S, TELL_IDLE_EVERY_S = 0.1, 0.5  # as often as an eye can follow numerals [invented]
# Then the numerals are no longer the pressure now. An instrument tells its cuff now and then only. [invented]
LOST_S, INSTRUMENT_LOST_S = 1.0, 3.0
IDLE_ENDS_S = 1800.0  # half an hour without an inflation: somebody forgot it [invented]


@dataclass(frozen=True, slots=True, kw_only=True)
class Saved:
    """What became of a finished inflation: its reading's key and its series' number, or why it was not taken."""

    reading: str = ""
    series: int = 0
    says: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """All that a capture needs to run.

    name          : of the source; two captures never have the same
    keeping       : where everything is on disk before it stands in the database
    save_recording, save_reading : write what was finished, in the store that is the present one
    finished      : called at the end, with whether all that came was saved
    began         : when the first sample was measured, where that was not when it came
    """

    name: str
    source: Source
    circumstances: Circumstances
    keeping: Keeping
    store: Store
    save_recording: Callable[[Path], Saved]
    save_reading: Callable[[InstrumentReading, datetime], Saved]
    finished: Callable[[bool], None]
    began: datetime | None = None


class Running:
    """One capture from its start to its end."""

    def __init__(self, order: Order) -> None:
        self.order = order
        self.board = Board()
        self._thread = threading.Thread(target=self._in_its_thread, name="quietlimb capture", daemon=True)
        self._looked: Reading | None = None
        self._waiting: list[Frame] = []
        self._told_s = float("-inf")
        self._inflated, self._all_saved = False, True
        self._idle_since_s: float | None = None
        self._heard = time.monotonic()
        self.now_mmhg: float | None = None
        self.lost = ""  # what to say while nothing comes from the source; empty while something does
        self.air = ""  # what to say where it has ended with a full cuff; empty before, and once the air is out

    def start(self) -> None:
        """Begin to listen."""
        self._thread.start()

    def stop(self) -> None:
        """End soon; what had arrived is kept and saved."""
        self.order.source.close()

    def air_is_out(self) -> None:
        """Somebody has seen that the cuff is empty, after the end."""
        self.air = ""

    @property
    def name(self) -> str:
        """By which one capture of a series is told from the next."""
        return self.order.keeping.folder.name

    @property
    def is_full(self) -> bool:
        """Whether the cuff was last seen with air in it, by a source that is a sensor on it."""
        return self.order.source.is_waveform and self.now_mmhg is not None and self.now_mmhg >= IDLE_MMHG

    def wait(self, seconds: float) -> bool:
        """Whether it has ended within so long."""
        self._thread.join(seconds)
        return not self._thread.is_alive()

    @property
    def is_alive(self) -> bool:
        """Whether anything may still come."""
        return self._thread.is_alive()

    def _in_its_thread(self) -> None:
        try:
            self.run()
        finally:
            connections.close_all()

    def run(self) -> None:
        """Listen until the source ends."""
        says = _("The capture has ended.")
        order, whole = self.order, False
        try:
            with working_in(order.store):
                for step in capture(order.source, order.keeping, order.circumstances, began=order.began):
                    self._take(step)
            whole = self._all_saved
        except QuietlimbError as error:
            says = f"{error.says}; {error.remedy}."
        except Exception:
            logger.exception("a capture broke off")
            says = _("The capture broke off; what was received is kept.")
        finally:
            order.keeping.close()
            order.finished(whole)
            self.air = at_the_end(self.now_mmhg if order.source.is_waveform else None) or ""
            self.board.tell("ended", says=says, air=self.air)
            self.board.end()

    def _take(self, step: Step) -> None:
        for kind in step.troubles:
            self.board.tell("trouble", says=trouble_sentence(kind, self.order.source.troubles[kind]))
        for reading in step.readings:
            self._tell_saved(self.order.save_reading(reading, datetime.fromtimestamp(step.frame.received_utc_s, UTC)))
        if step.pressure_mmhg is not None and step.time_s is not None:
            self.now_mmhg = step.pressure_mmhg
            if self.lost:
                self.lost, self._told_s = "", float("-inf")  # it goes on, and is told at once
            if step.moment is not None:
                self._follow(step.frame, step.moment)
            elif step.time_s - self._told_s >= TELL_EVERY_S:
                self._told_s = step.time_s
                self.board.tell("pressure", now=round(step.pressure_mmhg), full=self.is_full)
        self._watch_the_source(step)
        for inflation in step.inflations:
            if inflation.path is None:
                self.board.tell("refused", says=" ".join(map(say, after_the_end(inflation.finished))))
            else:
                saved, cut = self.order.save_recording(inflation.path), map(say, cuts(inflation.finished))
                self._tell_saved(replace(saved, says=" ".join((saved.says, *cut)).strip()))

    def _watch_the_source(self, step: Step) -> None:
        """Tell once that nothing comes: at once where the source has gone, otherwise after a while."""
        # Counted from here: what was done with the samples is no silence of the source, nor are lines before its unit.
        if step.time_s is not None or (self.now_mmhg is None and step.frame.lines):
            self._heard = time.monotonic()
        sensor = self.order.source.is_waveform
        silent = time.monotonic() - self._heard > (LOST_S if sensor else INSTRUMENT_LOST_S)
        gone = "went-away" in step.troubles and "came-back" not in step.troubles
        if not self.lost and (gone or silent):
            self.lost = when_lost(self.now_mmhg) if sensor else when_an_instrument_is_silent()
            self.board.tell("lost", says=self.lost, full=self.is_full, at_once=sensor)

    def _follow(self, frame: Frame, moment: Moment) -> None:
        inflated = moment.phase in ("inflating", "deflating")
        if inflated and not self._inflated:
            self._waiting.clear()
            self.board.begin()
            self.board.tell("begun")
        changed, self._inflated = inflated != self._inflated, inflated
        self._waiting.append(frame)
        if changed or moment.time_s - self._told_s >= (TELL_EVERY_S if inflated else TELL_IDLE_EVERY_S):
            self._tell(moment)
        if inflated or self._idle_since_s is None:
            self._idle_since_s = moment.time_s
        elif moment.time_s - self._idle_since_s > IDLE_ENDS_S:
            self.stop()

    def _tell(self, moment: Moment) -> None:
        self._told_s = moment.time_s
        if self._inflated:  # of an empty cuff the number is enough
            time_s = np.concatenate([frame.time_s for frame in self._waiting])
            pressure = np.concatenate([frame.cuff_pressure_mmhg for frame in self._waiting])
            self.board.tell("samples", **samples_told(time_s, pressure))
        self._waiting.clear()
        told = {**moment_told(moment), "full": self._inflated or self.is_full}
        if moment.reading is not self._looked:
            self._looked = moment.reading
            told["pulses"] = pulses_told(moment.pulses)
        self.board.tell("moment", **told)

    def _tell_saved(self, saved: Saved) -> None:
        self._all_saved = self._all_saved and bool(saved.reading)
        self.board.tell("saved", reading=saved.reading, series=saved.series, says=saved.says)


class Captures:
    """The captures of this process, one for a series at most."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._running: dict[uuid.UUID, Running] = {}

    def of(self, series_id: uuid.UUID) -> Running | None:
        """The capture of a series; one that has ended stays until the next, so that a late screen sees its end."""
        return self._running.get(series_id)

    def alive(self) -> set[uuid.UUID]:
        """The series that are listened to now."""
        with self._lock:
            return {key for key, each in self._running.items() if each.is_alive}

    def start(self, series_id: uuid.UUID, order: Order) -> Running | None:
        """Start one; None where this series has one, or another one has the same source."""
        with self._lock:
            alive = {key: each for key, each in self._running.items() if each.is_alive}
            if series_id in alive or any(each.order.name == order.name for each in alive.values()):
                return None
            running = self._running[series_id] = Running(order)
            self._forget_all_but(alive.keys() | {series_id})
            running.start()
        return running

    def _forget_all_but(self, wanted: Iterable[uuid.UUID]) -> None:
        """Of those that have ended, keep the newest few."""
        keep = set(wanted)
        ended = [key for key in self._running if key not in keep]
        for key in ended[:-8]:
            del self._running[key]


CAPTURES = Captures()
