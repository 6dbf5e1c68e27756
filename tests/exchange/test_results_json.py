"""Every JSON output against its schema, and its members against what they came from."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from string import Formatter
from typing import Any

import numpy as np
import pytest
from jsonschema import Draft202012Validator

from quietlimb.engine.circumstances import Circumstances, Species
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.findings import FINDING_CODES, Finding
from quietlimb.engine.interpretation.interpret import interpret, interpret_systolic
from quietlimb.engine.interpretation.interpretation import (
    Advice,
    AnimalStatus,
    CategoryProbability,
    Caution,
    Clue,
    Interpretation,
    OrganCheck,
    OtherRules,
    WouldChange,
)
from quietlimb.engine.reading import Reading
from quietlimb.engine.recording import recording
from quietlimb.engine.session.charted import ChartedPressure, GuidelineAverage, ReadingInSeries
from quietlimb.engine.session.charting import chart
from quietlimb.engine.session.enough import enough
from quietlimb.engine.session.series import Series, series_from_values
from quietlimb.engine.standards.acvim_2018 import PROTOCOL
from quietlimb.engine.standards.breeds import breed_remark
from quietlimb.engine.values import Estimate
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.json_values import dump_line
from quietlimb.exchange.results_json import (
    charted_error_object,
    charted_object,
    cuff_object,
    interpretation_object,
    reading_error_object,
    reading_object,
)
from quietlimb.exchange.schemas import schema
from quietlimb.instruments.cuffs import CuffChoice, cuff_choices
from quietlimb.words import advice as advice_words
from quietlimb.words import cautions as caution_words
from quietlimb.words import findings as finding_words
from quietlimb.words.status import status_sentence

CIRCUMSTANCES = Circumstances(species="cat", animal="Löwe", site="tail", cuff_width_cm=2.5)
TIME_S = np.arange(400) / 100
RECORDING = recording(TIME_S, 180 - 25 * TIME_S, CIRCUMSTANCES)
ESTIMATE = Estimate(value=151.23456, low=145.00049, high=158.9996, own_sd=2.00049, shared_sd=3.1)
RATE = Estimate(value=180.0, low=178.0, high=182.0, own_sd=1.0, shared_sd=0.0, unit="/min")
FAR = Finding(code="far-from-series", severity="spoils", numbers={"distance_mmhg": 31.25})
MOVED = Finding(
    code="limb-moved",
    severity="doubt",
    touches=("systolic", "mean"),
    at_s=12.34567,
    at_mmhg=140.5,
    numbers={"seconds": 1.5, "share": 0.0412345},
)
NOTED = Finding(code="irregular-rhythm", severity="note", numbers={"interval_cv": 0.2})


def reading(**changes: Any) -> Reading:
    """A reading built by hand."""
    parts: dict[str, Any] = {
        "systolic": ESTIMATE,
        "mean": ESTIMATE,
        "diastolic": ESTIMATE,
        "pulse_rate": RATE,
        "method": "artery fit",
        "findings": (MOVED,),
        "verdict": "doubtful",
        "evidence": None,
    }
    return Reading(**(parts | changes))


def series() -> Series:
    """A typed series of three readings, one without a mean."""
    return series_from_values(
        circumstances=CIRCUMSTANCES,
        minute=[0, 1.5, 3],
        systolic=[162, 158.12345, 190],
        mean=[128, None, 150],
        pulse_rate=[180, 178, None],
    )


def charted(**changes: Any) -> ChartedPressure:
    """A charted pressure built by hand."""
    parts: dict[str, Any] = {
        "series": series(),
        "systolic": ESTIMATE,
        "mean": ESTIMATE,
        "diastolic": None,
        "pulse_rate": RATE,
        "course": "falling",
        "course_probability": (0.25, 0.7, 0.05),
        "fall_mmhg": 4.0004,
        "readings": (
            ReadingInSeries(
                minute=0.0, verdict="keep", systolic_weight=1.0, mean_weight=0.98765, diastolic_weight=None,
                findings=(NOTED,), systolic_expected=156.0,
            ),
            ReadingInSeries(
                minute=1.5, verdict="keep", systolic_weight=0.9, mean_weight=None, diastolic_weight=None, findings=(),
                systolic_expected=154.0,
            ),
            ReadingInSeries(
                minute=3.0, verdict="discard", systolic_weight=0.0, mean_weight=0.1, diastolic_weight=None,
                findings=(NOTED, FAR), systolic_expected=152.0,
            ),
        ),
        "guideline": GuidelineAverage(
            protocol=PROTOCOL, rule="first left out", kept=(2, 3), systolic=174.0617, mean=150.0,
            diastolic=None, spread=0.18, consistent=True, enough=False,
        ),
        "findings": (Finding(code="still-falling", severity="note", numbers={"mmhg_per_min": 2.0}),),
    }  # fmt: skip
    return ChartedPressure(**(parts | changes))


def interpretation(**changes: Any) -> Interpretation:
    """An interpretation built by hand."""
    parts: dict[str, Any] = {
        "rule_set": "ACVIM 2018",
        "category": "prehypertensive",
        "near_boundary": True,
        "today": (
            CategoryProbability(name="normotensive", from_mmhg=None, to_mmhg=140.0, probability=0.123456),
            CategoryProbability(name="prehypertensive", from_mmhg=140.0, to_mmhg=None, probability=0.876544),
        ),
        "animal": (CategoryProbability(name="normotensive", from_mmhg=None, to_mmhg=None, probability=1.0),),
        "day_to_day_sd": 9.0,
        "organ_damage": "not examined",
        "organs": (OrganCheck(organ="eyes", state="not examined"), OrganCheck(organ="kidneys", state="absent")),
        "next": (
            Advice(
                code="repeat-session", within_days=(28.0, 56.0), numbers={"sessions": 2.0}, source="ACVIM2018",
                place="decision flow", standing="from memory",
            ),
            Advice(code="look-for-another-cause", source="ACVIM2018", place="decision flow", standing="from memory"),
        ),
        "cautions": (),
    }  # fmt: skip
    return Interpretation(**(parts | changes))


def checked(name: str, found: dict[str, Any]) -> dict[str, Any]:
    """The object as a program on the other side reads it, after its schema has accepted it."""
    line = dump_line(found)
    assert "\n" not in line
    again: dict[str, Any] = json.loads(line)
    Draft202012Validator(schema(name)).validate(again)
    assert again == found
    return again


def test_a_reading_has_the_members_promised() -> None:
    """Values rounded to 3 decimals, shares to 4, findings with their sentences, engine and fingerprint.

    Oracle: by construction; the shape by jsonschema 4.26.
    """
    found = checked("read", reading_object("a/b.csv", reading(), RECORDING))
    assert found["schema"] == "quietlimb/read/1"
    assert found["recording"] == "a/b.csv"
    assert found["verdict"] == "doubtful"
    assert found["systolic"] == {"value": 151.235, "low": 145.0, "high": 159.0, "own_sd": 2.0, "shared_sd": 3.1}
    assert found["pulse_rate"]["value"] == 180.0
    assert found["method"] == "artery fit"
    assert found["engine"] == ENGINE_VERSION
    assert found["findings"] == [
        {
            "code": "limb-moved",
            "severity": "doubt",
            "says": finding_words.says(MOVED),
            "remedy": finding_words.remedy(MOVED),
            "touches": ["systolic", "mean"],
            "at_s": 12.346,
            "at_mmHg": 140.5,
            "numbers": {"seconds": 1.5, "share": 0.0412},
        }
    ]
    assert found["circumstances"] == {
        "species": "cat",
        "animal": "Löwe",
        "site": "tail",
        "method": "oscillometric",
        "cuff_width_cm": 2.5,
    }


def test_the_fingerprint_of_a_reading_is_that_of_its_samples() -> None:
    """sha256 of float64 little-endian time, then mmHg.

    Oracle: reference library, hashlib and struct-free numpy bytes, written out here once more.
    """
    expected = hashlib.sha256(TIME_S.astype("<f8").tobytes() + (180 - 25 * TIME_S).astype("<f8").tobytes()).hexdigest()
    assert reading_object("a.csv", reading(), RECORDING)["fingerprint"] == expected


def test_values_that_cannot_be_given_are_null() -> None:
    """No number stands in for a missing one, and the finding that says why is there.

    Oracle: by construction.
    """
    nothing = Finding(code="no-pulse", severity="spoils", numbers={"pulses": 0.0})
    given = reading(systolic=None, mean=None, diastolic=None, pulse_rate=None, findings=(nothing,), verdict="discard")
    found = checked("read", reading_object("a.csv", given, RECORDING))
    assert [found[name] for name in ("systolic", "mean", "diastolic", "pulse_rate")] == [None] * 4
    assert found["findings"][0]["code"] == "no-pulse"


def test_an_open_interval_has_null_ends() -> None:
    """Infinity has no place in JSON; the end of the interval is null.

    Oracle: published. RFC 8259, section 6: infinity and NaN are not permitted.
    """
    wide = Estimate(value=200.0, low=150.0, high=float("inf"), own_sd=float("inf"), shared_sd=0.0)
    found = checked("read", reading_object("a.csv", reading(systolic=wide), RECORDING))
    assert found["systolic"] == {"value": 200.0, "low": 150.0, "high": None, "own_sd": None, "shared_sd": 0.0}


@pytest.mark.parametrize("code", sorted(FINDING_CODES))
def test_every_finding_can_be_told(code: str) -> None:
    """Each code of the engine has a sentence and passes the schema.

    Oracle: by construction.
    """
    finding = Finding(code=code, severity="note", numbers=dict.fromkeys(FINDING_CODES[code], 1.0))
    found = checked("read", reading_object("a.csv", reading(findings=(finding,), verdict="keep"), RECORDING))
    assert found["findings"][0]["says"]


def test_a_file_that_cannot_be_read_is_an_object_too() -> None:
    """Code, sentence, remedy and line; an error without a line has null.

    Oracle: by construction.
    """
    error = FileError("gap", "nothing for 2 s", "record again", path="a.csv", line=12)
    found = checked("read", reading_error_object("a.csv", error))
    assert found == {
        "schema": "quietlimb/read/1",
        "recording": "a.csv",
        "error": {"code": "gap", "says": "nothing for 2 s", "remedy": "record again", "line": 12},
    }
    other = checked("chart", charted_error_object("folder", ParameterError("no-such", "says", "remedy")))
    assert other == {
        "schema": "quietlimb/chart/1",
        "session": "folder",
        "error": {"code": "no-such", "says": "says", "remedy": "remedy", "line": None},
    }


def test_a_charted_pressure_has_the_members_promised() -> None:
    """Session, values, course, readings, guideline, categories, next, engine and fingerprint.

    Oracle: by construction; the shape by jsonschema 4.26.
    """
    found = checked("chart", charted_object("folder", charted(parameters={"variability": "range"}), interpretation()))
    assert found["session"] == "folder"
    assert found["systolic"]["value"] == 151.235
    assert found["diastolic"] is None
    assert found["course"] == "falling"
    assert found["course_probability"] == {"level": 0.25, "falling": 0.7, "rising": 0.05}
    assert found["fall_mmHg"] == 4.0
    assert found["readings"][0] == {
        "minute": 0.0,
        "systolic": 162.0,
        "mean": 128.0,
        "diastolic": None,
        "pulse_rate": 180.0,
        "verdict": "keep",
        "weights": {"systolic": 1.0, "mean": 0.9877, "diastolic": None},
        "why": [],
        "findings": [found["readings"][0]["findings"][0]],
    }
    assert found["readings"][1]["systolic"] == 158.123
    assert found["readings"][1]["mean"] is None
    assert found["readings"][2]["why"] == ["far-from-series"]
    assert found["guideline"] == {
        "systolic": 174.062,
        "mean": 150.0,
        "diastolic": None,
        "kept": [2, 3],
        "left_out": {"mean": [], "diastolic": []},
        "rule": "first left out",
        "consistent": True,
        "consistent_but_for_spoiled": False,
        "enough": False,
        "spread": 0.18,
    }
    assert found["categories"]["today"] == [
        {"name": "normotensive", "from": None, "to": 140.0, "probability": 0.1235},
        {"name": "prehypertensive", "from": 140.0, "to": None, "probability": 0.8765},
    ]
    assert len(found["categories"]["animal"]) == 1
    first, second = found["next"]
    assert (first["code"], first["within_days"], first["standing"]) == ("repeat-session", [28.0, 56.0], "from memory")
    assert first["says"] == advice_words.sentence(interpretation().next[0])
    assert second["within_days"] is None
    assert found["organs"][0] == {"organ": "eyes", "state": "not examined", "eyes": None}
    assert found["parameters"] == {"variability": "range"}
    assert found["engine"] == ENGINE_VERSION


def test_what_is_known_of_the_animal_has_the_members_promised() -> None:
    """Status, clues, breed, other rule sets and what would change the advice, by name and value.

    Oracle: by construction, an interpretation built by hand.
    """
    status = AnimalStatus(
        name="suspected",
        reason="needs-more-sessions",
        numbers={"have": 1.0, "need": 2.0},
        rests_on=(0.0,),
        left_out=(7.0,),
        left_out_why=("no pressure",),
        persists="prehypertensive",
    )
    clue = Clue(code="excited", direction="for", strength="moderate", source="practice", standing="common practice")
    other = OtherRules(
        rule_set="IRIS 2015",
        category="AP1",
        treatment=None,
        line_mmhg=None,
        differs=("category",),
        source="IRIS2015",
        standing="published",
    )
    change = WouldChange(code="pressure-from", numbers={"mmhg": 160.0}, then=(interpretation().next[0],))
    eyes = OrganCheck(organ="eyes", state="present", eyes=(("left eye", "present"), ("right eye", "not examined")))
    given = interpretation(
        rules="iris-2019",
        method_sd=6.00049,
        low_today=0.000123,
        low_animal=0.0456,
        organs=(eyes,),
        status=status,
        clues=(clue,),
        breed=breed_remark("dog", "saluki"),
        others=(other,),
        would_change=(change,),
    )
    found = checked("interpret", interpretation_object(given, systolic_mmhg=151.0, species="dog"))
    assert (found["rules"], found["method_sd"], found["low_today"], found["low_animal"]) == (
        "iris-2019",
        6.0,
        0.0001,
        0.0456,
    )
    assert found["organs"][0]["eyes"] == {"left_eye": "present", "right_eye": "not examined"}
    assert found["status"] == {
        "name": "suspected",
        "reason": "needs-more-sessions",
        "says": status_sentence(status),
        "numbers": {"have": 1.0, "need": 2.0},
        "rests_on_days_ago": [0.0],
        "left_out_days_ago": [7.0],
        "left_out_why": ["no pressure"],
        "goal_standing": None,
        "too_low": False,
        "persists": "prehypertensive",
    }
    assert (found["clues"][0]["code"], found["clues"][0]["direction"]) == ("excited", "for")
    assert (found["breed"]["tendency"], found["breed"]["systolic"], found["breed"]["sd"]) == ("higher", 143.0, 16.0)
    assert (found["other_rule_sets"][0]["category"], found["other_rule_sets"][0]["line"]) == ("AP1", None)
    assert found["would_change"][0]["numbers"] == {"mmhg": 160.0}
    assert [advice["code"] for advice in found["would_change"][0]["then"]] == ["repeat-session"]
    silent = checked("interpret", interpretation_object(interpretation(), systolic_mmhg=151.0, species="dog"))
    assert (silent["status"], silent["breed"], silent["low_today"]) == (None, None, None)


def test_a_session_without_a_pressure_gives_none() -> None:
    """No usable reading: every value is null and the finding says so.

    Oracle: by construction.
    """
    none = Finding(code="no-usable-reading", severity="spoils", numbers={"readings": 3.0})
    given = charted(
        systolic=None, mean=None, pulse_rate=None, course="unclear", fall_mmhg=None, guideline=None, findings=(none,)
    )
    silent = interpretation(category=None, near_boundary=False, today=(), animal=(), next=())
    found = checked("chart", charted_object("folder", given, silent))
    assert found["systolic"] is None
    assert found["guideline"] is None
    assert found["course_probability"] is None
    assert found["categories"] == {"today": [], "animal": []}
    assert found["findings"][0]["code"] == "no-usable-reading"


def test_the_fingerprint_of_a_session_covers_readings_circumstances_and_parameters() -> None:
    """Another reading, another order, another circumstance or another parameter: another fingerprint; the order in
    which parameters are named is no matter.

    Oracle: by construction.
    """

    def fingerprint(systolic: list[float], site: str, parameters: dict[str, str]) -> str:
        circumstances = Circumstances(species="cat", site=site)  # type: ignore[arg-type]
        taken = series_from_values(circumstances=circumstances, minute=[0, 1], systolic=systolic)
        given = charted(series=taken, readings=charted().readings[:2], guideline=None, parameters=parameters)
        found: str = charted_object("folder", given, interpretation())["fingerprint"]
        return found

    base = fingerprint([160, 150], "tail", {"a": "1", "b": "x"})
    assert base == fingerprint([160, 150], "tail", {"b": "x", "a": "1"})
    others = {
        fingerprint([160, 150.0001], "tail", {"a": "1", "b": "x"}),
        fingerprint([150, 160], "tail", {"a": "1", "b": "x"}),
        fingerprint([160, 150], "hindlimb", {"a": "1", "b": "x"}),
        fingerprint([160, 150], "tail", {"a": "2", "b": "x"}),
        fingerprint([160, 150], "tail", {}),
    }
    assert len(others | {base}) == 6


def test_the_fingerprint_told_is_that_of_the_charted_pressure() -> None:
    """JSON, note and page name one fingerprint, that of the charted pressure.

    Oracle: by construction.
    """
    assert charted_object("a", charted(), interpretation())["fingerprint"] == charted().fingerprint


def test_what_a_display_shares_is_null_and_not_nothing() -> None:
    """The error of a display against the artery is not known; of recordings Quietlimb knows it.

    Oracle: by construction.
    """
    untold = {"systolic": replace(ESTIMATE, shared_sd=None), "pulse_rate": replace(RATE, shared_sd=None)}
    typed = checked("chart", charted_object("a", charted(**untold), interpretation()))
    recorded = checked(
        "chart", charted_object("a", charted(series=replace(series(), origin="recorded")), interpretation())
    )
    for name in untold:
        assert typed[name]["shared_sd"] is None
    assert (recorded["systolic"]["shared_sd"], recorded["pulse_rate"]["shared_sd"]) == (3.1, 0.0)
    assert typed["systolic"] == {**recorded["systolic"], "shared_sd": None}


def test_two_values_and_whether_it_is_enough_are_told() -> None:
    """The parts of the difference add up to it; what further readings may bring stands beside; both may be missing.

    Oracle: by construction, a typed session of readings that fall through 160 mmHg; the shape by jsonschema 4.26.
    """
    falling = series_from_values(
        circumstances=CIRCUMSTANCES, minute=[0, 1.2, 2.4, 3.5, 4.6, 5.8], systolic=[178, 170, 166, 161, 158, 157]
    )
    given = chart(falling)
    found = checked("chart", charted_object("a", given, interpret(given), enough(given)))
    two = found["two_values"]
    assert (two["to_choose"], two["charted_category"], two["guideline_category"]) == (
        True,
        "prehypertensive",
        "hypertensive",
    )
    assert two["parts"][0]["cause"] == "fall-averaged-in"
    assert sum(part["mmHg"] for part in two["parts"]) == pytest.approx(two["difference_mmHg"], abs=2e-3)
    assert found["enough"]["protocol_needed"] == 5
    assert found["enough"]["more"] == 1
    assert found["enough"]["says"][0].startswith("Still falling")
    nothing = chart(series_from_values(circumstances=CIRCUMSTANCES, minute=[0.0], systolic=[None]))
    silent = checked("chart", charted_object("a", nothing, interpret(nothing), enough(nothing)))
    assert (silent["two_values"], silent["enough"]) == (None, None)


def test_a_reason_is_given_once() -> None:
    """A reading that lies far off in systolic and in mean has two findings and one code.

    Oracle: by construction.
    """
    far = [replace(FAR, touches=(name,)) for name in ("systolic", "mean")]
    first, second, third = charted().readings
    given = charted(readings=(first, second, replace(third, findings=(far[0], MOVED, far[1]))))
    found = checked("chart", charted_object("a", given, interpretation()))["readings"][2]
    assert found["why"] == ["far-from-series", "limb-moved"]
    assert len(found["findings"]) == 3


def test_the_guideline_tables_alone_are_told() -> None:
    """A pressure given by hand, with and without a standard deviation, or none.

    Oracle: by construction; the shape by jsonschema 4.26.
    """
    found = checked(
        "interpret", interpretation_object(interpretation(), systolic_mmhg=151.0, species="dog", sd_mmhg=4.0)
    )
    assert (found["schema"], found["species"]) == ("quietlimb/interpret/1", "dog")
    assert (found["systolic"], found["sd"]) == (151.0, 4.0)
    exact = checked("interpret", interpretation_object(interpretation(), systolic_mmhg=None, species="cat"))
    assert (exact["systolic"], exact["sd"]) == (None, None)


def numbers_in(sentence: str) -> dict[str, float]:
    """A figure for every name in braces."""
    return {name: 3.0 for _, name, _, _ in Formatter().parse(sentence) if name}


@pytest.mark.parametrize("systolic", [55.0, 139.9, 140.0, 160.0, 180.0, 250.0, None])
@pytest.mark.parametrize("species", ["cat", "dog"])
def test_every_interpretation_of_the_engine_fits_the_schema(systolic: float | None, species: Species) -> None:
    """From low to very high pressure, and none at all.

    Oracle: by construction; the shape by jsonschema 4.26.
    """
    given = interpret_systolic(systolic, species=species)
    found = checked("interpret", interpretation_object(given, systolic_mmhg=systolic, species=species))
    assert found["category"] == given.category
    assert all(advice["says"] and advice["source"] for advice in found["next"])


@pytest.mark.parametrize("code", sorted(caution_words.SENTENCES))
def test_every_caution_can_be_told(code: str) -> None:
    """Each caution that has a sentence passes the schema.

    Oracle: by construction.
    """
    numbers = numbers_in(caution_words.SENTENCES[code])
    given = interpretation(cautions=(Caution(code=code, numbers=numbers),))
    found = checked("interpret", interpretation_object(given, systolic_mmhg=151.0, species="dog"))
    assert found["cautions"][0]["says"]
    assert found["cautions"][0]["numbers"] == numbers


def test_cuffs_are_told_in_their_order() -> None:
    """The worked example: on a cat's forelimb of 8 cm, 2.5 and 3 cm fit, and 4 cm, half of it, is wide.

    Oracle: common practice. Accepted 30 to 40 % of the circumference: 2.4 to 3.2 cm on 8 cm.
    """
    found = checked("cuff", cuff_object(8.0, "cat", cuff_choices(8.0, "cat", [4.0, 2.5, 3.0])))
    assert (found["species"], found["limb_circumference_cm"], found["engine"]) == ("cat", 8.0, ENGINE_VERSION)
    assert {cuff["width_cm"] for cuff in found["cuffs"] if cuff["fit"] == "fits"} == {2.5, 3.0}
    assert found["cuffs"][-1]["width_cm"] == 4.0
    assert found["cuffs"][-1]["ratio"] == 0.5
    hand = CuffChoice(width_cm=2.5, ratio=1 / 3, fit="fits", direction="none")
    assert checked("cuff", cuff_object(7.5, "cat", (hand,)))["cuffs"] == [
        {"width_cm": 2.5, "ratio": 0.3333, "fit": "fits", "direction": "none"}
    ]


def test_letters_stay_as_they_are_and_odd_names_survive() -> None:
    """Umlauts are not escaped, line ends are; bytes of a file name that are no text come back as they went in.

    Oracle: published. RFC 8259, section 7 for the escapes.
    """
    name = "Löwe\n\u2028\udcff.csv"
    line = dump_line(reading_error_object(name, ParameterError("a", "b", "c")))
    assert "Löwe" in line
    assert "\\n" in line
    line.encode("utf-8")
    assert json.loads(line)["recording"] == name


def test_a_number_that_is_none_is_never_written() -> None:
    """What slipped through unrounded stops here.

    Oracle: published. RFC 8259, section 6.
    """
    with pytest.raises(ValueError, match="JSON"):
        dump_line({"a": float("nan")})


def test_there_is_no_negative_zero() -> None:
    """A tiny negative number rounds to 0, not to -0.

    Oracle: by construction.
    """
    tiny = Estimate(value=-1e-9, low=-1e-9, high=0.0, own_sd=0.0, shared_sd=0.0)
    line = dump_line(reading_object("a.csv", reading(systolic=tiny), RECORDING))
    assert '"value": 0.0' in line
    assert "-0.0" not in line
