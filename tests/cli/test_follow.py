"""`quietlimb follow`."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result
from jsonschema import Draft202012Validator

from quietlimb.engine.follow_up.follow import follow
from quietlimb.exchange.history_csv import read_history
from quietlimb.exchange.schemas import schema

BROM = """# species: cat
# animal: Invented cat Brom
# instrument: display 1
# site: forelimb
# organ_damage: absent
# at_risk: yes
date,systolic_mmHg,systolic_low_mmHg,systolic_high_mmHg,readings,place,event
2031-01-10,176,168,184,6,consulting-room,
2031-02-07,189,181,197,7,consulting-room,treatment begun
2031-02-18,158,149,167,6,consulting-room,
2031-03-04,163,,,5,consulting-room,treatment changed
2031-03-15,146,138,154,7,consulting-room,
2031-04-02,214,204,224,6,consulting-room,
2031-05-20,149,141,157,6,home,
"""
ON = ("--on", "2031-06-03")


@pytest.fixture
def brom(tmp_path: Path) -> Path:
    """A treated cat with one odd session and one at home."""
    path = tmp_path / "brom.csv"
    path.write_text(BROM, encoding="utf-8")
    return path


def objects(result: Result) -> list[dict[str, Any]]:
    """The JSON lines of a result, each valid by the committed schema."""
    told = [json.loads(line) for line in result.stdout.splitlines()]
    for each in told:
        Draft202012Validator(schema("follow")).validate(each)
    return told


def test_a_history_gives_the_engines_answer(run, brom: Path) -> None:
    """The level, and the change since treatment began, are what the engine gives for the file.

    Oracle: by construction, the engine called directly. Tolerance: rounding to 3 decimals.
    """
    result = run("follow", brom, *ON, "--json", "--by", "15")
    assert result.exit_code == 0
    (told,) = objects(result)
    found = follow(read_history(brom), on_day=date(2031, 6, 3).toordinal(), by_mmhg=15.0)
    assert found.level is not None
    assert told["level"]["value"] == pytest.approx(found.level.value, abs=5.1e-4)
    assert told["changes"][2]["fell"] == pytest.approx(found.since_events[0].change.fell, abs=5.1e-5)
    assert told["changes"][2]["by"] == 15.0


def test_text_tells_all_parts(run, brom: Path) -> None:
    """Answer, goals, sessions with what is special of them, changes, high day, least change, recheck, cautions.

    Oracle: by construction, the list of what the command promises.
    """
    result = run("follow", brom, *ON)
    assert result.exit_code == 0
    text = result.stdout
    for part in (
        "INVENTED - not a patient",
        "3 June 2031: underlying systolic pressure",
        "least goal, below 160 (checked against a copy)",
        "ideal goal, below 140 (from memory)",
        "2031-02-07",
        "(1 of them under other circumstances)",
        "usual sessions here: place consulting-room.",
        "treatment begun",
        "odd (",
        "place home",
        "fell > 10",
        "since treatment changed:",
        "without any treatment",
        "What another session could show",
        "Next session 27 May 2031 to 3 June 2031",
        "Cautions",
        "licensed veterinarian",
    ):
        assert part in " ".join(text.split()), part
    assert max(map(len, text.splitlines()[1:])) <= 90


def test_treatment_begun_on_a_high_day_is_told_in_text_and_json(run, brom: Path) -> None:
    """The session of 7 February stood above the animal's level: how far, what that means, and the caution; not where
    the session before treatment lay below the level.

    Oracle: by construction, the engine called directly. Tolerance: rounding to 3 decimals.
    """
    found = follow(read_history(brom), on_day=date(2031, 6, 3).toordinal()).since_events[0].high_day
    assert found is not None
    (told,) = objects(run("follow", brom, *ON, "--json"))
    high_day = told["changes"][2]["high_day"]
    assert (high_day["date"], high_day["charted"], high_day["high"]) == ("2031-02-07", 189.0, True)
    assert high_day["above"] == pytest.approx(found.above_mmhg, abs=5.1e-4)
    caution = next(each for each in told["cautions"] if each["code"] == "begun-on-a-high-day")
    text = " ".join(run("follow", brom, *ON).stdout.split())
    assert f"The session of 7 February 2031 stood {found.above_mmhg:.0f} mmHg above the level" in text
    assert caution["says"] in text
    brom.write_text(BROM.replace("2031-02-07,189,181,197", "2031-02-07,150,142,158"), encoding="utf-8")
    (lower,) = objects(run("follow", brom, *ON, "--json"))
    assert lower["changes"][2]["high_day"]["high"] is False
    assert "begun-on-a-high-day" not in [each["code"] for each in lower["cautions"]]


@pytest.mark.parametrize(("systolic", "words"), [(82, "may be low"), (196, "severely raised")])
def test_an_alarming_session_is_told_before_everything_else(run, tmp_path: Path, systolic: int, words: str) -> None:
    """Although eight calm sessions make it an odd one, the words stand above the categories.

    Oracle: by construction.
    """
    path = tmp_path / "h.csv"
    lines = [f"2031-0{month}-01,{systolic if month == 9 else 141 + month}" for month in range(1, 10)]
    path.write_text("\n".join(["# species: cat", "date,systolic_mmHg", *lines]) + "\n", encoding="utf-8")
    text = " ".join(run("follow", path, "--on", "2031-09-02").stdout.split())
    assert 0 < text.index(words) < text.index("against the risk categories")


def test_an_old_day_leaves_later_sessions_out_and_says_so(run, brom: Path) -> None:
    """Seen from 1 March four sessions are left out; what stands on stdout is that of the history without them.

    Oracle: by construction, the file cut off there.
    """
    cut = brom.with_name("cut.csv")
    cut.write_text("".join(BROM.splitlines(keepends=True)[:10]), encoding="utf-8")
    then, short = (run("follow", path, "--on", "2031-03-01", "--json") for path in (brom, cut))
    assert "left out: 4" in then.stderr
    assert short.stderr == ""
    assert objects(then)[0]["level"] == objects(short)[0]["level"]


def test_the_change_since_any_day_can_be_asked(run, brom: Path) -> None:
    """Since 1 March, with the engine's own probabilities; a day before the first session is refused.

    Oracle: by construction, the engine called directly. Tolerance: rounding to 4 decimals.
    """
    (told,) = objects(run("follow", brom, *ON, "--since", "2031-03-01", "--json"))
    asked = next(change for change in told["changes"] if change["since"] == "day asked about")
    since = date(2031, 3, 1).toordinal()
    found = follow(read_history(brom), on_day=date(2031, 6, 3).toordinal(), since_day=since).between_days
    assert found is not None
    assert (asked["from"], asked["fell"]) == ("2031-03-01", pytest.approx(found.fell, abs=5.1e-5))
    assert "the day asked about" in run("follow", brom, *ON, "--since", "2031-03-01").stdout
    earlier = run("follow", brom, *ON, "--since", "2030-12-31")
    assert earlier.exit_code == 0
    assert "The day asked about lies before the first session that can be compared" in " ".join(earlier.stdout.split())


def test_mean_and_diastolic_pressure_stand_beside_where_the_file_tells_them(run, tmp_path: Path) -> None:
    """A row each, with the level and the change; a file of systolic pressures has no such section.

    Oracle: by construction, the engine called directly. Tolerance: rounding to whole mmHg.
    """
    path = tmp_path / "h.csv"
    rows = ["2031-01-10,170,130,108", "2031-02-10,168,128,105", "2031-03-10,166,126,104"]
    path.write_text(
        "\n".join(["# species: dog", "date,systolic_mmHg,mean_mmHg,diastolic_mmHg", *rows]) + "\n", encoding="utf-8"
    )
    lines = run("follow", path, "--on", "2031-03-20").stdout.splitlines()
    found = follow(read_history(path), on_day=date(2031, 3, 20).toordinal())
    for other in found.others:
        (line,) = [line for line in lines if line.split()[:1] == [other.pressure]]
        assert line.split()[:3] == [other.pressure, "(3)", f"{other.level.value:.0f}"]
        assert line.rstrip().endswith("the session before")
    assert [other.pressure for other in found.others] == ["mean", "diastolic"]
    assert "No rule looks at these." in " ".join(lines)


def test_the_change_between_any_two_days_can_be_asked(run, brom: Path) -> None:
    """From 1 February to 1 March, and the text names the end; an end without a beginning is wrong use.

    Oracle: by construction, the engine called directly. Tolerance: rounding to 4 decimals.
    """
    days = ("--since", "2031-02-01", "--until", "2031-03-01")
    (told,) = objects(run("follow", brom, *ON, *days, "--json"))
    asked = next(change for change in told["changes"] if change["since"] == "day asked about")
    since, until = date(2031, 2, 1).toordinal(), date(2031, 3, 1).toordinal()
    found = follow(read_history(brom), on_day=date(2031, 6, 3).toordinal(), since_day=since, until_day=until)
    assert found.between_days is not None
    assert (asked["from"], asked["to"]) == ("2031-02-01", "2031-03-01")
    assert asked["rose"] == pytest.approx(found.between_days.rose, abs=5.1e-5)
    assert told["fingerprint"] == found.fingerprint
    text = " ".join(run("follow", brom, *ON, *days).stdout.split())
    assert "since the day asked about, up to 1 March 2031: " in text
    refused = run("follow", brom, *ON, "--until", "2031-03-01")
    assert (refused.exit_code, refused.stdout) == (2, "")
    assert "--since" in refused.stderr


def test_no_line_is_wider_than_80_columns(run, tmp_path: Path) -> None:
    """Long months, all pressures, events, other circumstances at every session, a change that was asked about.

    Oracle: by construction. Tolerance: none.
    """
    path = tmp_path / "h.csv"
    rows = [
        "2031-09-18,181,140,118,consulting-room,side-lying,broad grey one,",
        "2031-09-28,196,150,126,hospital-cage,chest-down,the small one,treatment changed",
        "2031-10-28,163,128,110,waiting-room,standing,narrow,treatment changed",
        "2031-11-28,166,130,112,consulting-room,on-lap,broad,",
    ]
    head = [
        "# species: cat",
        "# born: 2020-05-01",
        "date,systolic_mmHg,mean_mmHg,diastolic_mmHg,place,position,cuff,event",
    ]
    path.write_text("\n".join([*head, *rows]) + "\n", encoding="utf-8")
    told = run("follow", path, "--on", "2031-11-29", "--since", "2031-09-20", "--until", "2031-10-30").stdout
    assert max(len(line) for line in told.splitlines()) <= 80
    shown = " ".join(told.split())
    assert "hospital-cage;" in shown
    assert "treatment changed" in shown


def test_the_recheck_list_is_in_order_of_need(run, brom: Path) -> None:
    """Overdue before not yet due, whatever the order given; one without a rule at the end.

    Oracle: by construction: 3 June is the last day of the one window, a raised pressure of 1 August has four weeks.
    """
    fresh, calm = brom.with_name("fresh.csv"), brom.with_name("calm.csv")
    fresh.write_text(
        "# species: dog\n# animal: Invented dog Ida\ndate,systolic_mmHg\n2031-08-01,150\n", encoding="utf-8"
    )
    calm.write_text(
        "# species: dog\n# animal: Invented dog Ole\ndate,systolic_mmHg\n2031-08-01,120\n", encoding="utf-8"
    )
    result = run("follow", "--due", "--on", "2031-08-03", calm, fresh, brom)
    assert result.exit_code == 0
    text = result.stdout
    assert text.index("Brom  overdue by 61 days") < text.index("Ida   not due yet") < text.index("calm.csv")
    listed = objects(run("follow", "--due", "--json", "--on", "2031-08-03", calm, fresh, brom))
    assert [Path(each["history"]).name for each in listed] == ["brom.csv", "fresh.csv", "calm.csv"]


def test_the_recheck_list_names_animal_and_file(run, brom: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The reason of each names both, the table both where two animals have one name; an animal without a name, or one
    that no rule asks for, is found by its file.

    Oracle: by construction.
    """
    monkeypatch.chdir(brom.parent)
    Path("other.csv").write_text(BROM, encoding="utf-8")
    Path("nameless.csv").write_text("# species: dog\ndate,systolic_mmHg\n2031-05-30,150\n", encoding="utf-8")
    Path("calm.csv").write_text(
        "# species: dog\n# animal: Invented dog Ole\ndate,systolic_mmHg\n2031-05-01,120\n", encoding="utf-8"
    )
    text = run("follow", "--due", *ON, "brom.csv", "other.csv", "nameless.csv", "calm.csv").stdout
    both, reasons = (" ".join(part.split()) for part in text.split("\n  - ", 1))
    assert "Invented cat Brom (brom.csv) due" in both
    assert "Invented cat Brom (other.csv) due" in both
    assert "nameless.csv not due yet" in both
    assert "Invented cat Brom (other.csv): " in reasons
    assert "No rule sets a day: Invented dog Ole (calm.csv)" in reasons
    alone = " ".join(run("follow", "--due", *ON, "brom.csv", "nameless.csv").stdout.split())
    assert "Invented cat Brom due" in alone
    assert "- Invented cat Brom (brom.csv): " in alone


def test_another_rule_set_has_other_windows(run, brom: Path) -> None:
    """The rule set is named, and one for cats alone is refused for a dog.

    Oracle: by construction.
    """
    (told,) = objects(run("follow", brom, *ON, "--json", "--rules", "isfm-2017"))
    assert "ISFM" in told["rule_set"]
    dog = brom.with_name("dog.csv")
    dog.write_text("# species: dog\ndate,systolic_mmHg\n2031-01-01,150\n", encoding="utf-8")
    refused = run("follow", dog, *ON, "--rules", "isfm-2017")
    assert refused.exit_code == 3
    assert "not for a dog" in refused.stderr


def test_what_stands_twice_is_told_and_changes_nothing(run, brom: Path) -> None:
    """A row typed twice: one line on stderr each for session and event, and the answer of the file without it.

    Oracle: by construction; equality but for the name of the file.
    """
    row = "2031-02-07,189,181,197,7,consulting-room,treatment begun\n"
    twice = brom.with_name("twice.csv")
    twice.write_text(BROM.replace(row, row + row), encoding="utf-8")
    result = run("follow", twice, *ON, "--json")
    (found,), (once,) = objects(result), objects(run("follow", brom, *ON, "--json"))
    assert result.exit_code == 0
    assert result.stderr.count("twice.csv: line 10 tells the same") == 2
    assert found | {"history": ""} == once | {"history": ""}


def test_a_picture_is_written(run, brom: Path) -> None:
    """As SVG, with the words that it is invented.

    Oracle: by construction.
    """
    target = brom.with_name("brom.svg")
    result = run("follow", brom, *ON, "--picture", target)
    assert result.exit_code == 0
    assert "INVENTED - not a patient" in target.read_text(encoding="utf-8")


def test_a_bad_file_does_not_stop_the_others(run, brom: Path) -> None:
    """Its line and remedy on stderr, an error object on stdout, exit code 3.

    Oracle: by construction.
    """
    bad = brom.with_name("bad.csv")
    bad.write_text("# species: cat\ndate,systolic_mmHg\n2031-13-01,150\n", encoding="utf-8")
    result = run("follow", bad, brom, *ON, "--json")
    assert result.exit_code == 3
    assert "line 3" in result.stderr
    error, good = objects(result)
    assert error["error"]["code"] == "not-a-date"
    assert good["level"] is not None


@pytest.mark.parametrize("options", [("--on", "3.6.2031"), ("--by", "0"), ("--rules", "mine")])
def test_wrong_options_are_wrong_use(run, brom: Path, options: tuple[str, str]) -> None:
    """Exit code 2, nothing on stdout.

    Oracle: by construction.
    """
    result = run("follow", brom, *options)
    assert result.exit_code == 2
    assert result.stdout == ""


def test_without_a_day_it_is_today(run, tmp_path: Path) -> None:
    """A session of today is known today.

    Oracle: by construction, the clock; a run over midnight sees the session of yesterday all the same.
    """
    today = date.today().isoformat()
    path = tmp_path / "today.csv"
    path.write_text(f"# species: cat\ndate,systolic_mmHg\n{today},150\n", encoding="utf-8")
    (told,) = objects(run("follow", path, "--json"))
    assert told["on"] in (today, date.today().isoformat())


def test_the_page_shows_what_the_command_says(run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The example of docs/follow-up.md gives the output that stands below it.

    Oracle: by construction, the page itself. Tolerance: none; all numbers there are rounded.
    """
    page = (Path(__file__).resolve().parents[2] / "docs" / "follow-up.md").read_text(encoding="utf-8")
    csv, text = (page.partition(f"```{kind}\n")[2].partition("\n```")[0] for kind in ("csv", "text"))
    monkeypatch.chdir(tmp_path)
    Path("example.csv").write_text(csv + "\n", encoding="utf-8")
    assert run("follow", "example.csv", "--on", "2031-07-20").stdout.rstrip() == text


def test_no_change_is_called_under_a_condition_where_the_latest_session_lies_apart(run, tmp_path: Path) -> None:
    """Five sessions about 150 and one of 178 mmHg; with one of 152 there is no condition.

    Oracle: by construction.
    """
    path = tmp_path / "h.csv"
    for last, said in ((178, True), (152, False)):
        head = ["# species: cat", "date,systolic_mmHg,readings"]
        values = (148, 152, 150, 147, 151, last)
        rows = [f"2031-0{month}-05,{value},6" for month, value in enumerate(values, start=1)]
        path.write_text("\n".join([*head, *rows]) + "\n", encoding="utf-8")
        text = " ".join(run("follow", path, "--on", "2031-06-06").stdout.split())
        assert "since the session before: within 10 of each other" in text
        assert ("within 10 of each other, if what was measured last is an odd day" in text) == said
        assert ("What was measured last lies further from the rest" in text) == said


def test_a_session_left_out_has_its_reason(run, tmp_path: Path) -> None:
    """Of two sessions left out one was sedated and one anaesthetised; each is named with its own reason.

    Oracle: by construction.
    """
    path = tmp_path / "h.csv"
    rows = ["2031-01-05,150,", "2031-02-05,110,sedated", "2031-03-05,90,anaesthetised", "2031-04-05,152,"]
    path.write_text("\n".join(["# species: cat", "date,systolic_mmHg,sedation", *rows]) + "\n", encoding="utf-8")
    text = " ".join(run("follow", path, "--on", "2031-04-06").stdout.split())
    assert "Left out: 5 February 2031 (sedated), 5 March 2031 (anaesthetised)." in text


def test_a_rule_set_without_a_day_of_its_own_says_so(run, tmp_path: Path) -> None:
    """An untreated cat at 165 mmHg: by ISFM 2017 the days are those of ACVIM 2018, and by that its own.

    Oracle: from memory, ISFM 2017 names none.
    """
    path = tmp_path / "h.csv"
    path.write_text("# species: cat\ndate,systolic_mmHg\n2031-01-05,165\n", encoding="utf-8")
    said = "On another day; ISFM 2017 names none that we know of, so the days are those of ACVIM 2018."
    for rules, tells in (("isfm-2017", True), ("acvim-2018", False)):
        text = " ".join(run("follow", path, "--on", "2031-01-06", "--rules", rules).stdout.split())
        assert (said in text) is tells
        (told,) = objects(run("follow", path, "--on", "2031-01-06", "--rules", rules, "--json"))
        assert told["recheck"]["stands_in"] is tells


def test_organs_that_are_not_known_are_named_where_the_recheck_depends_on_them(run, tmp_path: Path) -> None:
    """Named with the days that damage would bring; not where the history tells that there is none.

    Oracle: from memory, ACVIM 2018: with damage in 1 to 2 weeks.
    """
    path = tmp_path / "h.csv"
    for head, tells in (("", True), ("# organ_damage: absent\n", False)):
        path.write_text(f"# species: cat\n{head}date,systolic_mmHg\n2031-01-05,165\n", encoding="utf-8")
        text = " ".join(run("follow", path, "--on", "2031-01-06").stdout.split())
        said = "(eyes, brain, heart and vessels, kidneys): with damage in any of them it would be 12 January 2031 to 19"
        assert (said in text) is tells
        (told,) = objects(run("follow", path, "--on", "2031-01-06", "--json"))
        assert told["recheck"]["if_organ_damage"] == ({"from": "2031-01-12", "to": "2031-01-19"} if tells else None)
