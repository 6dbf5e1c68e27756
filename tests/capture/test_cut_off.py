"""A recording that the sensor, or what listened to it, cut off: told in its file as it was told live."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import pytest

from quietlimb.capture.capturing import Inflation, capture
from quietlimb.capture.file_at_pace import file_at_pace
from quietlimb.capture.keeping import Keeping, recover
from quietlimb.capture.line_stream import LineStream
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.live import watch as watch_module
from quietlimb.engine.reading import read
from quietlimb.exchange.pressure_lines import header_line, sample_line
from quietlimb.exchange.recording_csv import read_recording
from quietlimb.simulator.recordings import simulate_recording

CAT = Circumstances(species="cat")
STEP_US = 5000
BLAMING = {"systolic-side-missing", "diastolic-side-missing", "cuff-loose"}
END, START, BROKE_OFF = ("sensor", "end"), ("sensor", "start"), ("capture", "end")


@pytest.fixture(scope="module")
def lines() -> list[bytes]:
    """An inflation of an invented cat of 150/95 mmHg up to 120 mmHg of its fall, amid the large pulses, at 200 Hz."""
    made = simulate_recording(983_201, species="cat", sampling_hz=200.0, systolic=150.0, diastolic=95.0).recording
    pressure = made.cuff_pressure_mmhg
    until = int(pressure.argmax()) + int((pressure[pressure.argmax() :] < 120.0).argmax())
    head = [header_line("proto", 1), header_line("unit", "mmHg"), header_line("rate_hz", 200)]
    return [*head, *(sample_line(k, STEP_US * k, p) for k, p in enumerate(pressure[:until].tolist()))]


@pytest.fixture(autouse=True)
def _few_looks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Looks on the way take most of the time, and change nothing of the end."""
    monkeypatch.setattr(watch_module, "LOOK_EVERY_S", 1e9)


class Port:
    """Octets that are there at once; then it is gone, stays silent, or has ended."""

    def __init__(self, octets: bytes, then: str) -> None:
        self._octets, self._then = octets, then

    def read(self) -> bytes | None:
        """All of it, then what is to come."""
        if self._octets:
            given, self._octets = self._octets, b""
            return given
        if self._then == "gone":
            raise OSError("unplugged")
        time.sleep(0.02)
        return None if self._then == "ended" else b""

    def close(self) -> None:
        """Nothing to give back."""


def captured(source: LineStream, folder: Path, stops: Callable[[set[str], float], bool]) -> list[Inflation]:
    """What a capture makes of it, stopped by whoever measures once `stops` says so of the troubles and the seconds."""
    keeping, found, began = Keeping(folder), [], time.monotonic()
    for step in capture(source, keeping, CAT):
        found += step.inflations
        if stops({*source.troubles}, time.monotonic() - began):
            source.close()
    keeping.close()
    return found


def stream(lines: list[bytes], then: str) -> LineStream:
    """A sensor that sends these and then does that; one that is gone does not come back."""
    ports = iter([Port(b"".join(lines), then)])
    return LineStream(lambda: next(ports), comes_back=False)


@pytest.mark.parametrize(
    ("then", "stops"),
    [
        ("gone", lambda _troubles, _seconds: False),
        ("ended", lambda _troubles, _seconds: False),
        ("silent", lambda troubles, _seconds: "silent" in troubles),
    ],
)
def test_what_the_sensor_cut_is_told_in_its_file_as_live(
    lines: list[bytes], tmp_path: Path, then: str, stops: Callable[[set[str], float], bool]
) -> None:
    """Gone, ended or silent in mid-fall, and then stopped: live result, file, and what comes of the lines, played or
    recovered, tell the same cut, and nobody is told to inflate higher or to empty further.

    Oracle: by construction.
    """
    (live,) = captured(stream(lines, then), tmp_path / "kept", stops)
    assert live.path is not None
    assert live.finished.reading is not None
    file = read_recording(live.path)
    assert [(cut.by, cut.at) for cut in file.cuts] == [END]
    assert file.cuts[0].pressure_mmhg == pytest.approx(120.0, abs=3.0)
    assert file.cuts == live.finished.cuts
    again = read(file)
    assert again.findings == live.finished.reading.findings
    assert "cut-below" in {one.code for one in again.findings}
    assert not BLAMING & {one.code for one in again.findings}
    assert recover(tmp_path / "kept" / "received.txt").cuts == (END,)
    for name in ("received.txt", "reading-1.csv"):
        played = file_at_pace(tmp_path / "kept" / name, fast=True, species="cat")
        (once_more,) = [
            each for step in capture(played, Keeping(tmp_path / f"played {name}"), CAT) for each in step.inflations
        ]
        assert once_more.finished.reading is not None
        assert once_more.finished.reading.findings == again.findings


def test_what_whoever_measures_stopped_is_not_cut(lines: list[bytes], tmp_path: Path) -> None:
    """Stopped while the sensor speaks: the advice on emptying stands, for then it was a hand.

    Oracle: by construction.
    """
    keeping, source, found = Keeping(tmp_path), stream(lines, "silent"), []
    last_s = 1e-6 * STEP_US * (len(lines) - 10)
    for step in capture(source, keeping, CAT):
        found += step.inflations
        if step.time_s is not None and step.time_s > last_s:
            source.close()
    keeping.close()
    assert [each.finished.cuts for each in found] == [()]
    assert recover(keeping.lines_path).cuts == ()


def test_a_capture_that_was_killed_is_told_as_broken_off(lines: list[bytes], tmp_path: Path) -> None:
    """Its lines have a beginning and no end: what is made of them says that the capture broke off, and does not put it
    down to the sensor or to a hand. Lines of an older version, which told neither, are read as before.

    Oracle: by construction: a kill leaves the lines as they stand, so the end is left out here; that a kill leaves
    them is tested beside the keeping of lines.
    """
    captured(stream(lines, "gone"), tmp_path, lambda _troubles, _seconds: False)
    kept = (tmp_path / "received.txt").read_bytes().splitlines(keepends=True)
    assert kept[0].startswith(b"#received_begin=")
    assert [line.split(b"=")[0] for line in kept[-2:]] == [b"#received_nothing", b"#received_end"]
    killed = tmp_path / "killed.txt"
    killed.write_bytes(b"".join(kept[:-2]))
    assert recover(killed).cuts == (BROKE_OFF,)
    played = capture(file_at_pace(killed, fast=True, species="cat"), Keeping(tmp_path / "again"), CAT)
    (made,) = [each for step in played for each in step.inflations]
    assert made.path is not None
    codes = {one.code for one in read(read_recording(made.path)).findings}
    assert "capture-cut" in codes
    assert not BLAMING & codes
    older = tmp_path / "older.txt"
    older.write_bytes(b"".join(kept[1:-2]))
    assert recover(older).cuts == ()
    (as_before,) = [
        each
        for step in capture(file_at_pace(older, fast=True, species="cat"), Keeping(tmp_path / "older"), CAT)
        for each in step.inflations
    ]
    assert as_before.finished.reading is not None
    assert "diastolic-side-missing" in {one.code for one in as_before.finished.reading.findings}


def test_a_sensor_that_begins_to_speak_in_mid_fall_cut_the_start(lines: list[bytes], tmp_path: Path) -> None:
    """Silent for a second since the port was opened, and then amid the fall: the start is cut, and stays so when the
    file or the lines are played.

    Oracle: by construction.
    """
    head, samples = lines[:3], lines[3:]
    falling = samples[-2400:]  # 12 s down to 120 mmHg

    class Late(Port):
        def read(self) -> bytes | None:
            if self._octets and time.monotonic() < self.speaks_at:
                time.sleep(0.02)
                return b""
            return super().read()

    late = Late(b"".join([*head, *falling]), "ended")
    late.speaks_at = time.monotonic() + 1.6
    (live,) = captured(LineStream(lambda: late, comes_back=False), tmp_path / "kept", lambda _troubles, _seconds: False)
    assert [(cut.by, cut.at) for cut in live.finished.cuts] == [START, END]
    assert recover(tmp_path / "kept" / "received.txt").cuts == (START, END)
    played = capture(file_at_pace(tmp_path / "kept" / "reading-1.csv", fast=True), Keeping(tmp_path / "played"), CAT)
    (again,) = [each for step in played for each in step.inflations]
    assert again.finished.cuts == live.finished.cuts


def test_a_silence_that_was_late_delivery_cuts_nothing(lines: list[bytes], tmp_path: Path) -> None:
    """Nothing for a second, then all that was measured meanwhile: by the sensor's clock there is no gap.

    Oracle: by construction.
    """
    half = len(lines) // 2
    octets = [b"".join(lines[:half]), b"".join(lines[half:])]

    class Held(Port):
        waits_until = 0.0

        def read(self) -> bytes | None:
            if time.monotonic() < self.waits_until:
                time.sleep(0.02)
                return b""
            self.waits_until = time.monotonic() + 1.6
            return octets.pop(0) if octets else None

    source = LineStream(lambda: Held(b"", "ended"), comes_back=False)
    (live,) = captured(source, tmp_path, lambda _troubles, _seconds: False)
    assert source.troubles["silent"] >= 1
    assert b"#received_nothing=" in (tmp_path / "received.txt").read_bytes()
    assert live.finished.recording is not None
    assert live.finished.recording.time_s.size > 0.8 * (len(lines) - 3)
    assert [(cut.by, cut.at) for cut in live.finished.cuts] == [END]
