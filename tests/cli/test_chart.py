"""`quietlimb chart`."""

from __future__ import annotations

import json
from pathlib import Path
from statistics import NormalDist
from typing import Any, get_args

import jsonschema
import pytest
from click.testing import Result

from quietlimb.cli.session_text import change_words
from quietlimb.engine.conversion import Conversion
from quietlimb.engine.interpretation.interpret import interpret
from quietlimb.engine.session.charting import chart
from quietlimb.engine.session.guideline import Variability
from quietlimb.exchange.conversion_json import conversion_text
from quietlimb.exchange.readings_csv import read_readings
from quietlimb.exchange.schemas import __path__ as schema_folders

SCHEMA = json.loads((Path(schema_folders[0]) / "chart.json").read_text(encoding="utf-8"))


def objects(result: Result) -> list[dict[str, Any]]:
    """The JSON lines of a result, each valid by the committed schema."""
    told = [json.loads(line) for line in result.stdout.splitlines()]
    for each in told:
        jsonschema.validate(each, SCHEMA)
    return told


def test_typed_readings_give_the_engines_charted_pressure(run, typed: Path) -> None:
    """A file of readings gives what the engine gives, with the organs as told.

    Oracle: by construction, the engine called directly; values are rounded to 3 decimals in JSON.
    """
    (told,) = objects(run("chart", typed, "--json", "--organs", "eyes=present, brain=not-examined"))
    charted = chart(read_readings(typed))
    meaning = interpret(charted, organs={"eyes": "present"})
    assert charted.systolic is not None
    assert told["systolic"]["value"] == pytest.approx(charted.systolic.value, abs=5.1e-4)
    assert told["course"] == charted.course
    assert told["organ_damage"] == meaning.organ_damage == "present"
    assert [each["code"] for each in told["next"]] == [advice.code for advice in meaning.next]


def test_a_folder_of_recordings_is_one_session(run, session_folder: Path) -> None:
    """Three recordings in a folder are one series of three readings, at the minutes that they tell.

    Oracle: by construction, the minutes stand in the truth beside the folder; files hold whole seconds.
    """
    result = run("chart", session_folder, "--json")
    assert result.exit_code == 0
    (told,) = objects(result)
    truth = json.loads(session_folder.with_name("three.truth.json").read_text(encoding="utf-8"))
    assert [each["minute"] for each in told["readings"]] == pytest.approx(truth["minute"], abs=1.01 / 60)
    assert told["parameters"] == {"protocol": "ACVIM 2018", "method": "artery fit", "variability": "range"}


def test_text_tells_all_parts_of_a_session(run, typed: Path) -> None:
    """Readings with weights, the charted pressure, course, guideline average, categories, next steps and cautions.

    Oracle: by construction, the list of what the command promises.
    """
    result = run("chart", typed)
    assert result.exit_code == 0
    for words in ("weight", "Charted pressure", "Course: ", "Guideline average: ", "Risk category", "Next", "Cautions"):
        assert words in result.stdout
    assert max(len(line) for line in result.stdout.splitlines()[1:]) <= 80


FALLING = """# species: cat
minute,systolic_mmHg
0,178
1.2,170
2.4,166
3.5,161
4.6,158
5.8,157
"""


def test_it_is_said_whether_to_go_on_and_why_two_values_differ(run, tmp_path: Path) -> None:
    """A fall through 160 mmHg: not enough yet, and the guideline average is higher by the fall that it averages in.

    Oracle: by construction, readings that fall from 178 to 157.
    """
    path = tmp_path / "falling.csv"
    path.write_text(FALLING, encoding="utf-8")
    text = " ".join(run("chart", path).stdout.split())
    assert "Enough? Still falling: let the animal sit, then go on." in text
    assert "(wanted: 8)" in text
    assert "Why they differ: guideline average minus charted pressure +" in text
    assert "a fall averaged in (readings 2 to 6)" in text
    (wide,) = objects(run("chart", path, "--json", "--wanted", "2"))
    (usual,) = objects(run("chart", path, "--json"))
    assert "interval-too-wide" in wide["enough"]["why"]
    assert "interval-too-wide" not in usual["enough"]["why"]
    assert run("chart", path, "--wanted", "0").exit_code == 2


def test_older_rules_bring_their_own_protocol(run, tmp_path: Path) -> None:
    """By ACVIM 2007 three readings are enough for the guideline average, and the chart names it.

    Oracle: from memory, ACVIM 2007 and 2018.
    """
    path = tmp_path / "four.csv"
    path.write_text("\n".join(FALLING.splitlines()[:6]) + "\n", encoding="utf-8")
    (older,) = objects(run("chart", path, "--json", "--rules", "acvim-2007"))
    (newer,) = objects(run("chart", path, "--json"))
    assert (older["guideline"]["enough"], newer["guideline"]["enough"]) == (True, False)
    assert older["guideline"]["rule"].startswith("ACVIM 2007: ")
    assert older["enough"]["protocol_needed"] == 3
    assert older["fingerprint"] != newer["fingerprint"]


@pytest.mark.parametrize("rule", get_args(Variability))
def test_the_definition_of_variability_is_passed_on_and_changes_the_fingerprint(run, typed: Path, rule: str) -> None:
    """It has one name in option, result and engine, and is part of what the fingerprint covers.

    Oracle: by construction.
    """
    (told,) = objects(run("chart", typed, "--json", "--variability", rule))
    assert told["parameters"]["variability"] == rule
    (usual,) = objects(run("chart", typed, "--json"))
    assert (told["fingerprint"] == usual["fingerprint"]) == (rule == "range")


def test_recordings_of_two_series_are_not_pooled(run, session_folder: Path, tmp_path: Path) -> None:
    """A folder with recordings from two sites is refused with the remedy, and the next session is still charted.

    Oracle: by construction; readings of two sites never belong to one series.
    """
    mixed = tmp_path / "mixed"
    mixed.mkdir()
    for k, path in enumerate(sorted(session_folder.glob("*.csv"))):
        text = path.read_text(encoding="utf-8")
        site = next(line for line in text.splitlines() if line.startswith("# site: "))
        told = text.replace(site, "# site: " + ("tail" if k else "forelimb"))
        (mixed / path.name).write_text(told, encoding="utf-8")
    result = run("chart", mixed, session_folder, "--json")
    assert result.exit_code == 3
    assert "differ in site" in result.stderr
    refused, charted = objects(result)
    assert refused["error"]["code"] == "several-series"
    assert charted["systolic"] is not None


def test_one_bad_recording_does_not_lose_the_session(run, session_folder: Path, tmp_path: Path) -> None:
    """The other recordings are charted, the bad one is told, and the exit code is 3.

    Oracle: by construction.
    """
    folder = tmp_path / "session"
    folder.mkdir()
    for path in session_folder.glob("*.csv"):
        (folder / path.name).write_bytes(path.read_bytes())
    (folder / "reading-9.csv").write_bytes(b"\x00\x01")
    result = run("chart", folder)
    assert result.exit_code == 3
    assert result.stderr.startswith(f"{folder / 'reading-9.csv'}")
    assert "Charted pressure" in result.stdout


def test_a_session_without_usable_reading_gives_no_pressure(run, recordings: Path, tmp_path: Path) -> None:
    """A deflation without pulses has no pressure to chart; the session says so and the command succeeds.

    Oracle: by construction.
    """
    result = run("chart", recordings / "r11.csv", "--json")
    assert result.exit_code == 0
    (told,) = objects(result)
    assert told["systolic"] is None
    assert told["categories"] == {"today": [], "animal": []}
    text = run("chart", recordings / "r11.csv")
    assert "No category" in text.stdout


@pytest.mark.parametrize("organs", ["ears=present", "eyes", "eyes=big"])
def test_unknown_organs_and_states_are_wrong_use(run, typed: Path, organs: str) -> None:
    """An organ or a state that does not exist is refused with what there is.

    Oracle: common practice, exit code 2 for wrong use.
    """
    result = run("chart", typed, "--organs", organs)
    assert result.exit_code == 2
    assert "use " in result.stderr


def test_a_picture_of_the_session_is_written(run, typed: Path, tmp_path: Path) -> None:
    """`--picture` writes the session's picture.

    Oracle: by construction, the signature of a PNG file.
    """
    assert run("chart", typed, "--picture", tmp_path / "s.png").exit_code == 0
    assert (tmp_path / "s.png").read_bytes().startswith(b"\x89PNG")


def test_the_object_of_a_bad_recording_names_its_file(run, session_folder: Path, tmp_path: Path) -> None:
    """Two bad files in a folder give two errors that can be told apart.

    Oracle: by construction.
    """
    folder = tmp_path / "session"
    folder.mkdir()
    for path in session_folder.glob("*.csv"):
        (folder / path.name).write_bytes(path.read_bytes())
    for name in ("reading-8.csv", "reading-9.csv"):
        (folder / name).write_bytes(b"\x00\x01")
    told = objects(run("chart", folder, "--json"))
    says = [each["error"]["says"] for each in told if "error" in each]
    assert [str(folder / name) in say for name, say in zip(("reading-8.csv", "reading-9.csv"), says, strict=True)] == [
        True,
        True,
    ]


def test_the_answer_stands_first_and_the_date_in_words(run, typed: Path) -> None:
    """Under the name of the session: charted systolic pressure, category and course.

    Oracle: by construction, the engine called directly.
    """
    typed.write_text("# started_at: 2100-01-01T09:00:00+00:00\n" + typed.read_text(encoding="utf-8"), encoding="utf-8")
    lines = run("chart", typed).stdout.splitlines()
    charted = chart(read_readings(typed))
    assert charted.systolic is not None
    assert lines[1].startswith(f"  Charted {charted.systolic.value:.0f}")
    assert "mmHg systolic: " in lines[1]
    assert "1 January 2100, 09:00" in "\n".join(lines)
    assert "2100-01-01" not in "\n".join(lines)


@pytest.mark.parametrize(("fall", "told"), [(0.4, " 0 mmHg"), (-0.4, " 0 mmHg"), (3.2, " -3 mmHg"), (-2.6, " +3 mmHg")])
def test_a_change_has_its_sign_and_nothing_has_none(fall: float, told: str) -> None:
    """A fall is told as a negative change, and never as minus nothing.

    Oracle: by construction.
    """
    assert change_words(fall) == f"systolic in the fitted course, from the first to the last reading:{told}"


def test_the_change_is_that_of_the_fitted_course(run, typed: Path) -> None:
    """The change is the engine's, and the text says of what.

    Oracle: by construction, the engine called directly.
    """
    fall = chart(read_readings(typed)).fall_mmhg
    assert fall is not None
    assert change_words(fall) in " ".join(run("chart", typed).stdout.split())


@pytest.mark.parametrize(
    ("value", "words"),
    [("179", "category open (hypertensive by the value)"), ("70", "Low pressure: confirm it at once")],
)
def test_one_reading_is_not_headed_as_if_it_were_certain(run, typed: Path, value: str, words: str) -> None:
    """One reading leaves the category open, and a low one is told as low, above the readings.

    Oracle: by construction for the first; common practice, under 90 mmHg is low, for the second.
    """
    typed.write_text(f"# species: cat\nminute,systolic_mmHg\n0,{value}\n", encoding="utf-8")
    text = " ".join(run("chart", typed).stdout.split())
    assert words in text
    assert "Usable readings: 1 taken, 0 left after the first is dropped" in text
    assert "Its rule: ACVIM 2018: first reading dropped, mean of the rest; (max - min) / mean below 20 % (from" in text
    assert "Course: one reading tells no course. Guideline average: none, no reading was kept" in text
    assert objects(run("chart", typed, "--json"))[0]["course_probability"] is None
    assert "Risk category (ACVIM 2018, from memory)" in text
    if value == "70":
        assert text.index("Look at the animal now") < text.index("verdict")


def conversion_file(folder: Path, *, sedation: str = "awake", low: float = 100.0, invented: bool = False) -> Path:
    """A conversion of forelimb cuffs in cats to a catheter: 4 mmHg more, known over low..250."""
    found = Conversion(
        quantity="systolic",
        converts_to="femoral catheter",
        species="cat",
        site="forelimb",
        technique="oscillometric",
        sedation=sedation,  # type: ignore[arg-type]
        middle=150.0,
        at_middle=154.0,
        slope=1.0,
        middle_sd=2.0,
        slope_sd=0.05,
        correlation=0.0,
        between_sd=5.0,
        residual_sd=6.0,
        df=11.0,
        low=low,
        high=250.0,
        animals=12,
        pairs=48,
        study="A study that is invented for this test",
        version="2",
    )
    path = folder / "conversion.json"
    path.write_text(conversion_text(found, invented=invented), encoding="utf-8")
    return path


def test_a_conversion_is_shown_beside_and_changes_nothing(run, typed: Path, tmp_path: Path) -> None:
    """Chosen, it stands beside the measured value; all else is as without it; not chosen, there is none.

    Oracle: by construction, a line that adds 4 mmHg.
    """
    path = conversion_file(tmp_path)
    (plain,) = [json.loads(line) for line in run("chart", typed, "--json").stdout.splitlines()]
    result = run("chart", typed, "--conversion", path, "--json")
    assert result.exit_code == 0, result.stderr
    (told,) = [json.loads(line) for line in result.stdout.splitlines()]
    jsonschema.validate(told, SCHEMA)
    assert plain.pop("converted") is None
    beside = told.pop("converted")
    assert told == plain
    assert beside["measured"] == told["systolic"]
    assert beside["converted"]["value"] == pytest.approx(told["systolic"]["value"] + 4.0, abs=0.002)
    assert beside["converted"]["high"] - beside["converted"]["low"] > told["systolic"]["high"] - told["systolic"]["low"]
    shares = beside["categories"]
    assert sum(shares.values()) == pytest.approx(1.0, abs=0.002)
    # a normal law about the converted value, as wide as its interval, has about the same shares
    spread = (beside["converted"]["high"] - beside["converted"]["low"]) / 3.92
    for edge, names in ((160.0, ("hypertensive", "severely hypertensive")), (180.0, ("severely hypertensive",))):
        above = 1.0 - NormalDist(beside["converted"]["value"], spread).cdf(edge)
        assert sum(shares[name] for name in names) == pytest.approx(above, abs=0.05)
    text = run("chart", typed, "--conversion", path).stdout
    assert "converted to femoral catheter" in text
    assert "Of the converted value:" in text
    assert "version 2" in text


@pytest.mark.parametrize(
    ("options", "code"),
    [
        ({"low": 200.0}, "beyond-range"),
        ({"sedation": "anaesthetised"}, "other-sedation"),
        ({"invented": True}, "invented-conversion"),
    ],
)
def test_a_conversion_is_refused_where_it_does_not_hold(
    run, typed: Path, tmp_path: Path, options: dict, code: str
) -> None:
    """Beyond its range, of other circumstances, or of invented pairs: the measured value stands alone, and why.

    Oracle: by construction.
    """
    path = conversion_file(tmp_path, **options)
    (told,) = [json.loads(line) for line in run("chart", typed, "--conversion", path, "--json").stdout.splitlines()]
    assert told["converted"]["refused"]["code"] == code
    assert told["converted"]["converted"] is None
    assert "Not converted" in run("chart", typed, "--conversion", path).stdout


def test_a_missing_conversion_charts_nothing(run, typed: Path, tmp_path: Path) -> None:
    """What was asked for cannot be shown, so nothing is.

    Oracle: by construction.
    """
    result = run("chart", typed, "--conversion", tmp_path / "none.json")
    assert (result.exit_code, result.stdout) == (3, "")
