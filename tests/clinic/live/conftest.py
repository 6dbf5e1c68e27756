"""A series that may be listened to, and sources that end."""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping
from datetime import timedelta

import pytest
from django.utils import timezone

from clinic.examples import Clinic
from quietlimb.capture.errors import CaptureError
from quietlimb.capture.source import Frame, Source
from quietlimb.clinic.sessions import services
from quietlimb.clinic.sessions.models import Series
from quietlimb.engine.recording import CutBy
from quietlimb.exchange.line_decoder import Trouble


class Ending:
    """A source that ends after so many seconds of its own time, or breaks off there."""

    circumstances = None
    is_waveform = True
    began_cut = False
    cut_by: CutBy | None = None

    def __init__(self, source: Source, *, seconds: float, breaks: bool = False) -> None:
        self._source, self._seconds, self._breaks = source, seconds, breaks

    @property
    def header(self) -> Mapping[str, str]:
        return self._source.header

    @property
    def troubles(self) -> Mapping[Trouble, int]:
        return self._source.troubles

    def frames(self) -> Iterator[Frame]:
        for frame in self._source.frames():
            yield frame
            if frame.time_s.size and frame.time_s[-1] >= self._seconds:
                break
        self._source.close()
        if self._breaks:
            raise CaptureError("gone", "the sensor is gone", "plug it in again")

    def close(self) -> None:
        self._source.close()


class Falling(Ending):
    """A source that tells nothing for a while after so many seconds, or is unplugged there; then it goes on or ends."""

    def __init__(self, source: Source, *, seconds: float, unplugged: bool = False, until: float | None = None) -> None:
        super().__init__(source, seconds=seconds)
        self.cut_by = "sensor" if until is None else None
        self._unplugged, self._until, self._own = unplugged, until, dict[Trouble, int]()

    @property
    def troubles(self) -> Mapping[Trouble, int]:
        return {**self._source.troubles, **self._own}

    def frames(self) -> Iterator[Frame]:
        said = False
        for frame in self._source.frames():
            yield frame
            newest = frame.time_s[-1] if frame.time_s.size else 0.0
            if newest >= self._seconds and not said:
                said = True
                if self._unplugged:
                    self._own["went-away"] = 1
                for _beat in range(4):
                    time.sleep(0.05)
                    yield Frame(received_utc_s=time.time())
                if self._until is None:
                    break
            if self._until is not None and newest >= self._until:
                break
        self._source.close()


@pytest.fixture
def series(clinic: Clinic) -> Series:
    """A series by oscillometry of a practice that is invented, on an open session."""
    clinic.practice.invented = True
    clinic.practice.save()
    clinic.session.started_at = timezone.now() - timedelta(minutes=5)
    clinic.session.save()
    made = Series(technique="oscillometric", site="forelimb", planned_readings=5)
    services.series_open(clinic.nurse, session=clinic.session, series=made)
    return Series.objects.select_related(*Series.FETCHED_WITH).get(pk=made.pk)
