"""`quietlimb check`."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from cli.conftest import Run
from quietlimb.cli import check as command
from quietlimb.exchange.recording_csv import write_recording
from quietlimb.exchange.schemas import schema
from quietlimb.figures.invented import INVENTED_WORDS
from quietlimb.instruments.limits import EXHAUST_LIMITS, LEAK_LIMITS, STATIC_LIMITS
from quietlimb.simulator.closed_cuff import ClosedCuff, record_bleed, record_closed_cuff, record_exhaust

STATIC = """# instrument: dial of room 2
reference_mmHg,instrument_mmHg,direction
0,0,up
50.1,51,up
100,101,up
150,152,up
200,203,up
250,256,up
250,256,down
200,203,down
150,152,down
100,102,down
50,52,down
0,1,down
"""
DRIFT = """date,error_mmHg
2028-01-10,0.2
2028-07-10,0.5
2029-01-10,0.4
2029-07-10,0.9
2030-01-10,1.2
2030-07-10,1.3
2031-01-10,1.8
2031-07-10,2.1
"""
CUFF = ClosedCuff(leak_mmhg_per_min=2.0, settling_share=0.03, settling_s=8.0)


@pytest.fixture
def static(tmp_path: Path) -> Path:
    """Points at rest of a dial that reads 6 mmHg too high at 250."""
    path = tmp_path / "static.csv"
    path.write_text(STATIC, encoding="utf-8")
    return path


@pytest.fixture
def checks(tmp_path: Path) -> Path:
    """Eight half-yearly checks whose error grows."""
    path = tmp_path / "checks.csv"
    path.write_text(DRIFT, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Recordings of a cuff on a cylinder: held, let out, bled."""
    folder = tmp_path_factory.mktemp("bench")
    write_recording(record_closed_cuff(61, CUFF), folder / "held.csv")
    write_recording(record_exhaust(62), folder / "out.csv")
    write_recording(record_bleed(63), folder / "bled.csv")
    return folder


def told(result: Any, name: str) -> list[dict[str, Any]]:
    """The JSON lines of a run, checked against their schema."""
    lines = [json.loads(line) for line in result.stdout.splitlines()]
    for line in lines:
        Draft202012Validator(schema(name)).validate(line)
    return lines


def test_the_codes_are_those_of_the_limits():
    """The command line lists them without loading numbers; they must not part.

    Oracle: by construction.
    """
    assert list(STATIC_LIMITS) == list(command.STATIC_CODES)
    assert list(LEAK_LIMITS) == list(command.LEAK_CODES)
    assert list(EXHAUST_LIMITS) == list(command.EXHAUST_CODES)


def test_a_dial_that_reads_too_high_fails_with_source_and_remedy(run: Run, static: Path):
    """Worst error, limit with its standing, verdict, and that it grows with pressure; cautions at the end.

    Oracle: by construction, +6 at 250 mmHg; limit from memory.
    """
    result = run("check", "static", static)
    assert result.exit_code == 0, result.output
    text = " ".join(result.stdout.split())
    assert "worst error +6.0 (+4.6 to +7.4) mmHg at 250 mmHg" in text
    assert "ISO 81060-1:2007, from memory: not checked against the print): fails." in text
    assert "The error grows by" in text
    assert "Never check on an animal" in text
    assert all(len(line) <= 100 for line in result.stdout.splitlines())


def test_another_limit_and_a_certificate_change_the_verdict(run: Run, static: Path):
    """Beside a manometer that itself reads 3 mmHg too low the dial is 3 mmHg too low at 0 and 3 too high at 250.

    Oracle: by construction; limit from memory, 4 mmHg in use.
    """
    (plain,) = told(run("check", "static", static, "--json"), "check")
    assert plain["verdict"] == "fails"
    (mended,) = told(
        run("check", "static", static, "--limit", "in-use", "--reference-correction", "3", "--json"), "check"
    )
    assert mended["figures"][0]["value"] == -3.0
    assert mended["verdict"] == "passes-crossing"
    assert mended["limit"] == "in-use"
    assert mended["instrument"] is None


def test_a_certificate_that_no_manometer_has_is_wrong_use(run: Run, static: Path):
    """Oracle: by construction."""
    result = run("check", "static", static, "--reference-uncertainty", "-1")
    assert result.exit_code == 2
    assert "certificate" in result.stderr


@pytest.mark.parametrize(
    ("change", "line", "says"),
    [
        (("50.1,51,up", "50.1,51"), 4, "2 cells under 3 columns"),
        (("100,101,up", "100,1010,up"), 5, "1010 mmHg, outside"),
        (("100,101,up", "100,x,up"), 5, "not a number"),
        (("150,152,up", "150,152,rising"), 6, "direction is 'rising'"),
        (("instrument_mmHg", "instrument"), 2, "has no unit"),
        (("reference_mmHg", "refrence_mmHg"), 2, "no column for reference"),
    ],
)
def test_what_is_wrong_is_named_with_its_line(run: Run, static: Path, change: tuple[str, str], line: int, says: str):
    """One line on stderr, exit code 3, and the other file is still done.

    Oracle: by construction, the exit codes of docs/commands.md.
    """
    wrong = static.with_name("wrong.csv")
    wrong.write_text(STATIC.replace(*change, 1), encoding="utf-8")
    result = run("check", "static", wrong, static)
    assert result.exit_code == 3
    assert f"wrong.csv, line {line}: " in result.stderr
    assert says in result.stderr
    assert "+6.0" in result.stdout
    both = told(run("check", "static", wrong, static, "--json"), "check")
    assert both[0]["error"]["line"] == line
    assert both[1]["verdict"] == "fails"


def test_pressures_in_kpa_are_converted_and_decimal_commas_read(run: Run, tmp_path: Path):
    """20 kPa beside 150 mmHg agree to 0.01 mmHg.

    Oracle: by construction, 1 kPa = 7.50062 mmHg.
    """
    path = tmp_path / "kpa.csv"
    path.write_text("manometer_kPa;display_mmHg\n20,0;150\n26,664;200\n", encoding="utf-8")
    (found,) = told(run("check", "display", path, "--json"), "check")
    assert found["verdict"] == "passes"
    assert abs(found["figures"][0]["value"]) < 0.02


def test_leak_from_values_and_from_a_recording(run: Run, tmp_path: Path, bench: Path):
    """Both kinds of file in one call; the invented one says so, and the settling is left out.

    Oracle: by construction, 2 mmHg/min both; the simulated cuff loses 7.5 mmHg more by settling.
    """
    values = tmp_path / "values.csv"
    values.write_text("start_mmHg,end_mmHg,held_min\n250,240,5\n", encoding="utf-8")
    result = run("check", "leak", values, bench / "held.csv", "--picture", tmp_path / "leak.svg")
    assert result.exit_code == 0, result.output
    assert f"held.csv ({INVENTED_WORDS})" in result.stdout
    assert "fastest fall 2.0" in " ".join(result.stdout.split())
    assert "no picture" in result.stderr
    assert INVENTED_WORDS in (tmp_path / "leak-2.svg").read_text(encoding="utf-8")
    found = told(run("check", "leak", values, bench / "held.csv", "--json"), "check")
    assert [each["verdict"] for each in found] == ["passes", "passes"]
    assert [each["instrument"] for each in found] == [None, "simulator"]
    assert [each["figures"][0]["value"] for each in found] == [2.0, pytest.approx(2.0, abs=0.2)]


def test_exhaust_and_bleed_from_recordings(run: Run, bench: Path):
    """A bleeding valve is no exhaust; each is judged by its own limit.

    Oracle: by construction; limits from memory.
    """
    out, bled = told(run("check", "exhaust", bench / "out.csv", bench / "bled.csv", "--json"), "check")
    assert (out["verdict"], bled["verdict"]) == ("passes", "not-judged")
    assert [each["code"] for each in bled["findings"]] == ["opened-too-low"]
    (rate,) = told(run("check", "bleed", bench / "bled.csv", "--json"), "check")
    assert rate["verdict"] == "passes"
    assert rate["figures"][0]["value"] == pytest.approx(2.5, abs=0.02)


def test_a_recording_that_is_none_is_told(run: Run, static: Path, tmp_path: Path):
    """Points at rest are no recording of a closed cuff; a missing file is missing.

    Oracle: by construction.
    """
    result = run("check", "leak", static, tmp_path / "none.csv")
    assert result.exit_code == 3
    assert "no column for time" in result.stderr
    assert "none.csv" in result.stderr


def test_drift_tells_the_day_to_have_it_serviced_before(run: Run, checks: Path, tmp_path: Path):
    """Slope, day with interval, the chart's signals, the picture.

    Oracle: by construction; the numbers are held to linregress in tests/instruments.
    """
    picture = tmp_path / "drift.svg"
    result = run("check", "drift", checks, "--picture", picture)
    assert result.exit_code == 0, result.output
    text = " ".join(result.stdout.split())
    assert "+0.54 mmHg a year" in text
    assert "Have it serviced before 5 April 2032." in text
    assert "10 July 2031: the error lies outside" in text
    assert picture.read_text(encoding="utf-8").startswith("<svg")
    (found,) = told(run("check", "drift", checks, "--json"), "drift")
    assert found["forecast"]["service_by"] == "2032-04-05"
    assert found["checks"][-1]["signals"] == ["jump", "slow-drift"]


def test_drift_after_an_adjustment_and_with_wrong_dates(run: Run, checks: Path):
    """--since leaves earlier checks out; nothing after it, or no date, is an error with its remedy.

    Oracle: by construction.
    """
    (since,) = told(run("check", "drift", checks, "--since", "2030-07-01", "--json"), "drift")
    assert [each["date"] for each in since["checks"]] == ["2030-07-10", "2031-01-10", "2031-07-10"]
    assert since["forecast"]["reach"] == "too-few"
    late = run("check", "drift", checks, "--since", "2040-01-01", "--json")
    assert late.exit_code == 3
    assert told(late, "drift")[0]["error"]["code"] == "no-checks"
    assert run("check", "drift", checks, "--since", "last May").exit_code == 2
    checks.write_text(DRIFT.replace("2029-01-10", "10.1.2029"), encoding="utf-8")
    wrong = run("check", "drift", checks)
    assert wrong.exit_code == 3
    assert "line 4: date is '10.1.2029'" in wrong.stderr


def test_a_picture_never_lands_on_what_is_read(run: Run, static: Path):
    """Oracle: by construction."""
    linked = static.with_suffix(".svg")
    linked.symlink_to(static)
    result = run("check", "static", static, "--picture", linked)
    assert result.exit_code == 2
    assert static.read_text(encoding="utf-8") == STATIC
