"""What is told of the animal reaches the meaning of a charted session, as it does that of a plain pressure."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

HIGH = """# species: cat
# method: oscillometric
# instrument: display 1
{started}minute,systolic_mmHg
0,176
1,171
2.5,170
4,169
5,171
6.5,170
"""
HISTORY = """# species: cat
# instrument: display 1
date,systolic_mmHg,readings,event
2031-01-10,172,6,
2031-01-12,,,{event}
"""


@pytest.fixture
def session(tmp_path: Path) -> Path:
    """A file of readings at 170 mmHg, of 1 March 2031."""
    path = tmp_path / "visit.csv"
    path.write_text(HIGH.format(started="# started_at: 2031-03-01T09:00\n"), encoding="utf-8")
    return path


def history(folder: Path, *, event: str = "") -> Path:
    """One earlier session at 172 mmHg, and what was done two days later."""
    path = folder / "history.csv"
    text = HISTORY.format(event=event)
    path.write_text(text if event else text.rpartition("2031-01-12")[0], encoding="utf-8")
    return path


def charted(run, path: Path, *arguments: object) -> dict:
    """The JSON of one charted session."""
    return json.loads(run("chart", path, "--json", *arguments).stdout)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--calm", "--excited"], "--excited and --calm contradict each other"),
        (["--weak", "--not-weak"], "--weak and --not-weak contradict each other"),
        (["--young", "--age", "15"], "young, and to be 15 years old"),
    ],
)
def test_what_contradicts_itself_is_asked_about(run, arguments: list[str], words: str) -> None:
    """Two options that exclude each other are a wrong command line; one of them is taken.

    Oracle: by construction, the exit codes of `docs/commands.md`.
    """
    refused = run("interpret", "165", "--species", "cat", *arguments)
    assert refused.exit_code == 2
    assert words in refused.stderr
    assert run("interpret", "165", "--species", "cat", "--not-weak", "--young", "--age", "6.9").exit_code == 0


def test_the_status_of_a_charted_session_rests_on_its_history(run, session: Path, tmp_path: Path) -> None:
    """Alone it is suspected; fifty days after another like it, confirmed. The day is the file's own.

    Oracle: from memory, ACVIM 2018, 4 to 8 weeks; published, Caney 2021, two sessions.
    """
    assert charted(run, session)["status"]["name"] == "suspected"
    told = charted(run, session, "--history", history(tmp_path))["status"]
    assert (told["name"], told["rests_on_days_ago"]) == ("confirmed", [50.0, 0.0])
    near = charted(run, session, "--history", history(tmp_path), "--on", "2031-01-20")["status"]
    assert (near["name"], near["reason"]) == ("suspected", "sessions-close-together")


def test_treatment_in_the_history_makes_the_session_a_treated_one(run, session: Path, tmp_path: Path) -> None:
    """Begun two days after the first session.

    Oracle: by construction.
    """
    told = charted(run, session, "--history", history(tmp_path, event="treatment begun"))
    assert told["status"]["name"] == "treated, off target"
    assert "usual-first-fall" in [caution["code"] for caution in told["cautions"]]


def test_a_history_without_a_day_costs_the_session_one_line(run, tmp_path: Path) -> None:
    """Neither the file nor an option tells it.

    Oracle: by construction, the rule of docs/commands.md: what is wrong with a file ends in 3.
    """
    path = tmp_path / "undated.csv"
    path.write_text(HIGH.format(started=""), encoding="utf-8")
    result = run("chart", path, "--history", history(tmp_path))
    assert result.exit_code == 3
    assert f"{path}: --history needs the day" in result.stderr
    assert "--on" in result.stderr


@pytest.mark.parametrize("command", ["chart", "report", "follow", "interpret"])
def test_a_rule_set_of_another_species_is_wrong_use_where_the_command_line_tells_both(
    run, session: Path, tmp_path: Path, command: str
) -> None:
    """ISFM 2017 is for cats; said of a dog on the command line it ends in 2, whichever the command.

    Oracle: by construction, the rule of docs/commands.md.
    """
    what = {"interpret": ("150",), "report": (session, "--out", tmp_path / "page.pdf")}.get(command, (session,))
    result = run(command, *what, "--species", "dog", "--rules", "isfm-2017")
    assert result.exit_code == 2
    assert "is not for a dog; use one of" in result.stderr


def test_a_history_that_cannot_be_read_costs_the_session_one_line(run, session: Path, tmp_path: Path) -> None:
    """With the line of the history's file.

    Oracle: by construction.
    """
    broken = tmp_path / "broken.csv"
    broken.write_text("# species: cat\ndate,systolic_mmHg\nyesterday,150\n", encoding="utf-8")
    result = run("chart", session, "--history", broken)
    assert result.exit_code == 3
    assert "yesterday" in result.stderr


def test_record_method_and_visit_are_heard(run, session: Path, tmp_path: Path) -> None:
    """Illness, a wider probability of the animal, and the suspicion of those who saw it; also on the page and the note.

    Oracle: by construction.
    """
    arguments = ("--conditions", "kidney-disease", "--method-sd", "12", "--situational", "--calm")
    plain, told = charted(run, session), charted(run, session, *arguments)
    assert [each["name"] for each in told["in_record"]] == ["kidney-disease"]
    assert told["method_sd"] == 12.0
    share = {name: obj["categories"]["animal"][2]["probability"] for name, obj in (("plain", plain), ("told", told))}
    assert share["told"] < share["plain"]
    assert "situational-likely" in [advice["code"] for advice in told["next"]]
    assert "chronic kidney disease" in run("chart", session, *arguments).stdout
    page = run("report", session, "--out", tmp_path / "page.pdf", "--note", *arguments)
    assert page.exit_code == 0
    assert (tmp_path / "page.pdf").stat().st_size > 1000


def test_an_unknown_illness_is_wrong_use(run, session: Path) -> None:
    """The message names those that are known.

    Oracle: by construction.
    """
    result = run("chart", session, "--conditions", "sorrow")
    assert result.exit_code == 2
    assert "kidney-disease" in result.stderr


@pytest.mark.parametrize(("limit", "is_low"), [("65", True), ("60", False)])
def test_the_limit_of_a_low_mean_pressure_can_be_chosen(run, limit: str, is_low: bool) -> None:
    """A mean of 62 mmHg is low by one customary limit and not by the other.

    Oracle: common practice, 60 or 65.
    """
    told = json.loads(run("interpret", 120, "--species", "dog", "--mean", 62, "--low-mean", limit, "--json").stdout)
    assert ("confirm-low-mean-pressure" in [advice["code"] for advice in told["next"]]) is is_low


def test_the_change_from_day_to_day_is_the_animals_own_where_its_sessions_tell(
    run, session: Path, tmp_path: Path
) -> None:
    """Ten sessions within 2 mmHg of each other bring it well under the usual 10 mmHg, and the animal's category closer.

    Oracle: by construction, the same figure as `follow` gives of these sessions. Tolerance: rounding to 3 decimals.
    """
    path = tmp_path / "steady.csv"
    rows = [f"2030-{month:02d}-01,{170 + month % 2},6" for month in range(3, 13)]
    path.write_text(
        "\n".join(["# species: cat", "# instrument: display 1", "date,systolic_mmHg,readings", *rows]) + "\n",
        encoding="utf-8",
    )
    plain, told = charted(run, session), charted(run, session, "--history", path)
    followed = json.loads(run("follow", path, "--on", "2031-02-28", "--json").stdout)
    assert plain["day_to_day_sd"] == 10.0
    assert told["day_to_day_sd"] == pytest.approx(followed["least_change"]["between_sd"]["value"], abs=1e-3)
    assert told["day_to_day_sd"] < 7.0
    share = [each["categories"]["animal"][2]["probability"] for each in (plain, told)]
    assert share[0] < share[1]


def test_sessions_by_another_method_say_nothing_of_the_change_from_day_to_day(
    run, session: Path, tmp_path: Path
) -> None:
    """By Doppler before, oscillometric now: what is usual of any animal stays.

    Oracle: by construction.
    """
    path = tmp_path / "doppler.csv"
    rows = [f"2030-{month:02d}-01,{170 + month % 2},6" for month in range(3, 13)]
    path.write_text(
        "\n".join(["# species: cat", "# method: doppler", "date,systolic_mmHg,readings", *rows]) + "\n",
        encoding="utf-8",
    )
    assert charted(run, session, "--history", path)["day_to_day_sd"] == 10.0


def test_a_history_of_converted_sessions_alone_keeps_what_is_usual(run, session: Path, tmp_path: Path) -> None:
    """There is nothing yet that they are converted to, which is no reason to refuse the session of today.

    Oracle: by construction.
    """
    path = tmp_path / "converted.csv"
    path.write_text(
        "# species: cat\n# instrument: display 2\ndate,systolic_mmHg,convert_add_mmHg,convert_sd_mmHg\n"
        "2031-01-10,172,-4,5\n",
        encoding="utf-8",
    )
    told = charted(run, session, "--history", path)
    assert (told["day_to_day_sd"], told["status"]["name"]) == (10.0, "confirmed")
