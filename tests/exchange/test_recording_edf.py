"""EDF and EDF+ files as recordings.

edfio writes the files; pyEDFlib, and a plain loop over the bytes, say what is in them.
"""

from __future__ import annotations

import subprocess
import sys
from datetime import date, time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from exchange.invented_channels import edf_file, falling, interrupted
from exchange.invented_files import refusal, written
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.recording import Recording
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.recording_edf import read_channel, read_recording

STEP_MMHG = 450 / 65535  # of 16 bits over -50 to 400, the range of the invented files
ECG = ("ECG II", "mV", np.sin(np.arange(1600) / 7.0))


def channel_by_hand(path: Path, wanted: int) -> list[float]:
    """The pressures of a channel, byte by byte from the description of EDF."""
    data = path.read_bytes()
    signals = int(data[252:256])

    def field(before: int, width: int, k: int) -> bytes:
        return data[256 + before * signals + width * k :][:width]

    counts = [int(field(216, 8, k)) for k in range(signals)]
    low, high = float(field(104, 8, wanted)), float(field(112, 8, wanted))
    digital_low, digital_high = int(field(120, 8, wanted)), int(field(128, 8, wanted))
    values = []
    at = 256 * (signals + 1)
    for _ in range(int(data[236:244])):
        for k, count in enumerate(counts):
            for j in range(count):
                if k == wanted:
                    number = int.from_bytes(data[at + 2 * j :][:2], "little", signed=True)
                    values.append(low + (number - digital_low) * (high - low) / (digital_high - digital_low))
            at += 2 * count
    return values


def test_a_file_is_read(tmp_path: Path) -> None:
    """One channel of pressure beside a faster one: values, times and circumstances of the annotations.

    Oracle: by construction. Tolerance: half a step of 16 bits for the values, float64 against the bytes.
    """
    notes = ["# species: cat", "# site: Left forelimb", "# cuff_width_cm: 2.5", "somebody sneezed: twice"]
    path = edf_file(
        tmp_path / "a.edf", [ECG, ("Cuff pressure", "mmHg", falling())], rates_hz=[200.0, 100.0], notes=notes
    )
    found = read_recording(path)
    np.testing.assert_allclose(found.cuff_pressure_mmhg, falling(), atol=0.5 * STEP_MMHG)
    np.testing.assert_allclose(found.cuff_pressure_mmhg, channel_by_hand(path, 1), rtol=1e-11)
    np.testing.assert_allclose(found.time_s, np.arange(800) / 100, atol=1e-12)
    assert found.circumstances == Circumstances(species="cat", site="forelimb", side="left", cuff_width_cm=2.5)


@pytest.mark.parametrize("plus", [True, False])
def test_pyedflib_reads_the_same(tmp_path: Path, plus: bool) -> None:
    """Labels, units, rates, values and annotations of EDF and EDF+ as another library sees them.

    Oracle: reference library, pyEDFlib 0.1.42 (no build for Python 3.13 and newer, where this is skipped). Tolerance:
    float64; both scale the same 16-bit integers.
    """
    library: Any = pytest.importorskip("pyedflib")
    notes = ["# species: cat", "# remarks: Pfötchen ruhig"] if plus else None
    path = edf_file(
        tmp_path / "a.edf",
        [ECG, ("Cuff pressure", "mmHg", falling(400))],
        rates_hz=[200.0, 50.0],
        notes=notes,
        startdate=date(2026, 11, 25),
        starttime=time(10, 30, 15),
        equipment="bench-2",
    )
    found = read_recording(path, species="cat")
    with library.EdfReader(str(path)) as theirs:
        assert (theirs.getSignalLabels()[1], theirs.getPhysicalDimension(1)) == ("Cuff pressure", "mmHg")
        values, rate_hz = theirs.readSignal(1), theirs.getSampleFrequency(1)
        texts = [str(text) for text in theirs.readAnnotations()[2]]
        started, equipment = theirs.getStartdatetime(), theirs.getEquipment()
    np.testing.assert_allclose(found.cuff_pressure_mmhg, values, rtol=1e-11)
    np.testing.assert_allclose(found.time_s, np.arange(values.size) / rate_hz, atol=1e-12)
    assert sorted(texts) == sorted(notes or [])
    if plus:
        told = found.circumstances
        assert (told.remarks, told.instrument) == ("Pfötchen ruhig", equipment)
        assert told.started_at == started.isoformat()


def test_kilopascals_are_converted(tmp_path: Path) -> None:
    """A physical dimension of kPa becomes mmHg.

    Oracle: published. The conventional millimetre of mercury: 13 595.1 kg/m3, standard gravity 9.80665 m/s2.
    Tolerance: half a step of 16 bits, converted.
    """
    kpa = falling(top=24.0, bottom=8.0)
    found = read_recording(edf_file(tmp_path / "a.edf", [("Cuff", "kPa", kpa)]))
    np.testing.assert_allclose(found.cuff_pressure_mmhg, kpa / 0.133322387415, atol=0.5 * STEP_MMHG / 0.133322387415)


def test_the_header_tells_what_has_one_meaning(tmp_path: Path) -> None:
    """Codes of animal and equipment and the start are taken; names of persons never.

    Oracle: by construction, from the specification of EDF+ [from memory].
    """
    path = edf_file(
        tmp_path / "a.edf",
        code="A-0042",
        name="Invented_Owner",
        technician="Invented_Nurse",
        equipment="bench-2",
        startdate=date(2026, 11, 25),
        starttime=time(10, 30, 15, 500000),
    )
    found = read_recording(path).circumstances
    assert found == Circumstances(
        species="cat", animal="A-0042", instrument="bench-2", started_at="2026-11-25T10:30:15.500000"
    )
    assert "Invented" not in repr(found)


def test_annotations_go_before_the_header(tmp_path: Path) -> None:
    """What an annotation tells is not contradicted by a field of the header.

    Oracle: by construction.
    """
    notes = ["# species: dog", "# animal: invented dog Fennel", "# started_at: 2026-11-25T10:30:00+01:00"]
    path = edf_file(tmp_path / "a.edf", notes=notes, code="A-0042", startdate=date(2026, 11, 25))
    found = read_recording(path).circumstances
    assert (found.animal, found.started_at) == ("invented dog Fennel", "2026-11-25T10:30:00+01:00")


def test_what_is_not_clear_in_the_header_is_left_out(tmp_path: Path) -> None:
    """Anonymous fields, plain EDF, fields that do not follow EDF+, and two dates that differ.

    Oracle: by construction.
    """
    bare = Circumstances(species="cat")
    assert read_recording(edf_file(tmp_path / "a.edf")).circumstances == bare
    path = edf_file(tmp_path / "b.edf", code="A-0042", equipment="bench", startdate=date(2026, 11, 25), notes=None)
    assert read_recording(path, species="cat").circumstances == bare
    path = edf_file(tmp_path / "c.edf", startdate=date(2026, 11, 25), code="A-0042", equipment="bench")
    data = path.read_bytes()
    written(path, data[:168] + b"26.11.26" + data[176:])
    assert read_recording(path).circumstances == Circumstances(species="cat", animal="A-0042", instrument="bench")
    written(path, data[:8] + b"Invented Owner and her cat".ljust(80) + b"whatever".ljust(80) + data[168:])
    assert read_recording(path).circumstances == bare
    for field in (b"31.11.26", b"01.01.85", b"rubbish!"):
        written(path, data[:168] + field + data[176:])
        assert read_recording(path).circumstances.started_at is None


def test_circumstances_follow_the_rules_of_csv(tmp_path: Path) -> None:
    """Species by option, defaults where the file is silent, misspelt and contradicting annotations told.

    Oracle: by construction.
    """
    path = edf_file(tmp_path / "a.edf", notes=[])
    refusal(read_recording, path, "species-missing", None, "--species cat", "# species: cat", "an annotation")
    assert read_recording(path, species="dog", defaults={"site": "tail"}).circumstances.site == "tail"
    cat = edf_file(tmp_path / "b.edf")
    refusal(lambda p: read_recording(p, species="dog"), cat, "species-conflict", None, "'cat'", "'dog'")
    misspelt = edf_file(tmp_path / "c.edf", notes=["# species: cat", "# positon: standing"])
    refusal(read_recording, misspelt, "misspelt-key", None, "position")
    twice = edf_file(tmp_path / "d.edf", notes=["# species: cat", "# species: dog"])
    refusal(read_recording, twice, "told-twice", None, "species")


def test_a_channel_can_be_asked_for(tmp_path: Path) -> None:
    """Two cuffs: refused with both, read by label or number; annotations are no channel.

    Oracle: by construction.
    """
    right = falling(top=200.0)
    path = edf_file(tmp_path / "a.edf", [("Cuff left", "mmHg", falling()), ("Cuff right", "mmHg", right)])
    refusal(read_recording, path, "channel-ambiguous", None, "1 'Cuff left'", "2 'Cuff right'", "--channel")
    for wanted in ("cuff right", "2"):
        assert read_recording(path, channel=wanted).cuff_pressure_mmhg[0] == pytest.approx(200.0, abs=STEP_MMHG)
    refusal(lambda p: read_recording(p, channel="3"), path, "channel-missing", None, "'3'", "2 'Cuff right'")


def test_samples_out_of_range_are_told_with_their_time(tmp_path: Path) -> None:
    """The objection names channel, sample and time; a wrong unit is thought of.

    Oracle: by construction.
    """
    high = falling()
    high[100] = 399.0
    path = edf_file(tmp_path / "a.edf", [("Cuff", "mmHg", high)])
    refusal(read_recording, path, "out-of-range", None, "channel 1 'Cuff', sample 101 at 1.00 s", "-20 to 350")
    low = edf_file(tmp_path / "b.edf", [("Cuff", "mmHg", falling(top=24.0, bottom=8.0))])
    refusal(read_recording, low, "kpa-suspected", None, "24.0 mmHg", "kPa as the physical dimension")


def test_a_short_interruption_is_a_gap_in_time(tmp_path: Path) -> None:
    """EDF+D: the second half begins 0.25 s late, and so do its times; the values are those of the continuous file.

    Oracle: by construction, onsets set by hand.
    """
    path = edf_file(tmp_path / "a.edf")
    whole = read_recording(path)
    found = read_recording(interrupted(path, [(4, 0.25)]))
    np.testing.assert_array_equal(found.cuff_pressure_mmhg, whole.cuff_pressure_mmhg)
    np.testing.assert_allclose(found.time_s, np.where(np.arange(800) < 400, 0.0, 0.25) + whole.time_s, atol=1e-12)


def test_interruptions_are_judged_as_the_gaps_of_a_csv_file_are(tmp_path: Path) -> None:
    """More than half a second, more than a tenth of the time, and records that overlap are refused.

    Oracle: by construction, the limits of docs/limits.md.
    """
    long = interrupted(edf_file(tmp_path / "a.edf"), [(4, 0.75)])
    refusal(read_recording, long, "gap", None, "sample 401 at 4.75 s", "0.76 s", "interruptions")
    many = interrupted(edf_file(tmp_path / "b.edf"), [(k, 0.25) for k in range(1, 8)])
    refusal(read_recording, many, "gap", None, "sample 101 at 1.25 s", "7 gaps")
    early = interrupted(edf_file(tmp_path / "c.edf"), [(4, -0.25)])
    refusal(read_recording, early, "time-backwards", None, "sample 401", "continuous")


def test_an_interrupted_file_without_onsets_is_refused(tmp_path: Path) -> None:
    """EDF+D that does not say when a record begins: nothing is assumed.

    Oracle: by construction.
    """
    path = edf_file(tmp_path / "a.edf")
    data = path.read_bytes()
    plain = edf_file(tmp_path / "b.edf", notes=None).read_bytes()
    spoiled = interrupted(path, [(4, 0.25)]).read_bytes().replace(b"+3\x14\x14", b"?3\x14\x14")
    assert len(spoiled) == len(data)
    refusal(lambda p: read_recording(p, species="cat"), written(path, spoiled), "edf-broken", None, "annotations")
    none = written(path, plain[:192] + b"EDF+D" + plain[197:])
    refusal(lambda p: read_recording(p, species="cat"), none, "edf-broken", None, "record 1", "EDF+C")


def test_a_truncated_or_open_file_is_refused(tmp_path: Path) -> None:
    """A file shorter or longer than its header tells, or never closed, is not half read.

    Oracle: by construction.
    """
    path = edf_file(tmp_path / "a.edf")
    data = path.read_bytes()
    refusal(read_recording, written(path, data[:-1]), "wrong-length", None, "8 records", "7.99", "copy")
    refusal(read_recording, written(path, data + b"\0"), "wrong-length", None, "8 records")
    refusal(read_recording, written(path, data[:236] + b"-1      " + data[244:]), "recording-open", None, "not closed")
    refusal(read_recording, written(path, data[:200]), "edf-broken", None, "export")
    refusal(read_recording, written(path, b""), "not-edf", None, "EDF")


def test_other_formats_are_told(tmp_path: Path) -> None:
    """BDF is named; text and anything else is no EDF.

    Oracle: by construction.
    """
    refusal(read_recording, written(tmp_path / "a.edf", b"\xffBIOSEMI" + b" " * 500), "not-edf", None, "BDF", "EDF+")
    refusal(read_recording, written(tmp_path / "a.edf", b"time_s,cuff"), "not-edf", None, "does not begin", "CSV")
    refusal(read_recording, tmp_path / "none.edf", "not-found", None, "no such file")


@pytest.mark.parametrize(("start", "field"), [(120, b"32767   "), (112, b"-50     ")])
def test_a_channel_without_range_is_refused(tmp_path: Path, start: int, field: bytes) -> None:
    """Digital or physical minimum equal to the maximum scales nothing.

    Oracle: by construction.
    """
    path = edf_file(tmp_path / "a.edf", notes=None)  # one signal, so that fields lie one after the other
    data = path.read_bytes()
    broken = written(path, data[: 256 + start] + field + data[256 + start + 8 :])
    refusal(lambda p: read_recording(p, species="cat"), broken, "not-calibrated", None, "no range", "minimum")


@settings(max_examples=150, deadline=2000, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_a_damaged_header_gives_a_result_or_an_error(tmp_path: Path, data: st.DataObject) -> None:
    """Whatever stands in the header or the annotations, reading ends with a recording or a FileError, soon.

    Oracle: by construction; the deadline is the oracle for "does not hang".
    """
    path = tmp_path / "whole.edf"
    if not path.exists():
        edf_file(path)
    whole = bytearray(path.read_bytes())
    header_bytes = 256 * 3
    at = data.draw(st.one_of(st.integers(0, header_bytes - 1), st.integers(header_bytes, len(whole) - 1)))
    nasty = data.draw(
        st.sampled_from([b"nan     ", b"inf", b"-1", b"0", b"99999999", b"1e99", b"\x14\x14", b"\xff\xfe", b" "])
    )
    whole[at : at + len(nasty)] = nasty
    found: Recording | FileError
    try:
        found = read_recording(written(tmp_path / "a.edf", bytes(whole)))
    except FileError as error:
        found = error
    assert isinstance(found, Recording) or str(found).isprintable()


def test_edfio_is_imported_only_for_edf_files() -> None:
    """Neither the package, nor the command line, nor the reader's module loads edfio before it is needed.

    Oracle: by construction, a fresh interpreter.
    """
    script = (
        "import sys, quietlimb.cli.main, quietlimb.exchange.recording_edf, quietlimb.exchange.recording_file;"
        "print('edfio' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_a_channel_is_read_whole_whatever_its_pressure(tmp_path: Path) -> None:
    """Of an artery's pressure beside a cuff's: every sample with its time; no species is asked for.

    Oracle: by construction, 100 samples a second. Tolerance: half a step of 16 bits over the range of the file.
    """
    artery = 120.0 + 20.0 * np.sin(np.arange(falling().size) / 9.0)
    path = edf_file(tmp_path / "a.edf", [("Cuff", "mmHg", falling()), ("ABP", "mmHg", artery)], notes=[])
    found = read_channel(path, "abp")
    assert (found.index, found.channel.label, found.channel.pressure_unit) == (1, "ABP", "mmHg")
    np.testing.assert_allclose(found.pressure, artery, rtol=0.0, atol=0.51 * STEP_MMHG)
    np.testing.assert_allclose(found.time_s, np.arange(artery.size) / 100.0)
    assert not found.invalid.any()
