"""The clinic's series are the command line's: same readings, same answer to the last digit."""

from __future__ import annotations

import json
import uuid
from datetime import timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner
from django.utils import timezone

from clinic.examples import Clinic, reading
from quietlimb.cli.main import quietlimb
from quietlimb.clinic.charting import described, engine_series, told
from quietlimb.clinic.sessions.models import Reading, Recording
from quietlimb.clinic.sessions.results import reading_of, result_object
from quietlimb.engine.errors import SeriesError
from quietlimb.engine.reading import read
from quietlimb.engine.session.series import Series, series_from_readings
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.exchange.readings_csv import write_readings
from quietlimb.exchange.results_json import charted_object
from quietlimb.simulator.sessions import simulate_session

TYPED = ((0, 186, 148, 120), (1.5, 174, 139, 113), (3.25, 169, 135, 109), (4.5, 168, 135, 109), (6, 165, None, None))


def series_of(clinic: Clinic) -> Series:
    """The engine's series of the clinic's series."""
    found = engine_series(clinic.series, clinic.series.readings.all())
    assert found is not None
    return found


def on_the_command_line(path: Path) -> dict[str, object]:
    """What `quietlimb chart --json` says of a file."""
    done = CliRunner().invoke(quietlimb, ["chart", str(path), "--json"])
    assert done.exit_code == 0, done.output
    told: dict[str, object] = json.loads(done.stdout)
    return told


def test_the_charted_pressure_is_that_of_the_command_line(clinic: Clinic, tmp_path: Path) -> None:
    """Charted values, guideline average, weights, enough, meaning and fingerprint agree, digit by digit.

    Oracle: reference, `quietlimb chart` on the same readings written to a file.
    """
    for minute, *values in TYPED:
        reading(clinic, minute, *values)
    series = series_of(clinic)
    path = tmp_path / "visit.csv"
    write_readings(series, path)
    answer = told(series)
    here = charted_object(str(path), answer.charted, answer.interpretation, answer.enough)
    assert json.loads(json.dumps(here)) == on_the_command_line(path)
    assert answer.charted.systolic is not None
    assert 160 < answer.charted.systolic.value < 172


def test_struck_readings_were_never_there_and_spoiled_ones_are_set_aside(clinic: Clinic) -> None:
    """What was struck through leaves the series, minutes included. What spoiled stays as the first reading that was
    taken, so that none that counts is dropped for being first.

    Oracle: by construction, the series without the one and with the other.
    """
    reading(clinic, -3, 90, struck_at=clinic.started_at, struck_by=clinic.nurse)
    reading(clinic, -1, None, spoiled="moved")
    for minute, *values in TYPED:
        reading(clinic, minute, *values)
    series = series_of(clinic)
    assert series.minute.tolist() == [0, *(minute + 1 for minute, *_ in TYPED)]
    assert series.set_aside == (1,)
    charted = told(series).charted
    assert charted.guideline is not None
    assert charted.guideline.kept == (2, 3, 4, 5, 6)
    assert charted.readings[0].verdict == "discard"
    alone = engine_series(clinic.series, Reading.objects.filter(spoiled="moved"))
    assert alone is not None
    assert told(alone).charted.systolic is None
    assert engine_series(clinic.series, Reading.objects.exclude(struck_at=None)) is None


def test_circumstances_are_told_as_the_engine_names_them(clinic: Clinic) -> None:
    """The settling time counts from coming in to the first reading; what was not told stays untold.

    Oracle: by construction.
    """
    reading(clinic, 2, 150)
    around = series_of(clinic).circumstances
    assert around.acclimatisation_min == pytest.approx(7.0)
    assert (around.species, around.site, around.side, around.place) == ("cat", "forelimb", "left", "carrier")
    assert (around.cuff, around.cuff_width_cm, around.limb_circumference_cm) == ("the small one", 3.0, 8.7)
    assert (around.instrument, around.read_by, around.held_by, around.sedation) == ("grey box", "Wren", None, None)


def test_the_same_question_is_worked_out_once(clinic: Clinic) -> None:
    """Asked again, the same answer comes back; other organs or one reading more make another question.

    Oracle: by construction, identity of the objects.
    """
    for minute, *values in TYPED:
        reading(clinic, minute, *values)
    first = told(series_of(clinic))
    assert told(series_of(clinic)) is first
    assert told(series_of(clinic)).charted is first.charted
    assert told(series_of(clinic), organs={"eyes": "present"}) is not first
    reading(clinic, 8, 164)
    assert told(series_of(clinic)) is not first


def test_the_order_is_that_of_taking_whatever_the_order_of_saving(clinic: Clinic) -> None:
    """Readings kept on a tablet and sent late stand where they belong.

    Oracle: by construction.
    """
    for minute, *values in reversed(TYPED):
        reading(clinic, minute, *values)
    assert series_of(clinic).systolic.tolist() == [systolic for _, systolic, *_ in TYPED]


def test_a_series_of_recordings_is_charted_from_what_was_kept_of_them(clinic: Clinic) -> None:
    """Readings of recordings, kept as JSON, give the series of the readings themselves, by fingerprint.

    Oracle: reference, the engine on the readings before they were kept; simulated, seed 5.
    """
    made = simulate_session(5, species="cat", course="falling")
    readings = read([each.recording for each in made.recordings[:3]])
    minutes = made.minute.tolist()[:3]
    for k, found in enumerate(readings):
        kept = Recording.objects.create(
            practice=clinic.practice,
            sha256=f"{k:064d}",
            name=f"{k}.csv",
            content=b"",
            results={ENGINE_VERSION: result_object(found)},
        )
        taken_at = clinic.started_at + timedelta(minutes=minutes[k])
        Reading.objects.create(
            practice=clinic.practice,
            series=clinic.series,
            client_id=uuid.uuid4(),
            ordinal=k,
            taken_at=taken_at,
            saved_at=taken_at,
            saved_by=clinic.nurse,
            recording=kept,
        )
    series = series_of(clinic)
    direct = series_from_readings(readings, series.minute.tolist(), series.circumstances)
    assert series.fingerprint_with({}) == direct.fingerprint_with({})
    assert series.findings == direct.findings
    assert reading_of(json.loads(json.dumps(result_object(readings[0])))).systolic == readings[0].systolic
    reading(clinic, 20, 150)
    with pytest.raises(SeriesError, match="among recordings"):
        series_of(clinic)
    Reading.objects.filter(recording=None).update(struck_at=clinic.started_at)
    Recording.objects.update(results={})
    with pytest.raises(SeriesError, match="not been read"):
        series_of(clinic)


def test_times_are_by_the_clock_of_the_practice_and_minutes_whole(clinic: Clinic) -> None:
    """Begun at 09:00 UTC it is 10:00 in Berlin, in note and file too; 8 min 2 s of settling are 8 min.

    Oracle: by construction; the zone's winter offset is one hour.
    """
    first = reading(clinic, 3, 150, taken_at=clinic.started_at + timedelta(minutes=3, seconds=2))
    with timezone.override("Europe/Berlin"):
        around = described(clinic.series, first)
    assert around.started_at == "2024-01-04T10:00:00+01:00"
    assert around.acclimatisation_min == 8.0
