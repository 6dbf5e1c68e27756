"""`quietlimb capture`."""

from __future__ import annotations

import json
import os
import re
import select
import signal
import subprocess
import sys
import threading
import time
from decimal import Decimal
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from click.testing import CliRunner

from capture.fake_instrument import C1, C5, P2, FakeInstrument
from quietlimb.capture.bluetooth import InReach
from quietlimb.capture.capturing import capture as capture_steps
from quietlimb.capture.errors import CaptureError, nothing_measured
from quietlimb.capture.file_at_pace import file_at_pace
from quietlimb.capture.keeping import Keeping, recover
from quietlimb.cli.capture import circumstances_from
from quietlimb.cli.capture_text import Screen
from quietlimb.cli.main import quietlimb
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.reading import read
from quietlimb.exchange.pressure_lines import header_line, sample_line
from quietlimb.exchange.recording_csv import read_recording, write_recording
from quietlimb.exchange.schemas import schema
from quietlimb.simulator.recordings import simulate_recording

posix = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo-terminals")


@pytest.fixture(scope="module")
def lines() -> bytes:
    """An inflation at 200 Hz as a sensor would send it, in kilopascals, that does not say that it is invented."""
    made = simulate_recording(12, species="cat", sampling_hz=200.0, systolic=150.0, diastolic=95.0).recording
    head = header_line("proto", 1) + header_line("unit", "kPa") + header_line("rate_hz", 200)
    kpa = made.cuff_pressure_mmhg * 0.133322387415
    return head + b"".join(sample_line(k, 5000 * k, p, check=True) for k, p in enumerate(kpa.tolist()))


def test_a_file_played_gives_the_reading_of_the_file(run, recordings: Path, tmp_path: Path) -> None:
    """Text tells what is known while it falls, then the reading; what is kept is read and charted like any recording.

    Oracle: by construction, `read` on the same file: same values to the last figure shown.
    """
    played = run("capture", "--file", recordings / "r2.csv", "--fast", "--keep", tmp_path / "kept")
    assert played.exit_code == 0, played.output
    assert played.stdout.startswith("INVENTED, made by the simulator")
    assert "INVENTED  inflating" in played.stdout
    assert re.search(r"deflating .*pulses \d+  systolic \d+ \(\d+ to \d+\)", played.stdout)
    assert sorted(path.name for path in (tmp_path / "kept").iterdir()) == ["reading-1.csv", "received.txt"]
    told = run("read", tmp_path / "kept" / "reading-1.csv").stdout
    assert told.splitlines()[1:6] == run("read", recordings / "r2.csv").stdout.splitlines()[1:6]
    assert "\n".join(told.splitlines()[:6]) in played.stdout
    assert run("chart", tmp_path / "kept").exit_code == 0
    assert played.stderr == ""


def test_every_object_is_valid(run, recordings: Path, tmp_path: Path) -> None:
    """JSON: moments ten times a second, the reading as `read` tells it, the end; each valid by its committed schema.

    Oracle: by construction.
    """
    played = run("capture", "--file", recordings / "r2.csv", "--fast", "--keep", tmp_path / "kept", "--json")
    told = [json.loads(line) for line in played.stdout.splitlines()]
    validators = {name: jsonschema.Draft202012Validator(schema(name)) for name in ("capture", "read")}
    for each in told:
        validators[each["schema"].split("/")[1]].validate(each)
    moments = [each for each in told if each.get("event") == "now"]
    assert {each["invented"] for each in moments} == {True}
    seconds = moments[-1]["time_s"] - moments[0]["time_s"]
    assert len(moments) == pytest.approx(10 * seconds, rel=0.3)
    (reading,) = [each for each in told if each["schema"] == "quietlimb/read/1"]
    again = read(read_recording(tmp_path / "kept" / "reading-1.csv"))
    assert again.systolic is not None
    assert reading["systolic"]["value"] == pytest.approx(again.systolic.value, abs=5.1e-4)
    assert told[-1]["event"] == "end"
    assert told[-1]["recordings"] == [reading["recording"]]
    assert told[-1]["error"] is None


def test_standard_input_and_circumstances(lines: bytes, tmp_path: Path) -> None:
    """Lines through a pipe, in kilopascals, become a recording with the circumstances that were told.

    Oracle: by construction; the pressures are those of the simulated recording. Tolerance: nine decimals of a kPa.
    """
    command = ["capture", "--stdin", "--species", "cat", "--tell", "site=tail", "--tell", "cuff_width_cm=2,5"]
    done = subprocess.run(
        [sys.executable, "-m", "quietlimb", *command, "--keep", str(tmp_path / "kept")],
        input=lines + b"#unit=bar\n",
        capture_output=True,
        check=False,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    assert b"INVENTED" not in done.stdout
    kept = read_recording(tmp_path / "kept" / "reading-1.csv")
    assert (kept.circumstances.site, kept.circumstances.cuff_width_cm) == ("tail", 2.5)
    made = simulate_recording(12, species="cat", sampling_hz=200.0, systolic=150.0, diastolic=95.0).recording
    first = round(200.0 * kept.time_s[0])
    assert kept.cuff_pressure_mmhg == pytest.approx(made.cuff_pressure_mmhg[first : first + kept.time_s.size], abs=1e-7)
    assert abs(recover(tmp_path / "kept" / "received.txt").first_utc_s - time.time()) < 120.0


@posix
def test_a_sensor_on_a_serial_line_and_kill_9(lines: bytes, tmp_path: Path) -> None:
    """A real process on a pseudo-terminal is killed while the pressure falls; all that it called kept is there, and
    playing it again gives the reading so far.

    Oracle: by construction, what was sent.
    """
    from capture.pseudo_terminal import PseudoTerminal

    terminal = PseudoTerminal(tmp_path)
    command = [
        "capture",
        "--serial",
        str(terminal.port),
        "--species",
        "cat",
        "--json",
        "--keep",
        str(tmp_path / "kept"),
    ]
    child = subprocess.Popen([sys.executable, "-m", "quietlimb", *command], stdout=subprocess.PIPE)
    assert child.stdout is not None
    deadline = time.monotonic() + 180.0
    kept = tmp_path / "kept" / "received.txt"
    # Opening a port empties it: only what is sent once that is noted can arrive.
    while not (kept.exists() and kept.stat().st_size):
        assert time.monotonic() < deadline
        time.sleep(0.05)
    rows = lines.splitlines(keepends=True)
    kept_s = 0.0
    for first in range(0, int(0.75 * len(rows)), 200):
        terminal.send(b"".join(rows[first : first + 200]))
        while kept_s < first / 200 - 2.0:
            assert time.monotonic() < deadline
            kept_s = json.loads(child.stdout.readline()).get("kept_until_s") or kept_s
    child.send_signal(signal.SIGKILL)
    rest = child.stdout.read().splitlines()
    child.wait()
    child.stdout.close()
    terminal.unplug()
    told = [json.loads(line).get("kept_until_s") for line in rest[:-1]]
    kept_s = max([kept_s, *(each for each in told if each is not None)])
    found = recover(kept)
    assert kept_s > 5.0
    assert found.time_s[-1] >= kept_s - 1e-6
    assert [path.name for path in (tmp_path / "kept").iterdir()] == ["received.txt"]
    assert not set(found.troubles) - {"cut-line"}
    command = ["capture", "--file", str(kept), "--fast", "--species", "cat", "--keep", str(tmp_path / "again")]
    again = CliRunner().invoke(quietlimb, command)
    assert again.exit_code == 0, again.output
    whole = read_recording(tmp_path / "again" / "reading-1.csv")
    assert whole.time_s[-1] == pytest.approx(found.time_s[-1], abs=1e-6)


@posix
def test_on_a_terminal_one_line_is_written_over_and_ctrl_c_keeps(tmp_path: Path) -> None:
    """The pressure stands bold at the begin of a line that is written over; Ctrl+C ends it in good order and at once.

    Oracle: by construction. Tolerance: 10 s for the end, on a machine that does other things as well.
    """
    from capture.pseudo_terminal import PseudoTerminal  # noqa: F401  skipped where there are no such terminals

    ours, theirs = os.openpty()
    command = ["capture", "--simulated", "5", "--species", "dog", "--keep", str(tmp_path / "kept")]
    child = subprocess.Popen([sys.executable, "-m", "quietlimb", *command], stdout=theirs, stderr=theirs)
    os.close(theirs)
    shown, asked_at, deadline = b"", 0.0, time.monotonic() + 180.0
    while time.monotonic() < deadline:
        if select.select([ours], [], [], 0.2)[0]:
            try:
                got = os.read(ours, 65_536)
            except OSError:
                break
            shown += got
        if not asked_at and shown.count(b"\r\x1b[1m") > 60:
            child.send_signal(signal.SIGINT)
            asked_at = time.monotonic()
    child.wait(timeout=10)
    os.close(ours)
    assert child.returncode == 0
    assert time.monotonic() - asked_at < 10.0
    text = shown.decode()
    assert re.search(r"\r\x1b\[1m *\d+ mmHg\x1b\[0m   INVENTED   inflating", text)
    statuses = [part for part in text.split("\r") if part.startswith("\x1b[1m")]
    assert max(len(part.replace("\x1b[1m", "").replace("\x1b[0m", "").rstrip()) for part in statuses) < 80
    assert text.index("Let the air out: the cuff was last at") < text.index("Kept in")
    assert recover(tmp_path / "kept" / "received.txt").time_s.size > 600


@posix
@pytest.mark.parametrize("as_json", [False, True])
def test_an_instrument_with_bluetooth(run, tmp_path: Path, monkeypatch, as_json: bool) -> None:
    """Its readings are told as it sent them, with what it saw and could not see; what cannot be is asked about.

    Oracle: by construction; the octets are published or were computed by hand, see the tests of the service.
    """
    instrument = FakeInstrument([[C1, P2]], shows=[C5], feature=b"\x05\x00")
    monkeypatch.setattr("quietlimb.capture.bleak_link.connect", instrument.connect)
    interrupt = threading.Timer(2.0, os.kill, (os.getpid(), signal.SIGINT))
    interrupt.start()
    command = ["--bluetooth", "invented", "--species", "cat", "--keep", str(tmp_path / "kept")]
    done = run("capture", *command, *(["--json"] if as_json else []))
    interrupt.join()
    assert done.exit_code == 0, done.output
    assert recover(tmp_path / "kept" / "received.txt").readings[0].systolic == Decimal("152.5")
    if as_json:
        told = [json.loads(line) for line in done.stdout.splitlines()]
        for each in told:
            jsonschema.validate(each, schema("capture"))
        assert [each["usable"] for each in told if each["event"] == "instrument"] == [True, False]
        assert {each["pressure_mmHg"] for each in told if each["event"] == "now"} == {120.0}
        assert told[-1]["readings"] == 2
        return
    text = " ".join(done.stdout.split())
    assert "120 mmHg" in text
    assert "instrument: 152/108/84 mmHg, pulse rate 188 /min, its clock 2026-03-01T10:15:00" in text
    assert "instrument, not to be taken as it is: 908/795/608 mmHg" in text
    assert "- No cuff has such a pressure." in text
    assert "- movement: detected" in text
    assert "- not able to detect: loose cuff, pulse above" in text
    assert max(len(line) for line in done.stdout.splitlines() if not line.startswith("Kept in")) <= 80


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ([], "give one source"),
        (["--stdin", "--simulated", "3"], "give one source"),
        (["--stdin", "--fast", "--species", "cat"], "--fast is for"),
        (["--stdin"], "give --species"),
        (["--simulated", "3", "--tell", "sight=tail"], "tells nothing"),
        (["--simulated", "3", "--tell", "site"], "tells nothing"),
        (["--simulated", "3", "--tell", "site=tail", "--tell", "site=tail"], "told twice"),
        (["--simulated", "3", "--tell", "cuff_width_cm=wide"], "is not a number"),
        (["--simulated", "3", "--tell", "site=nose"], "use one of"),
        (["--simulated", "-1"], "Invalid value"),
        (["--in-reach", "--bluetooth", "invented"], "give no source with it"),
        (["--in-reach", "--seconds", "0"], "Invalid value"),
        (["--stdin", "--seconds", "5"], "--seconds is for --in-reach"),
    ],
)
def test_a_wrong_command_line_is_told(run, tmp_path: Path, monkeypatch, arguments: list[str], says: str) -> None:
    """Exit code 2, a sentence, and nothing is left on the disk.

    Oracle: by construction.
    """
    monkeypatch.chdir(tmp_path)
    done = run("capture", *arguments)
    assert done.exit_code == 2
    assert says in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_source_that_cannot_be_opened_leaves_nothing(run, tmp_path: Path, monkeypatch) -> None:
    """Exit code 3, one line, no folder: for a port that is not there, a file that is not, and no Bluetooth.

    Oracle: by construction.
    """
    monkeypatch.chdir(tmp_path)

    async def none(_address: str) -> None:
        raise CaptureError("no-bluetooth", "there is no Bluetooth", "plug an adapter in")

    monkeypatch.setattr("quietlimb.capture.bleak_link.connect", none)
    for arguments, says in (
        (["--serial", "nothing-here"], "--list names the ports"),
        (["--file", "nothing.csv"], "there is no such file"),
        (["--file", "nothing.txt"], "cannot be opened"),
        (["--bluetooth", "invented"], "plug an adapter in"),
    ):
        done = run("capture", *arguments, "--species", "cat")
        assert done.exit_code == 3, done.output
        assert says in done.stderr
        assert done.stdout == ""
    assert list(tmp_path.iterdir()) == []


def test_an_unknown_unit_is_refused_and_what_came_is_kept(tmp_path: Path) -> None:
    """The sentence names the units; the lines are there.

    Oracle: by construction.
    """
    done = subprocess.run(
        [sys.executable, "-m", "quietlimb", "capture", "--stdin", "--species", "cat", "--keep", str(tmp_path / "kept")],
        input=b"#proto=1\n#unit=bar\n0,0,1.0\n",
        capture_output=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == 3
    assert b"it has to tell one of mmHg, kPa, mbar, cmH2O, psi" in done.stderr


def piped(lines: bytes, folder: Path, *more: str) -> subprocess.CompletedProcess[bytes]:
    """A capture of these lines on standard input."""
    command = ["capture", "--stdin", "--species", "cat", "--keep", str(folder), *more]
    return subprocess.run(
        [sys.executable, "-m", "quietlimb", *command], input=lines, capture_output=True, check=False, timeout=120
    )


@pytest.mark.parametrize(("unit", "code"), [("mbar", 0), ("bar", 3)])
def test_a_unit_that_changes_on_the_way_ends_the_inflation_as_a_recording(
    run, tmp_path: Path, lines: bytes, unit: str, code: int
) -> None:
    """What came before is a recording, at once and again from the kept lines; a known unit goes on, another one fails.

    Oracle: by construction: the change is where two thirds of the samples were sent.
    """
    head, rows = lines.splitlines(keepends=True)[:3], lines.splitlines(keepends=True)[3:]
    at = 2 * len(rows) // 3
    told = header_line("unit", unit)
    after = [row if k % 200 else told + row for k, row in enumerate(rows[at:])]
    done = piped(b"".join([*head, *rows[:at], *after]), tmp_path / "kept")
    assert done.returncode == code, done.stderr
    assert (b"The sensor measures in another unit now" in done.stderr) == (code == 0)
    assert b"The sensor told another unit once" in done.stderr
    told = b" ".join(done.stdout.split())
    assert b"The recording was cut off by the sensor at" in told
    assert b"mmHg next time" not in told
    assert (b"Let the air out: the cuff was last at" in done.stderr) == (code == 3)
    again = run(
        "capture",
        "--file",
        tmp_path / "kept" / "received.txt",
        "--fast",
        "--species",
        "cat",
        "--keep",
        tmp_path / "again",
    )
    assert again.exit_code == code, again.output
    for folder in ("kept", "again"):
        first = read_recording(tmp_path / folder / "reading-1.csv")
        assert first.time_s[-1] == pytest.approx((at - 1) / 200, abs=1e-6)
        assert [(cut.by, cut.at) for cut in first.cuts] == [("sensor", "end")]


def test_a_sensor_that_goes_in_mid_fall_is_told_so_live_and_by_read(run, tmp_path: Path, lines: bytes) -> None:
    """The text and the JSON of the capture, and of `read` of its file, tell the cut, and give no advice on inflating
    or emptying.

    Oracle: by construction: the lines end amid the large pulses, above 95 mmHg.
    """
    head, rows = lines.splitlines(keepends=True)[:3], lines.splitlines(keepends=True)[3:]
    kpa = np.array([float(row.split(b",")[2].split(b"*")[0]) for row in rows])
    until = int(kpa.argmax()) + int((kpa[kpa.argmax() :] < 120.0 * 0.133322387415).argmax())
    stream = b"".join([*head, *rows[:until]])
    live = piped(stream, tmp_path / "kept").stdout.decode()
    kept = tmp_path / "kept" / "reading-1.csv"
    events = [json.loads(line) for line in piped(stream, tmp_path / "again", "--json").stdout.splitlines()]
    (streamed,) = [each for each in events if each["schema"] == "quietlimb/read/1"]
    (finished,) = json.loads("[" + run("read", kept, "--json").stdout.strip() + "]")
    jsonschema.validate(streamed, schema("read"))
    assert streamed["findings"] == finished["findings"]
    assert "cut-below" in [each["code"] for each in finished["findings"]]
    for text in (live, run("read", kept).stdout, json.dumps(finished["findings"])):
        told = " ".join(text.split())
        assert "The recording was cut off by the sensor at 1" in told
        assert "Check the sensor's connection and read again." in told
        assert "next time" not in told
        assert "before it is emptied" not in told


def test_a_trouble_that_goes_on_is_told_at_once_and_then_in_sums(tmp_path: Path, lines: bytes) -> None:
    """Every third sample comes twice: the first is told at once, the others at most once a second; nothing is lost.

    Oracle: by construction: so many samples come twice.
    """
    head, rows = lines.splitlines(keepends=True)[:3], lines.splitlines(keepends=True)[3:]
    stream = b"".join([*head, *(row * (2 if k % 3 == 0 else 1) for k, row in enumerate(rows))])
    twice = -(-len(rows) // 3)
    began = time.monotonic()
    done = piped(stream, tmp_path / "kept")
    passed_s = time.monotonic() - began
    found = re.findall(rb"(?:One came twice|Came twice and count once: (\d+))", done.stderr)
    told = [int(count or 1) for count in found]
    assert 2 <= len(told) <= passed_s + 2
    assert told[-1] == twice  # the sum, at the end
    events = [json.loads(line) for line in piped(stream, tmp_path / "again", "--json").stdout.splitlines()]
    counts = [each["count"] for each in events if each.get("event") == "trouble"]
    assert sum(counts) == twice
    assert len(counts) < twice / 10


def test_a_stream_that_ends_in_the_middle_of_a_line_is_told_so(tmp_path: Path, lines: bytes) -> None:
    """Which line, and what was left out with it, as text and for programs; what came before stays a recording.

    Oracle: by construction: the last line is cut after seven of its signs.
    """
    *whole, last = lines.splitlines()
    cut = b"\n".join([*whole, last[:7]])
    where = f"in the middle of line {len(whole) + 1}: what had come of it, '{last[:7].decode()}', was left out"
    done = piped(cut, tmp_path / "kept")
    assert done.returncode == 0, done.stderr
    assert where in done.stderr.decode()
    assert read_recording(tmp_path / "kept" / "reading-1.csv").time_s.size > 0
    told = [json.loads(line) for line in piped(cut, tmp_path / "again", "--json").stdout.splitlines()]
    (trouble,) = [each for each in told if each.get("event") == "trouble"]
    jsonschema.validate(trouble, schema("capture"))
    assert (trouble["kind"], trouble["line"]) == ("unfinished-line", len(whole) + 1)
    assert trouble["left_out"] == last[:7].decode()
    assert where in trouble["says"]
    assert told[-1]["troubles"] == {"unfinished-line": 1}
    assert b"unfinished" not in piped(lines, tmp_path / "whole", "--json").stdout


def test_an_end_with_a_full_cuff_tells_to_let_the_air_out_first(run, tmp_path: Path, lines: bytes) -> None:
    """Where the lines end while the cuff is full: before anything else of the end, and for programs too; not where a
    recording of it is played, for which nobody holds a valve.

    Oracle: by construction; half of the lines were sent.
    """
    half = b"".join(lines.splitlines(keepends=True)[: lines.count(b"\n") // 2])
    done = piped(half, tmp_path / "kept")
    assert done.returncode == 0
    assert re.match(rb"Let the air out: the cuff was last at \d\d+ mmHg", done.stderr)
    told = piped(half, tmp_path / "again", "--json")
    last = json.loads(told.stdout.splitlines()[-1])
    assert last["says"].encode() == told.stderr.strip()
    jsonschema.validate(last, schema("capture"))
    kept = tmp_path / "kept" / "received.txt"
    played = run("capture", "--file", kept, "--fast", "--species", "cat", "--keep", tmp_path / "played")
    assert "Let the air out" not in played.stderr


@posix
@pytest.mark.parametrize(("number", "more"), [("SIGTERM", []), ("SIGTERM", ["--json"]), ("SIGHUP", []), ("SIGINT", [])])
def test_told_to_end_it_ends_like_ctrl_c(tmp_path: Path, lines: bytes, number: str, more: list[str]) -> None:
    """With a source that has fallen silent over a full cuff: the air first, before the result, then everything kept.

    Oracle: by construction; half of the lines were sent, then the pipe stays open without a word. Tolerance: 30 s for
    the end, on a machine that does other things as well.
    """
    half = b"".join(lines.splitlines(keepends=True)[: lines.count(b"\n") // 2])
    command = ["capture", "--stdin", "--species", "cat", "--keep", str(tmp_path / "kept"), *more]
    # under nohup, as a test run may be, it would be ignored, and the child rightly leaves that so
    heard = signal.signal(getattr(signal, number), signal.SIG_DFL)
    child = subprocess.Popen(
        [sys.executable, "-m", "quietlimb", *command],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
    )
    signal.signal(getattr(signal, number), heard)
    with child:
        assert child.stdin is not None
        assert child.stdout is not None
        child.stdin.write(half)
        child.stdin.flush()
        said = b""
        while b"Nothing has come for a second" not in said:
            line = child.stdout.readline()
            assert line, said
            said += line
        silent = "Look at the manometer, and let the air out: nothing comes from the sensor, and the cuff was last at "
        assert said.index(silent.encode()) < said.index(b"Nothing has come for a second")
        child.send_signal(getattr(signal, number))
        rest = child.stdout.read()
        assert child.wait(timeout=30) == 0
    lines_said = [each for each in rest.decode().splitlines() if each and '"event": "now"' not in each]
    assert re.match(r"Let the air out: the cuff was last at \d\d+ mmHg", lines_said[0])
    result = next(k for k, each in enumerate(lines_said) if "reading-1.csv" in each)
    assert result > 0
    assert read_recording(tmp_path / "kept" / "reading-1.csv").time_s.size > 0
    if more:
        assert json.loads(lines_said[-1])["says"] == lines_said[0]


def over_300() -> bytes:
    """Lines of an inflation to 320 mmHg that falls and is emptied, 30 s in all, at 200 Hz."""
    time_s = np.arange(0.0, 30.0, 0.005)
    pressure = np.interp(time_s, (0.0, 1.0, 4.0, 5.0, 12.0, 28.0), (0.0, 0.0, 320.0, 320.0, 200.0, 0.0))
    head = header_line("proto", 1) + header_line("unit", "mmHg")
    return head + b"".join(sample_line(k, 5000 * k, p) for k, p in enumerate(pressure.tolist()))


def test_what_is_urgent_is_told_however_fast_the_samples_come(tmp_path: Path) -> None:
    """Lines far faster than real time: the valve is asked for, and not with each sample.

    Oracle: by construction: over 300, or still over 290 mmHg, for 3 s at most, so 4 lines at one a second.
    """
    done = piped(over_300(), tmp_path / "kept")
    assert done.returncode == 0, done.stderr
    assert 1 <= done.stdout.count(b"Open the valve now") <= 4
    told = piped(over_300(), tmp_path / "again", "--json").stdout
    assert b'"valve-open-now"' in told


def test_a_terminal_keeps_what_is_urgent_on_a_line_of_its_own(tmp_path: Path, capsys) -> None:
    """Once for each time that it becomes true, above the line that is written over.

    Oracle: by construction: one inflation over 300 mmHg.
    """
    (tmp_path / "over.txt").write_bytes(over_300())
    source, keeping = file_at_pace(tmp_path / "over.txt", fast=True), Keeping(tmp_path / "kept")
    screen = Screen()
    for step in capture_steps(source, keeping, Circumstances(species="cat")):
        screen.status(step)
    keeping.close()
    parts = re.split("[\r\n]+", capsys.readouterr().out)
    assert len([part for part in parts if re.match(r" *\d+\.\d s  Open the valve now: 3", part)]) == 1


def test_lines_that_say_invented_are_told_so_from_the_first_line_on(tmp_path: Path, lines: bytes) -> None:
    """As text and for programs, and again when the kept lines are played.

    Oracle: by construction.
    """
    marked = lines.replace(b"#rate_hz", b"#invented=yes\n#rate_hz", 1)
    text = piped(marked, tmp_path / "kept").stdout.decode().splitlines()
    assert text[0].startswith("INVENTED, made by the simulator")
    shown = [line for line in text if re.match(r" *\d+\.\d s ", line)]
    assert len(shown) > 10
    assert all("  INVENTED  " in line for line in shown)
    told = [json.loads(line) for line in piped(marked, tmp_path / "again", "--json").stdout.splitlines()]
    assert {each["invented"] for each in told if each.get("event") == "now"} == {True}
    (reading,) = [each for each in told if each["schema"] == "quietlimb/read/1"]
    assert reading["invented"] is True
    assert any("reading-1.csv (INVENTED - not a patient): " in line for line in text)


def test_a_file_of_lines_that_say_invented_is_told_so(run, tmp_path: Path, lines: bytes) -> None:
    """What an earlier capture kept bears the mark, and so does what is played from it.

    Oracle: by construction.
    """
    (tmp_path / "received.txt").write_bytes(lines.replace(b"#rate_hz", b"#invented=yes\n#rate_hz", 1))
    played = run("capture", "--file", tmp_path / "received.txt", "--fast", "--species", "cat", "--keep", tmp_path / "k")
    assert played.stdout.startswith("INVENTED, made by the simulator")


@pytest.mark.parametrize(
    ("lines_in", "says"),
    [
        (b"", b"the source ended without a sample"),
        (b"#proto=1\n#unit=mmHg\n", b"the source ended without a sample"),
        (b"Dear diary, today it rained.\n" * 300, b"none was a sample that can be read"),
        (b"\xff" * 5000, b"none was a sample that can be read"),
        (b"0,0,1", b"none was a sample that can be read"),
        (b"#proto=1\n0,0,1.0\n1,5000,1.0\n", b"samples came, and no unit"),
    ],
)
def test_what_is_not_understood_ends_with_code_3(tmp_path: Path, lines_in: bytes, says: bytes) -> None:
    """Nothing, no sample, no lines of the protocol, or no unit: a sentence each, as commands.md says of exit codes.

    Oracle: by construction.
    """
    done = piped(lines_in, tmp_path / "kept")
    assert done.returncode == 3, done.stdout
    assert says in done.stderr
    told = piped(lines_in, tmp_path / "again", "--json").stdout.splitlines()
    assert not told or json.loads(told[-1])["error"] is not None


def test_one_who_stops_before_anything_came_made_no_mistake() -> None:
    """Stopped by hand it is no failure, unless lines had come that are not the protocol's.

    Oracle: by construction.
    """
    assert nothing_measured({"silent": 3}, interrupted=True) is None
    failed = nothing_measured({"unreadable-line": 3}, interrupted=True)
    assert failed is not None
    assert failed.code == "no-sample"


def test_by_default_a_folder_is_named_by_date(run, tmp_path: Path, monkeypatch) -> None:
    """The folder stands in the present one; an older one is never written into.

    Oracle: by construction.
    """
    made = simulate_recording(3, species="cat").recording
    write_recording(made, tmp_path / "one.csv")
    monkeypatch.chdir(tmp_path)
    assert run("capture", "--file", "one.csv", "--fast").exit_code == 0
    (folder,) = [path for path in tmp_path.iterdir() if path.is_dir()]
    assert re.fullmatch(r"capture-\d{4}-\d\d-\d\d-\d{6}", folder.name)


def test_ports_are_listed(run, monkeypatch) -> None:
    """One line a port on stdout; none is said on stderr.

    Oracle: by construction.
    """
    from quietlimb.capture import serial_line

    monkeypatch.setattr(serial_line, "ports", lambda: [serial_line.Port("/dev/invented0", "a sensor")])
    assert run("capture", "--list").stdout == "/dev/invented0  a sensor\n"
    monkeypatch.setattr(serial_line, "ports", list)
    done = run("capture", "--list")
    assert (done.stdout, done.exit_code) == ("", 0)
    assert "plugged in" in done.stderr


@pytest.mark.parametrize("as_json", [False, True])
def test_instruments_in_reach_are_named(run, tmp_path: Path, monkeypatch, as_json: bool) -> None:
    """One line each on stdout, as text or as an object of the schema; nothing is kept, and no source is opened.

    Oracle: by construction.
    """
    asked: list[float] = []

    async def two(*, seconds: float) -> tuple[InReach, ...]:
        asked.append(seconds)
        named = InReach(address="00:00:5E:00:53:01", name="invented\ncuff", strength_dbm=-48)
        return named, InReach(address="00:00:5E:00:53:02", name="", strength_dbm=-71)

    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("quietlimb.capture.bleak_link.in_reach", two)
    done = run("capture", "--in-reach", "--seconds", "3", *(["--json"] if as_json else []))
    assert done.exit_code == 0, done.output
    assert asked == [3]
    assert list(tmp_path.iterdir()) == []
    rows = done.stdout.splitlines()
    if as_json:
        told = [json.loads(row) for row in rows]
        for each in told:
            jsonschema.validate(each, schema("capture"))
        assert [(each["address"], each["name"]) for each in told] == [
            ("00:00:5E:00:53:01", "invented\ncuff"),
            ("00:00:5E:00:53:02", None),
        ]
    else:
        first, second = "00:00:5E:00:53:01  invented\\ncuff  -48 dBm", "00:00:5E:00:53:02  tells no name  -71 dBm"
        assert rows == [first, second]


def test_none_in_reach_and_no_bluetooth_are_told(run, monkeypatch) -> None:
    """None in reach is an answer, with what to try; no Bluetooth is code 3, as for every source that cannot be opened.

    Oracle: by construction.
    """

    async def none(*, seconds: float) -> tuple[InReach, ...]:
        return ()

    async def fails(*, seconds: float) -> tuple[InReach, ...]:
        raise CaptureError("no-bluetooth", "there is no Bluetooth", "plug an adapter in")

    monkeypatch.setattr("quietlimb.capture.bleak_link.in_reach", none)
    done = run("capture", "--in-reach")
    assert (done.stdout, done.exit_code) == ("", 0)
    assert "None was heard in 10 s" in done.stderr
    monkeypatch.setattr("quietlimb.capture.bleak_link.in_reach", fails)
    done = run("capture", "--in-reach")
    assert (done.stdout, done.exit_code) == ("", 3)
    assert "plug an adapter in" in done.stderr


def test_a_decimal_comma_is_a_number() -> None:
    """As in every number that is typed.

    Oracle: by construction.
    """
    assert circumstances_from(("cuff_width_cm=2,5", "remarks=a = b")) == {"cuff_width_cm": 2.5, "remarks": "a = b"}
