"""A capture from the source to the rows of the series, run in this thread. Oracle: by construction (the simulator's
animal), and the engine's own `read` of what was kept."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from clinic.examples import Clinic
from clinic.live.conftest import Ending, Falling
from quietlimb.capture.keeping import Keeping
from quietlimb.capture.simulated import simulated
from quietlimb.capture.source import Frame, Source
from quietlimb.clinic.charting import described
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.live import left, services
from quietlimb.clinic.live import running as live
from quietlimb.clinic.live.running import Captures, Order, Running
from quietlimb.clinic.recordings.files import recording_of
from quietlimb.clinic.sessions.models import Reading, Series
from quietlimb.clinic.sessions.results import result_object
from quietlimb.clinic.stores import PRACTICE
from quietlimb.engine.reading import read
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.exchange.blood_pressure_service import decode_measurement
from quietlimb.exchange.line_decoder import Trouble

SEED = 11
# Of this animal's time: it is inflated from 1 to 32 s, and from 40 to 56 s.
FIRST_S, CUT_S, TWO_S = 33.0, 48.0, 58.0


def animal(seconds: float, *, breaks: bool = False) -> Ending:
    return Ending(simulated(SEED, species="cat", fast=True), seconds=seconds, breaks=breaks)


def order(clinic: Clinic, series: Series, source: Source, folder: Path) -> Order:
    by = clinic.nurse
    return Order(
        name="simulated",
        source=source,
        circumstances=described(series, None),
        keeping=Keeping(folder),
        store=PRACTICE,
        save_recording=lambda path: services.recording_save(by, series=services.fresh(series.pk), path=path),
        save_reading=lambda reading, at: services.reading_save(by, series=series, reading=reading, taken_at=at),
        finished=lambda whole: left.forget(folder) if whole else None,
    )


def told(running: Running) -> list[dict[str, Any]]:
    return [json.loads(each) for each in running.board.after(0)[0]]


def recorded(series: Series) -> list[Reading]:
    return list(Reading.objects.filter(series__session=series.session).exclude(recording=None))


def test_each_inflation_becomes_a_reading_with_the_result_of_its_recording(
    clinic: Clinic, series: Series, tmp_path: Path
) -> None:
    running = Running(order(clinic, series, animal(TWO_S), tmp_path / "a"))
    running.run()
    rows = recorded(series)
    assert len(rows) == 2
    for row in rows:
        kept = row.recording
        assert kept is not None
        again = read(recording_of(kept.name, bytes(kept.content), "cat"))
        assert kept.results[ENGINE_VERSION] == json.loads(json.dumps(result_object(again)))
        assert Entry.objects.filter(thing_id=row.pk, who=clinic.nurse, what="reading added").exists()
    assert not (tmp_path / "a").exists()  # all of it stands in the database
    assert told(running)[-1]["kind"] == "ended"


def test_what_it_tells_is_the_present_inflation_and_its_values(clinic: Clinic, series: Series, tmp_path: Path) -> None:
    running = Running(order(clinic, series, animal(FIRST_S), tmp_path / "a"))
    running.run()
    news = told(running)
    assert news[0]["kind"] == "begun"
    assert sum(each["kind"] == "begun" for each in news) == 1
    times = [t for each in news if each["kind"] == "samples" for t in each["t"]]
    assert times == sorted(times)
    assert any(each.get("pulses") for each in news)
    last = next(each for each in reversed(news) if each["kind"] == "moment" and "mean" in each["values"])
    value, low, high = last["values"]["mean"]
    assert low < value < high


def test_a_cut_capture_leaves_what_was_received_and_is_read_later_once(
    clinic: Clinic, series: Series, tmp_path: Path
) -> None:
    """It breaks off in the second inflation; afterwards the first is not doubled and the second is there as far as it
    came."""
    folder = left.folder_for(series, "cut")
    running = Running(order(clinic, series, animal(CUT_S, breaks=True), folder))
    running.run()
    before = len(recorded(series))
    assert folder.exists()
    [found] = left.left_of(series, running=None)
    assert found.name == "cut"
    assert found.seconds >= CUT_S
    says = services.left_recovered(clinic.nurse, series=services.fresh(series.pk), name="cut")
    assert not folder.exists()
    assert len({row.recording_id for row in recorded(series)}) == len(recorded(series)) >= before
    assert says == "" or "cannot be read" in says


def test_an_invented_recording_has_no_way_into_a_patients_series(
    clinic: Clinic, series: Series, tmp_path: Path
) -> None:
    clinic.practice.invented = False
    clinic.practice.save()
    running = Running(order(clinic, services.fresh(series.pk), animal(FIRST_S), tmp_path / "a"))
    running.run()
    assert recorded(series) == []
    assert any("invented" in each.get("says", "") for each in told(running))
    assert (tmp_path / "a").exists()  # what was not taken is not thrown away


class Instrument:
    """Measures by itself, as one with Bluetooth does, and shows where its cuff is."""

    circumstances = None
    is_waveform = False
    began_cut = False
    cut_by = None
    header: Mapping[str, str] = {}
    troubles: Mapping[Trouble, int] = {}

    def __init__(self, *octets: str) -> None:
        self._octets = octets

    def frames(self) -> Iterator[Frame]:
        now = time.time()
        yield Frame(time_s=np.array([0.0]), cuff_pressure_mmhg=np.array([120.0]), received_utc_s=now)
        for each in self._octets:
            yield Frame(received_utc_s=now, readings=(decode_measurement(bytes.fromhex(each)),))

    def close(self) -> None:
        """Nothing to close."""


def test_what_an_instrument_measured_stands_as_if_typed(clinic: Clinic, series: Series, tmp_path: Path) -> None:
    """Oracle: trade/interchange.md, octet strings C1 (152.5/84/108, 188 a minute; computed) and P4 (diastolic above
    systolic; published), of which the second cannot be."""
    c1, p4 = "1EF5F548F338F4EA0703010A0F00BC0002" + "0500", "01A0F0AAF0C8F0"
    running = Running(order(clinic, series, Instrument(c1, p4), tmp_path / "a"))
    running.run()
    row = Reading.objects.get(series=series)
    assert (row.systolic, row.mean, row.diastolic, row.pulse_rate) == (152.5, 108.0, 84.0, 188.0)
    news = told(running)
    assert [each["now"] for each in news if each["kind"] == "pressure"] == [120]
    assert any("cannot be" in each.get("says", "") for each in news)


@pytest.mark.parametrize("unplugged", [False, True])
def test_a_source_that_falls_silent_with_a_full_cuff_is_told_and_so_is_the_end(
    clinic: Clinic, series: Series, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, unplugged: bool
) -> None:
    """One piece of news, with what to do and the pressure last seen; unplugged it does not wait for the silence.

    The end says it too, and what a page asks that is loaded only then. The recording is stored as cut by the sensor,
    and nobody is told from it to inflate higher or to empty further.
    """
    monkeypatch.setattr(live, "LOST_S", 60.0 if unplugged else 0.1)
    source = Falling(simulated(SEED, species="cat", fast=True), seconds=12.0, unplugged=unplugged)
    running = Running(order(clinic, series, source, tmp_path / "a"))
    running.run()
    news = told(running)
    [lost] = [each for each in news if each["kind"] == "lost"]
    last = next(each for each in reversed(news) if each["kind"] == "moment")
    assert (lost["full"], lost["at_once"], last["full"]) == (True, True, True)
    assert running.now_mmhg is not None
    assert f"{running.now_mmhg:.0f} mmHg" in lost["says"]
    assert "let the air out" in lost["says"]
    kept = recorded(series)[0].recording
    assert kept is not None
    stored = kept.results[ENGINE_VERSION]
    assert stored == json.loads(json.dumps(result_object(read(recording_of(kept.name, bytes(kept.content), "cat")))))
    assert "cut-below" in json.dumps(stored)
    assert "side-missing" not in json.dumps(stored)
    assert news[-1]["kind"] == "ended"
    assert news[-1]["air"] == running.air
    assert running.air.startswith("Let the air out")
    running.air_is_out()
    assert running.air == ""


def test_a_source_that_comes_back_goes_on(
    clinic: Clinic, series: Series, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After the silence the pressure is told again with the first sample; an empty cuff at the end is no alarm."""
    monkeypatch.setattr(live, "LOST_S", 0.1)
    source = Falling(simulated(SEED, species="cat", fast=True), seconds=12.0, until=FIRST_S)
    running = Running(order(clinic, series, source, tmp_path / "a"))
    running.run()
    kinds = [each["kind"] for each in told(running)]
    assert kinds.count("lost") == 1
    assert "moment" in kinds[kinds.index("lost") + 1 :][:2]  # with the samples before it
    assert (running.lost, running.air, told(running)[-1]["air"]) == ("", "", "")
    assert [each["full"] for each in told(running) if each["kind"] == "moment"][-1] is False


def test_one_source_is_listened_to_once(clinic: Clinic, series: Series, tmp_path: Path) -> None:
    captures = Captures()
    endless = simulated(SEED, species="cat")
    first = captures.start(series.pk, order(clinic, series, endless, tmp_path / "a"))
    assert first is not None
    try:
        again = order(clinic, series, simulated(SEED), tmp_path / "b")
        assert captures.start(series.pk, again) is None
        assert captures.start(clinic.series.pk, again) is None  # the same source by its name
    finally:
        first.stop()
        assert first.wait(10)
