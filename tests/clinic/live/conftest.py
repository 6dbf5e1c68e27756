"""A series that may be listened to, and sources that end."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import timedelta

import pytest
from django.utils import timezone

from clinic.examples import Clinic
from quietlimb.capture.errors import CaptureError
from quietlimb.capture.source import Frame, Source
from quietlimb.clinic.sessions import services
from quietlimb.clinic.sessions.models import Series
from quietlimb.exchange.line_decoder import Trouble


class Ending:
    """A source that ends after so many seconds of its own time, or breaks off there."""

    circumstances = None
    is_waveform = True

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
