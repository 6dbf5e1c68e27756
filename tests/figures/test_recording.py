"""The picture of a recording holds the numbers of its reading, and draws in every case."""

from __future__ import annotations

from dataclasses import replace

import altair
import numpy as np
import pytest

from figures.examples import CAT, FEW, IRREGULAR, MOVED, SATURATED, reading, without_pulses
from figures.specs import rows
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.findings import Finding
from quietlimb.engine.reading import Reading
from quietlimb.figures.export import svg
from quietlimb.figures.invented import INVENTED_WORDS
from quietlimb.figures.recording import MOST_TRACE_POINTS, WHISKER_CAP, recording_figure


def test_whiskers_are_the_estimates_given() -> None:
    """Value and interval of systolic, mean and diastolic stand in the specification unchanged.

    Oracle: by construction; equality, because nothing may be computed on the way.
    """
    given = reading()
    drawn = {
        row["pressure"]: (row["value"], row["low"], row["high"])
        for row in rows(recording_figure(given), "low")
        if "pressure" in row
    }
    for name in ("systolic", "mean", "diastolic"):
        estimate = getattr(given, name)
        assert drawn[name] == (estimate.value, estimate.low, estimate.high)


def test_each_interval_has_a_whisker_of_its_own_in_both_panels() -> None:
    """Overlapping intervals are told apart by six whiskers, each from low to high, no two of a panel at one place.

    Oracle: by construction: 3 pressures in 2 panels.
    """
    given = reading(systolic=112.0, mean=106.0, diastolic=99.0)
    spec = recording_figure(given)
    for panel in spec["hconcat"][:2]:
        places = {}
        for layer in panel["layer"]:
            for row in rows({"one": layer}, "whisker", "from"):
                places[row["whisker"]] = layer["encoding"]["x"]["value"]
                estimate = getattr(given, row["whisker"])
                assert (row["from"], row["to"]) == (estimate.low, estimate.high)
        assert set(places) == {"systolic", "mean", "diastolic"}
        assert (np.diff(sorted(places.values())) > 2 * WHISKER_CAP).all()


def test_pulses_that_gave_no_pressure_are_not_told_as_kept() -> None:
    """A recording that gives no pressure used none of its 80 pulses, and draws none as used.

    Oracle: by construction: 80 pulses in the example, 4 of them set aside.
    """
    moved = Finding(code="limb-kept-moving", severity="spoils", at_s=8.0, numbers={"seconds": 20.0, "share": 0.7})
    spec = recording_figure(reading(systolic=None, mean=None, diastolic=None, findings=(moved,)))
    drawn = rows(spec, "height_mmhg")
    assert len(drawn) == 80
    assert "80 pulses found, none used" in svg(spec)
    assert not any(row["kept"] for row in drawn)
    assert "set aside (hollow)" not in svg(spec)
    assert "76 kept, 4 set aside (hollow)" in svg(recording_figure(reading()))


def test_pulses_are_the_pulses_given() -> None:
    """Each pulse is there with its height and pressure, kept or set aside as in the evidence.

    Oracle: by construction; equality.
    """
    given = reading()
    assert given.evidence is not None
    pulses = given.evidence.pulses
    assert pulses is not None
    drawn = sorted(rows(recording_figure(given), "height_mmhg"), key=lambda row: row["time_s"])
    assert [row["height_mmhg"] for row in drawn] == pulses.height_mmhg.tolist()
    assert [row["cuff_pressure_mmhg"] for row in drawn] == pulses.cuff_pressure_mmhg.tolist()
    assert [row["kept"] for row in drawn] == pulses.kept.tolist()


def test_a_spoiled_pulse_of_any_height_stays_in_the_picture() -> None:
    """Pulses of -40 and +90 mmHg are drawn at the edges of the axis; their true heights stay in the data.

    Oracle: by construction. Found with a simulated recording, whose spoiled pulse stretched the picture to the left.
    """
    given = reading()
    assert given.evidence is not None
    pulses = given.evidence.pulses
    assert pulses is not None
    # One set aside below zero, one set aside far above, one kept below zero: none may vanish.
    height = pulses.height_mmhg.copy()
    height[np.flatnonzero(~pulses.kept)[:2]] = [-40.0, 90.0]
    height[np.flatnonzero(pulses.kept)[:1]] = -0.3
    spoiled = replace(given, evidence=replace(given.evidence, pulses=replace(pulses, height_mmhg=height)))
    spec = recording_figure(spoiled)
    drawn = {row["height_mmhg"]: row["drawn_at_mmhg"] for row in rows(spec, "height_mmhg")}
    assert drawn[-40.0] == 0.0
    assert 0.0 < drawn[90.0] < 10.0
    assert svg(spec).count('aria-roledescription="point"') == 2 * (len(pulses) + 3)  # and three whiskers
    usual, strange = (svg(s).split("viewBox")[1].split(">")[0] for s in (recording_figure(given), spec))
    assert usual == strange


def test_envelope_is_the_curve_given() -> None:
    """The fitted envelope is drawn at the points of the evidence.

    Oracle: by construction; equality.
    """
    given = reading()
    assert given.evidence is not None
    drawn = sorted(rows(recording_figure(given), "envelope_mmhg"), key=lambda row: row["order"])
    assert [row["envelope_mmhg"] for row in drawn] == given.evidence.envelope_height_mmhg.tolist()


def test_trace_is_thinned_but_keeps_its_peak() -> None:
    """3600 samples become at most about 1500 rows, and the highest is among them.

    Oracle: by construction. Two rows more are allowed for the joints of inflation, deflation and dump; pressures are
    rounded to 0.01 mmHg.
    """
    given = reading()
    assert given.evidence is not None
    pressure = given.evidence.recording.cuff_pressure_mmhg
    drawn = [row["cuff_pressure_mmhg"] for row in rows(recording_figure(given), "part")]
    assert 1000 < len(drawn) <= MOST_TRACE_POINTS + 2
    assert max(drawn) == pytest.approx(float(pressure.max()), abs=0.005)
    assert min(drawn) == pytest.approx(float(pressure.min()), abs=0.005)


def test_findings_with_a_moment_are_marked_there_without_touching() -> None:
    """Three findings stand at their times; the two that are close together get rows of their own.

    Oracle: by construction.
    """
    marks = {
        row["code"]: row for row in rows(recording_figure(reading(findings=(MOVED, IRREGULAR, SATURATED, FEW))), "at_s")
    }
    assert {code: mark["at_s"] for code, mark in marks.items()} == {
        "limb-moved": 21.0,
        "irregular-rhythm": 21.6,
        "saturated": 33.5,
    }
    assert marks["limb-moved"]["row"] != marks["irregular-rhythm"]["row"]
    assert marks["saturated"]["backwards"]


def test_labels_of_close_pressures_are_spread() -> None:
    """Three pressures within 6 mmHg get labels at least a line apart, in the same order.

    Oracle: by construction.
    """
    labels = sorted(
        rows(recording_figure(reading(systolic=103.0, mean=100.0, diastolic=97.0)), "words", "value"),
        key=lambda row: row["value"],
    )
    gaps = np.diff([row["label_mmhg"] for row in labels])
    assert len(labels) == 3
    assert (gaps > 5.0).all()


def test_label_tells_value_and_interval() -> None:
    """The label reads `systolic 143 (137 to 149)`, as the design asks.

    Oracle: by construction: 143 with half-width 6.
    """
    assert "systolic 143 (137 to 149)" in svg(recording_figure(reading()))


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (without_pulses(), "no pressure given"),
        (reading(systolic=None), "no systolic"),
        (reading(systolic=None, mean=None, diastolic=None), "no pressure given"),
    ],
)
def test_what_is_missing_is_said(given: Reading, words: str) -> None:
    """Without systolic, without pulses or without a deflation there is still a valid picture that says so.

    Oracle: by construction; the specification is validated against the Vega-Lite schema by altair 6.
    """
    spec = recording_figure(given)
    altair.Chart.from_dict(spec, validate=True)
    assert words in svg(spec)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_invented_data_say_so(theme: str) -> None:
    """A recording of the simulator carries the words plainly; that of a patient does not.

    Oracle: by construction.
    """
    invented = reading(circumstances=replace(CAT, instrument="simulator"))
    assert INVENTED_WORDS in svg(recording_figure(invented, title="anything", theme=theme))  # type: ignore[arg-type]
    assert INVENTED_WORDS not in svg(recording_figure(reading(), theme=theme))  # type: ignore[arg-type]


def test_a_typed_reading_has_no_picture_and_says_why() -> None:
    """A reading without evidence is refused with a remedy; so is a picture too narrow to read.

    Oracle: by construction.
    """
    with pytest.raises(ParameterError) as caught:
        recording_figure(replace(reading(), evidence=None))
    assert caught.value.code == "no-evidence"
    with pytest.raises(ParameterError) as caught:
        recording_figure(reading(), width=300)
    assert caught.value.code == "too-narrow"
