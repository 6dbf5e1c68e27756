"""`quietlimb compare`."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any, get_args

import pytest
from click.testing import Result
from jsonschema import Draft202012Validator

from agreement.invented_rows import invented_rows
from quietlimb.agreement import pair_rows, window_rule
from quietlimb.agreement.arterial_line import FlushResponse, judge_line
from quietlimb.agreement.arterial_trace import ArterialTrace
from quietlimb.agreement.limits import limits_of_agreement
from quietlimb.agreement.pairs import Truth
from quietlimb.agreement.schemes import SCHEMES
from quietlimb.cli import compare_options
from quietlimb.exchange.arterial_channel import arterial_text, read_arterial
from quietlimb.exchange.conversion_json import read_conversion
from quietlimb.exchange.pairs_csv import pairs_text, read_pairs
from quietlimb.exchange.plan_json import read_plan
from quietlimb.exchange.schemas import schema

PLANNED = (
    *("--title", "A tail cuff", "--question", "Does it agree?", "--tested", "tail cuff"),
    *("--reference", "catheter in a pedal artery", "--animals", "9", "--readings", "4", "--on", "2031-02-04"),
    *("--quantity", "systolic"),
)


@pytest.fixture
def table(tmp_path: Path) -> Path:
    """Pairs of nine invented cats, two determinations failed."""
    path = tmp_path / "pairs.csv"
    path.write_text(pairs_text(invented_rows(3, failed=2, mean=True)), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two-channel recordings of three simulated cats, two each, a flush beside the folder."""
    from click.testing import CliRunner

    from quietlimb.cli.main import quietlimb

    out = tmp_path_factory.mktemp("compare") / "study"
    arguments = [
        "simulate",
        "comparison",
        str(out),
        "--animals",
        "3",
        "--readings",
        "2",
        "--species",
        "cat",
        "--seed",
        "4",
    ]
    assert CliRunner().invoke(quietlimb, arguments).exit_code == 0
    return out


def told(result: Result, name: str) -> dict[str, Any]:
    """The one JSON line of a result, valid by the committed schema."""
    (line,) = result.stdout.splitlines()
    found: dict[str, Any] = json.loads(line)
    Draft202012Validator(schema(name)).validate(found)
    return found


def test_pairs_give_the_statistics_of_the_room(run, table: Path) -> None:
    """Bias and limits are those of the library; failures are counted.

    Oracle: by construction, the library called directly. Tolerance: rounding to 6 decimals.
    """
    result = run("compare", "pairs", table, "--json", "--criteria", "all")
    assert result.exit_code == 0, result.stderr
    found = told(result, "comparison")
    limits = limits_of_agreement(read_pairs(table).rows.pairs("systolic"))
    systolic, mean = found["compared"]
    assert (systolic["quantity"], mean["quantity"]) == ("systolic", "mean")
    for name in ("bias", "lower", "upper"):
        for end in ("estimate", "low", "high"):
            assert systolic["limits"][name][end] == pytest.approx(getattr(getattr(limits, name), end), abs=1e-6)
    assert (systolic["pairs"], systolic["attempts"], systolic["failed_tested"]) == (34, 36, 2)
    assert len(systolic["judgements"]) == len(systolic["recruitment"]) == 6
    assert found["invented"] is True


def test_text_tells_all_parts(run, table: Path) -> None:
    """Who against whom, limits, criteria with sources, ranges, what is missing, plan, cautions, methods.

    Oracle: by construction, the list of what the command promises.
    """
    text = run("compare", "pairs", table).stdout
    for part in (
        "INVENTED - not a patient",
        "tail cuff against catheter in a pedal artery",
        "single differences are expected from",
        "gave no value in 2 of 36 attempts",
        "share within 10 mmHg",
        "from memory",
        "slope of Deming's line",
        "slope of Passing and Bablok's line",
        "160 mmHg or more, found (sensitivity)",
        "(customary: 90 %)",
        "Nothing is missing.",
        "No plan was given",
        "no way round",
        "Methods paragraph",
    ):
        assert part in text


def test_a_bad_line_is_told_and_the_rest_goes_on(run, table: Path) -> None:
    """File, line and remedy on stderr; exit code 3; the others are compared.

    Oracle: by construction.
    """
    lines = table.read_text(encoding="utf-8").splitlines()
    lines[12] = lines[12].replace("cat,tail", "horse,tail", 1)
    table.write_text("\n".join(lines) + "\n", encoding="utf-8")
    result = run("compare", "pairs", table)
    assert result.exit_code == 3
    assert "pairs.csv, line 13: species is 'horse'" in result.stderr
    assert "33 pairs of 9 animals" in result.stdout


def test_a_plan_is_held_or_what_departs_is_told(run, table: Path, tmp_path: Path) -> None:
    """Run as planned; then with other criteria and one animal less; a changed plan is refused.

    Oracle: by construction.
    """
    plan = tmp_path / "plan.json"
    made = run("compare", "plan", plan, *PLANNED)
    assert made.exit_code == 0, made.stderr
    assert read_plan(plan).fingerprint in made.stdout
    other = told(run("compare", "plan", tmp_path / "other.json", *PLANNED, "--json"), "comparison-planned")
    assert other["fingerprint"] == read_plan(plan).fingerprint
    assert other["plan"] == json.loads(plan.read_text(encoding="utf-8"))
    assert run("compare", "plan", plan, *PLANNED).exit_code == 2
    found = told(run("compare", "pairs", table, "--plan", plan, "--json"), "comparison")
    assert found["plan"]["as_planned"] is True
    assert [each["quantity"] for each in found["compared"]] == ["systolic"]
    fewer = replace(invented_rows(3, failed=2), rows=invented_rows(3, failed=2).rows[4:])
    table.write_text(pairs_text(fewer), encoding="utf-8")
    found = told(run("compare", "pairs", table, "--plan", plan, "--criteria", "iso-81060-2", "--json"), "comparison")
    assert [each["code"] for each in found["plan"]["departs"]] == ["animals", "schemes"]
    assert "not run as planned" in run("compare", "pairs", table, "--plan", plan, "--confidence", "90").stdout
    plan.write_text(plan.read_text(encoding="utf-8").replace('"animals": 9', '"animals": 8'), encoding="utf-8")
    assert run("compare", "pairs", table, "--plan", plan).exit_code == 3


def test_a_bundle_runs_again_to_the_byte(run, table: Path, tmp_path: Path) -> None:
    """Same results byte for byte; a pair that was changed is found out, and so is which figure moved.

    Oracle: by construction.
    """
    bundle, plan = tmp_path / "bundle", tmp_path / "plan.json"
    run("compare", "plan", plan, *PLANNED)
    made = run("compare", "pairs", table, "--bundle", bundle, "--plan", plan)
    assert made.exit_code == 0, made.stderr
    again = run("compare", "rerun", bundle)
    assert (again.exit_code, "the same to the byte" in again.stdout) == (0, True)
    twin = tmp_path / "twin"
    run("compare", "pairs", table, "--bundle", twin, "--plan", plan)
    assert {file.name: file.read_bytes() for file in bundle.iterdir()} == {
        file.name: file.read_bytes() for file in twin.iterdir()
    }
    pairs = bundle / "pairs.csv"
    lines = pairs.read_text(encoding="utf-8").splitlines()
    systolic = next(line for line in lines if line.startswith("animal,")).split(",").index("reference_systolic_mmHg")
    cells = lines[-1].split(",")
    cells[systolic] = str(float(cells[systolic]) + 1.0)
    pairs.write_text("\n".join([*lines[:-1], ",".join(cells)]) + "\n", encoding="utf-8")
    changed = run("compare", "rerun", bundle)
    assert changed.exit_code == 3
    assert "pairs.csv is not what was bundled" in changed.stderr
    asked = run("compare", "rerun", bundle, "--json")
    found = told(asked, "comparison-rerun")
    assert (asked.exit_code, found["identical"], found["changed"]) == (3, False, ["pairs.csv"])
    assert "compared/0/bias/bias/estimate" in {each["where"] for each in found["differing"]}
    assert [f"  {each['where']}:" for each in found["differing"]] == [
        line.partition(":")[0] + ":" for line in changed.stdout.splitlines()
    ]
    assert told(run("compare", "rerun", twin, "--json"), "comparison-rerun")["identical"] is True
    (twin / "methods.txt").write_text("Otherwise.\n", encoding="utf-8")
    altered = run("compare", "rerun", twin)
    assert altered.exit_code == 3
    assert "but the bundle is not as it was made: methods.txt" in altered.stdout
    assert told(run("compare", "rerun", tmp_path / "none", "--json"), "comparison-rerun")["error"]["code"]
    assert run("compare", "pairs", table, "--bundle", bundle).exit_code == 2


def test_figures_report_and_conversion_are_written(run, table: Path, tmp_path: Path) -> None:
    """Where they were asked for; a conversion needs its study and the state of its animals.

    Oracle: by construction.
    """
    out, report, conversion = tmp_path / "figures", tmp_path / "report.pdf", tmp_path / "tail.json"
    asked = ("--pictures", out, "--out", report, "--conversion", conversion)
    result = run(
        "compare",
        "pairs",
        table,
        *asked,
        "--study",
        "Invented 2031",
        "--sedation",
        "anaesthetised",
        "--quantity",
        "systolic",
    )
    assert result.exit_code == 0, result.stderr
    assert {file.stem for file in out.iterdir()} == {
        f"systolic-{name}" for name in ("differences", "scatter", "four-quadrants", "recruitment")
    }
    assert report.read_bytes().startswith(b"%PDF")
    found = read_conversion(conversion)
    assert (found.conversion.site, found.conversion.species, found.invented) == ("tail", "cat", True)
    assert (found.conversion.instrument, found.conversion.cuff_shares) == (None, None)
    assert "for any instrument and any cuff" in result.stderr
    narrow = tmp_path / "narrow.json"
    told = ("--conversion", narrow, "--study", "Invented 2031", "--sedation", "anaesthetised", "--quantity", "systolic")
    result = run("compare", "pairs", table, *told, "--instrument", "grey box", "--cuff-shares", "30,40")
    assert "for any" not in result.stderr
    found = read_conversion(narrow)
    assert (found.conversion.instrument, found.conversion.cuff_shares) == ("grey box", (0.30, 0.40))
    assert run("compare", "pairs", table, *told, "--cuff-shares", "40,30").exit_code == 2
    assert run("compare", "pairs", table, "--conversion", conversion).exit_code == 2
    assert run("compare", "pairs", table, "--out", table).exit_code == 2


def test_a_conversion_is_bound_to_what_the_pairs_tell(run, table: Path, tmp_path: Path) -> None:
    """Instrument and cuffs come from the table where all rows tell them; an option that they contradict is refused.

    Oracle: by construction.
    """
    rows = read_pairs(table).rows
    cuffs = tuple(replace(row, instrument="grey box", cuff_percent=32.0 + k % 9) for k, row in enumerate(rows.rows))
    table.write_text(pairs_text(replace(rows, rows=cuffs)), encoding="utf-8")
    assert read_pairs(table).rows.rows == cuffs
    out = tmp_path / "bound.json"
    asked = ("compare", "pairs", table, "--quantity", "systolic", "--conversion", out, "--study", "Invented 2031")
    result = run(*asked, "--sedation", "anaesthetised")
    assert result.exit_code == 0, result.stderr
    found = read_conversion(out).conversion
    assert (found.instrument, found.cuff_shares) == ("grey box", (0.32, 0.40))
    for wrong in (("--instrument", "white box"), ("--cuff-shares", "35,45")):
        refused = run(*asked, "--sedation", "anaesthetised", *wrong)
        assert refused.exit_code == 3
        assert "among the pairs is" in refused.stderr
    assert "other" not in run(*asked, "--sedation", "anaesthetised", "--cuff-shares", "30,45").stderr
    awake = run(*asked, "--sedation", "awake")
    assert (awake.exit_code, "anaesthetised" in awake.stderr) == (3, True)


def test_two_channels_become_pairs(run, study: Path, tmp_path: Path) -> None:
    """The pairs lie where the simulator's truth lies, with the line judged by its flush.

    Oracle: by construction, the truth beside each recording. Tolerance: 1 mmHg, for beats at the edge and the line.
    """
    out = tmp_path / "pairs.csv"
    flush = study.with_name("study.flush.csv")
    result = run(
        "compare", "recordings", study, "--flush", flush, "--pairs-out", out, "--method", "fixed-ratios", "--json"
    )
    assert result.exit_code == 0, result.stderr
    found = told(result, "comparison")
    assert (found["truth"], found["reference_is"], found["animals"], found["rows"]) == (
        "changing",
        "intra-arterial",
        3,
        6,
    )
    assert found["analysis"]["rule"]["window"] == "deflation"
    assert "line" not in result.stderr
    rows = read_pairs(out).rows.rows
    for row, file in zip(rows, sorted(study.glob("*.csv")), strict=True):
        truth = json.loads(file.with_name(f"{file.stem}.truth.json").read_text(encoding="utf-8"))
        for name in ("systolic", "mean", "diastolic"):
            assert row.reference.of(name) == pytest.approx(truth[name], abs=1.0)


def test_recordings_that_name_no_animal_are_refused(run, study: Path, tmp_path: Path) -> None:
    """One file without a name is told with the remedy and left out, the rest is compared; with none named nothing is.

    Oracle: by construction: 2 files of 3 animals, not 6 animals.
    """
    folder = tmp_path / "unnamed"
    folder.mkdir()
    texts = {file.name: file.read_text(encoding="utf-8") for file in sorted(study.glob("*.csv"))}
    for k, (name, text) in enumerate(texts.items()):
        kept = [line for line in text.splitlines() if k or not line.startswith("# animal:")]
        (folder / name).write_text("\n".join(kept) + "\n", encoding="utf-8")
    asked = ("--method", "fixed-ratios", "--quantity", "systolic", "--json")
    result = run("compare", "recordings", folder, *asked)
    assert result.exit_code == 3
    assert "names no animal; name it above the table ('# animal: ...')" in " ".join(result.stderr.split())
    refused, compared = (json.loads(line) for line in result.stdout.splitlines())
    assert refused["error"]["code"] == "animal-not-told"
    assert (compared["animals"], compared["rows"]) == (3, 5)
    for name, text in texts.items():
        kept = [line for line in text.splitlines() if not line.startswith("# animal:")]
        (folder / name).write_text("\n".join(kept) + "\n", encoding="utf-8")
    none = run("compare", "recordings", folder, *asked)
    assert (none.exit_code, none.stderr.count("names no animal")) == (3, 6)
    assert all("error" in json.loads(line) for line in none.stdout.splitlines())


def test_a_line_that_was_not_flushed_is_told(run, study: Path) -> None:
    """Without the flush the line is unknown, and that is said once for all recordings.

    Oracle: by construction.
    """
    window = ("--window", "before", "--seconds", "2")
    none = run("compare", "recordings", study, "--method", "fixed-ratios", *window)
    assert none.exit_code == 3
    assert "not flushed" in none.stderr
    result = run("compare", "recordings", study, "--method", "fixed-ratios", "--quantity", "systolic")
    text = " ".join(result.stdout.split())
    assert "Arterial line, 6 of 6 determinations: not flushed" in text
    assert text.index("not flushed") < text.index("Systolic pressure")


def test_what_is_told_of_the_line_stands_in_every_output(run, study: Path, tmp_path: Path) -> None:
    """A clean line is told with its figures; one with an offset that rings stands before the figures, in text, JSON,
    methods paragraph and bundle, and the bundle's table gives the same judgement again.

    Oracle: by construction: the simulated line of 40 Hz with damping 0.55, and figures written into the table.
    """
    flush, out, bundle = study.with_name("study.flush.csv"), tmp_path / "pairs.csv", tmp_path / "bundle"
    asked = ("--flush", flush, "--method", "fixed-ratios", "--quantity", "systolic")
    clean = run("compare", "recordings", study, *asked, "--pairs-out", out, "--bundle", bundle, "--json")
    line = told(clean, "comparison")["line"]
    assert (line["determinations"], line["adequate"], line["faults"]) == (6, 6, [])
    assert all(34.0 <= hz <= 46.0 for hz in line["figures"]["natural_hz"])
    assert all(0.45 <= damping <= 0.65 for damping in line["figures"]["damping"])
    assert told(run("compare", "rerun", bundle, "--json"), "comparison-rerun")["identical"] is True
    rows = read_pairs(out).rows
    bad = tuple(
        replace(
            row,
            line=judge_line(
                zero_mmhg=7.0,
                below_heart_cm=0.0,
                response=FlushResponse(ended_s=None, natural_hz=12.0, damping=0.1),
                systolic=row.reference.systolic,
                diastolic=row.reference.diastolic,
                pulse_rate=180.0,
            ),
        )
        for row in rows.rows
    )
    out.write_text(pairs_text(replace(rows, rows=bad)), encoding="utf-8")
    assert read_pairs(out).rows.rows == bad
    result = run("compare", "pairs", out, "--quantity", "systolic")
    text = " ".join(result.stdout.split())
    sentences = ("6 of 6 determinations: the transducer says +7.0 mmHg", "6 of 6 determinations: it rings too much")
    for sentence in sentences:
        assert text.index(sentence) < text.index("Systolic pressure:")
    found = told(run("compare", "pairs", out, "--quantity", "systolic", "--json"), "comparison")
    assert [each["code"] for each in found["line"]["faults"]] == ["zero-off", "flush-rings-too-much"]
    for sentence, before in zip(sentences, found["before"], strict=False):
        assert sentence in before
    assert "natural frequency 12 Hz" in found["methods"]
    assert "in 0 of 6 determinations" in found["methods"]


def test_several_criteria_stand_in_one_table_and_in_full_on_request(run, table: Path) -> None:
    """A line for each scheme with the verdict of the JSON and what decides it; with --details every criterion.

    Oracle: by construction, the verdicts and criteria of the same comparison as JSON.
    """
    asked = ("compare", "pairs", table, "--quantity", "systolic")
    brief = run(*asked, "--criteria", "all").stdout
    full = run(*asked, "--criteria", "all", "--details").stdout
    (compared,) = told(run(*asked, "--criteria", "all", "--json"), "comparison")["compared"]
    names = {key: each.name for key, each in SCHEMES.items()}
    lines = brief[brief.index("decided by") : brief.index("with --details")].splitlines()
    for judged in compared["judgements"]:
        (line,) = [each for each in lines if each.startswith(f"  {names[judged['scheme']]} ")]
        if judged["grade"] is not None:
            assert f"grade {judged['grade']}" in line
            continue
        words = {"passes": "met", "fails": "not met", "not-enough-animals": "too few", "not-judged": "not judged"}
        assert f" {words[judged['verdict'].removesuffix('-crossing')]}" in line
        assert line.endswith(" -") == (judged["verdict"] == "passes")
        if judged["verdict"] != "passes":
            decided = [each for each in judged["judged"] if each["verdict"] == judged["verdict"]]
            assert line.endswith(f"; {len(decided) - 1} more") == (len(decided) > 1)
    assert len(brief.splitlines()) < 0.6 * len(full.splitlines())
    assert "Recruited for" not in brief
    one = run(*asked, "--criteria", "iso-81060-2").stdout
    for line in one[one.index("  criterion ") : one.index("  range ")].splitlines():
        assert line in full.splitlines()
    assert "--details" not in full
    assert "--details" not in one


def test_a_bundle_of_recordings_holds_the_flush_and_finds_another_line(run, study: Path, tmp_path: Path) -> None:
    """The samples of the flush go with the pairs, once for all rows; run again they give the rows' figures, and a
    damping that somebody rounded up, or samples of another line, are found.

    Oracle: by construction: the line of the table is that of the samples, then it is changed.
    """
    flush, bundle = study.with_name("study.flush.csv"), tmp_path / "bundle"
    asked = ("--flush", flush, "--method", "fixed-ratios", "--quantity", "systolic")
    assert run("compare", "recordings", study, *asked, "--bundle", bundle).exit_code == 0
    assert [file.name for file in sorted(bundle.glob("flush*.csv"))] == ["flush-001.csv", "flushes.csv"]
    again = run("compare", "rerun", bundle)
    assert again.exit_code == 0, again.stderr
    assert "samples of a flush for 6 rows: natural frequency and damping are the same" in again.stdout
    found = told(run("compare", "rerun", bundle, "--json"), "comparison-rerun")
    assert (found["flushes"], found["lines"]) == (6, [])
    rows = read_pairs(bundle / "pairs.csv").rows
    response = rows.rows[1].line.response
    other = replace(rows.rows[1].line, response=replace(response, damping=round(response.damping, 2) + 0.01))
    changed = replace(rows, rows=(rows.rows[0], replace(rows.rows[1], line=other), *rows.rows[2:]))
    (bundle / "pairs.csv").write_text(pairs_text(changed), encoding="utf-8")
    result = run("compare", "rerun", bundle)
    assert result.exit_code == 3
    assert "the samples of the flushes tell the lines otherwise (1 figures)" in result.stderr
    assert "pairs.csv/row 2/line_damping" in result.stdout
    (bundle / "pairs.csv").write_text(pairs_text(rows), encoding="utf-8")
    samples = read_arterial(bundle / "flush-001.csv")
    slower = ArterialTrace(time_s=2.0 * samples.time_s, pressure_mmhg=samples.pressure_mmhg)
    (bundle / "flush-001.csv").write_text(arterial_text(slower, invented=True), encoding="utf-8")
    found = told(run("compare", "rerun", bundle, "--json"), "comparison-rerun")
    assert (found["identical"], found["changed"]) == (True, ["flush-001.csv"])
    assert {each["where"].rpartition("/")[2] for each in found["lines"]} >= {"line_natural_Hz"}
    (bundle / "flushes.csv").write_text("row,file\n7,flush-001.csv\n", encoding="utf-8")
    broken = run("compare", "rerun", bundle)
    assert broken.exit_code == 3
    assert "flushes.csv says '7,flush-001.csv'" in broken.stderr


MINE = """
def good(recording):
    told = TRUTH[recording.fingerprint]
    return {"systolic": told[0], "mean": told[1], "diastolic": None}

def bad(recording):
    raise RuntimeError("no idea")

def odd(recording):
    return "150/90"

def swapped(recording):
    return 80.0, None, 120.0

import json, pathlib
TRUTH = {}
for file in pathlib.Path(FOLDER).glob("*.truth.json"):
    one = json.loads(file.read_text(encoding="utf-8"))
    TRUTH[one["fingerprint"]] = (one["systolic"], one["mean"])
"""


def test_a_plug_in_is_ranked_and_a_bad_one_ends_nothing(run, study: Path, tmp_path: Path) -> None:
    """One that knows the truth is first, those that raise or return what is no pressure are last, and their failures
    are told once, with the count, and one by one in the JSON.

    Oracle: by construction, a method that looks the truth up.
    """
    mine = tmp_path / "mine.py"
    mine.write_text(f"FOLDER = {str(study)!r}\n{MINE}", encoding="utf-8")
    arguments = [argument for name in ("good", "bad", "odd", "swapped") for argument in ("--plug-in", f"{mine}:{name}")]
    result = run("compare", "methods", study, *arguments, "--json")
    assert result.exit_code == 3
    for words in ("no idea", "it returned str", "its systolic pressure does not lie above its diastolic pressure"):
        (line,) = [line for line in result.stderr.splitlines() if words in line]
        assert "(and of 5 more recordings)" in line
    found = json.loads(next(line for line in result.stdout.splitlines() if "ranked" in line))
    Draft202012Validator(schema("methods")).validate(found)
    systolic = found["ranked"]["systolic"]
    assert systolic[0]["method"] == f"{mine}:good"
    assert systolic[0]["rms"] == pytest.approx(0.0, abs=1e-6)
    assert {each["method"].rpartition(":")[2] for each in systolic[-3:]} == {"bad", "odd", "swapped"}
    assert all((each["failed"], each["place"]) == (6, None) for each in systolic[-3:])
    assert {each["code"] for each in found["failures"]} == {"plug-in-failed", "plug-in-returned"}
    assert len(found["failures"]) == 18
    assert [each["failed"] for each in found["ranked"]["diastolic"] if each["method"] == f"{mine}:good"] == [6]


@pytest.mark.parametrize("named", ["mine", "no.such.module:read", "json:nothing", "json:__doc__", "/no/such.py:read"])
def test_what_is_no_plug_in_is_wrong_use(run, study: Path, named: str) -> None:
    """Exit code 2, with how to name one.

    Oracle: by construction.
    """
    assert run("compare", "methods", study, "--plug-in", named).exit_code == 2


def test_size_agrees_with_the_formula_and_names_its_seed(run) -> None:
    """A limit within 3 mmHg with a standard deviation of 8 takes about 80 animals.

    Oracle: derived, 11.2 (8 / 3)^2 = 80. Tolerance: 3, for the t law.
    """
    asked = ("compare", "size", "--between-sd", "8", "--limit-within", "3", "--readings", "1", "--seed", "5")
    found = told(run(*asked, "--json"), "comparison-size")
    (row,) = found["wishes"]
    assert row["animals"] == pytest.approx(80, abs=3)
    assert row["simulated"] == pytest.approx(row["formula"], rel=0.03)
    assert found["seed"] == 5
    assert "from seed 5" in run(*asked).stdout
    assert run("compare", "size", "--between-sd", "8").exit_code == 2


def test_size_says_why_there_is_no_number(run) -> None:
    """Limits that reach over what is tolerable by themselves; a wish that 2000 animals do not fulfil.

    Oracle: derived, 1.96 times 8 is 15.7.
    """
    asked = ("compare", "size", "--between-sd", "8", "--readings", "1")
    text = " ".join(run(*asked, "--tolerable", "15", "--limit-within", "0.1", "--bias-within", "4").stdout.split())
    assert "limits expected reach to 15.7 mmHg themselves" in text
    assert "know either limit to 0.1 mmHg: 2000 animals" in text
    assert "Of the bias nothing is simulated" in text


def test_missing_shows_ranges_and_species(run, table: Path) -> None:
    """What there is and what is lacking by the standard for people.

    Oracle: from memory, 15 subjects and 150 pairs with a catheter.
    """
    text = run("compare", "missing", table, "--quantity", "systolic", "--criteria", "iso-81060-2").stdout
    assert "9 animals of 15: 6 missing." in text
    assert "34 pairs of 150: 116 missing." in text
    asked = ("compare", "missing", table, "--quantity", "systolic", "--criteria", "iso-81060-2", "--json")
    found = told(run(*asked), "comparison-missing")
    (lacks,) = found["lacks"]
    assert (lacks["complete"], found["invented"]) == (False, True)
    needs = {each["key"]: (each["have"], each["need"]) for each in lacks["recruitment"]["needs"]}
    assert (needs["animals"], needs["pairs"]) == ((9, 15), (34, 150))
    assert "9 animals of 15: 6 missing." in lacks["says"]
    assert "pairs, cat" in text


def test_missing_counts_each_species_by_itself(run, table: Path) -> None:
    """Five cats and four dogs are no nine animals, and the table shows both.

    Oracle: from memory, 8 animals with a catheter; by construction.
    """
    rows = read_pairs(table).rows
    mixed = tuple(replace(row, species="cat" if k < 20 else "dog") for k, row in enumerate(rows.rows))
    table.write_text(pairs_text(replace(rows, rows=mixed)), encoding="utf-8")
    text = run("compare", "missing", table, "--quantity", "systolic").stdout
    assert "5 animals of 8: 3 missing." in text
    assert "4 animals of 8: 4 missing." in text
    assert "pairs, cat  pairs, dog" in text
    found = told(run("compare", "pairs", table, "--quantity", "systolic", "--json"), "comparison")
    assert [each["species"] for each in found["compared"][0]["judgements"]] == ["cat", "dog"]
    assert "species (cat, dog)" in found["before"][0]


def test_names_of_options_are_those_of_the_room() -> None:
    """Lists that help shows without loading the statistics.

    Oracle: by construction.
    """
    assert compare_options.QUANTITIES == pair_rows.QUANTITIES
    assert get_args(Truth) == compare_options.TRUTHS
    assert compare_options.WINDOWS == window_rule.WINDOWS


@pytest.mark.parametrize("bounds", ["systolic", "systolic=90", "systolic=160,90", "pulse=1,2", "systolic=low,high"])
def test_wrong_bounds_are_wrong_use(run, table: Path, bounds: str) -> None:
    """Exit code 2.

    Oracle: by construction.
    """
    assert run("compare", "pairs", table, "--bounds", bounds).exit_code == 2
