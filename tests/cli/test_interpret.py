"""`quietlimb interpret`: rule sets, background and earlier sessions."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest

from quietlimb.exchange.schemas import schema

SOUND = "eyes=absent,brain=absent,heart=absent,kidneys=absent"
HISTORY = """# species: cat
date,systolic_mmHg,place,sedation,event
2031-01-06,170,consulting-room,,
2031-01-20,150,consulting-room,sedated,
2031-02-01,,,,
"""


def _told(run, *arguments: str) -> dict[str, object]:
    result = run("interpret", *arguments, "--json")
    assert result.exit_code == 0, result.stderr
    told: dict[str, object] = json.loads(result.stdout)
    jsonschema.validate(told, schema("interpret"))
    return told


def _history(folder: Path, text: str) -> str:
    path = folder / "history.csv"
    path.write_text(text, encoding="utf-8")
    return str(path)


@pytest.mark.parametrize(
    ("rules", "category"),
    [
        ("acvim-2018", "prehypertensive"),
        ("iris-2019", "prehypertensive"),
        ("isfm-2017", "prehypertensive"),
        ("acvim-2007", "category I"),
        ("iris-2015", "AP0"),
    ],
)
def test_a_rule_set_can_be_chosen(run, rules: str, category: str) -> None:
    """149 mmHg in a cat by each.

    Oracle: published, ACVIM 2007 and IRIS 2015 begin at 150; 140 published (Domingues et al. 2022).
    """
    told = _told(run, "149", "--species", "cat", "--sd", "0", "--rules", rules)
    assert (told["rules"], told["category"]) == (rules, category)


def test_the_rule_set_for_cats_is_refused_for_a_dog(run) -> None:
    """Wrong use, with those that fit.

    Oracle: common practice, exit code 2 for wrong use.
    """
    result = run("interpret", "150", "--species", "dog", "--rules", "isfm-2017")
    assert result.exit_code == 2
    assert "acvim-2018" in result.stderr
    assert "Traceback" not in result.stderr


def test_earlier_sessions_carry_the_status(run, tmp_path: Path) -> None:
    """170 on 6 January and 165 on 5 February, 30 days later, confirm; the sedated one is left out.

    Oracle: from memory, ACVIM 2018: two sessions at least 4 weeks apart.
    """
    path = _history(tmp_path, HISTORY.replace("2031-02-01,,,,\n", ""))
    told = _told(run, "165", "--species", "cat", "--organs", SOUND, "--history", path, "--on", "2031-02-05")
    status = told["status"]
    assert (status["name"], status["reason"]) == ("confirmed", "sessions-agree")
    assert status["rests_on_days_ago"] == [30.0, 0.0]
    assert status["left_out_days_ago"] == [16.0]
    assert "persistent-over-sessions" in [each["code"] for each in told["next"]]
    text = run("interpret", "165", "--species", "cat", "--history", path, "--on", "2031-02-05").stdout
    assert "High pressure confirmed" in text
    assert "1 session was left out: 16 days ago (sedated)." in " ".join(text.split())


def test_a_session_of_the_day_itself_or_later_is_not_an_earlier_one(run, tmp_path: Path) -> None:
    """On 6 January the file has nothing earlier.

    Oracle: by construction.
    """
    path = _history(tmp_path, HISTORY.replace("2031-02-01,,,,\n", ""))
    told = _told(run, "165", "--species", "cat", "--history", path, "--on", "2031-01-06")
    assert told["status"]["rests_on_days_ago"] == [0.0]


def test_treatment_in_the_history_is_heeded(run, tmp_path: Path) -> None:
    """Begun on 6 January after the session; under the goal on the 20th and on 3 February: at target.

    Oracle: published, under 160 mmHg (WSAVA 2018).
    """
    text = HISTORY.replace("consulting-room,,\n", "consulting-room,,treatment begun\n", 1)
    text = text.replace("150,consulting-room,sedated,", "150,consulting-room,,").replace("2031-02-01,,,,\n", "")
    path = _history(tmp_path, text)
    arguments = ("--species", "cat", "--history", path)
    assert _told(run, "152", *arguments, "--on", "2031-02-03")["status"]["name"] == "treated, at target"
    assert _told(run, "152", *arguments, "--on", "2031-01-13")["status"]["name"] == "treated, target not proven"
    assert _told(run, "165", *arguments, "--on", "2031-02-03")["status"]["name"] == "treated, off target"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "give --on"),
        (("--on", "tomorrow"), "write year, month and day"),
    ],
)
def test_a_history_without_a_day_is_wrong_use(run, tmp_path: Path, arguments: tuple[str, ...], words: str) -> None:
    """The day is needed, and in a form that can be read.

    Oracle: common practice, exit code 2 for wrong use.
    """
    path = _history(tmp_path, HISTORY.replace("2031-02-01,,,,\n", ""))
    result = run("interpret", "165", "--history", path, "--species", "cat", *arguments)
    assert result.exit_code == 2
    assert words in result.stderr
    assert "Traceback" not in result.stderr


def test_a_file_that_is_no_history_is_told_with_its_line(run, tmp_path: Path) -> None:
    """A row without a pressure and without an event.

    Oracle: by construction.
    """
    result = run("interpret", "165", "--species", "cat", "--history", _history(tmp_path, HISTORY), "--on", "2031-02-05")
    assert result.exit_code == 3
    assert "line 5" in result.stderr


def test_a_history_of_another_animal_or_that_is_not_there_is_told_with_a_remedy(run, tmp_path: Path) -> None:
    """A cat's history for a dog, and a name that nothing has.

    Oracle: by construction, the rule of docs/commands.md: what is wrong with a file ends in 3.
    """
    path = _history(tmp_path, HISTORY.replace("2031-02-01,,,,\n", ""))
    for name, words in ((path, "cat"), (tmp_path / "nowhere.csv", "check the name")):
        result = run("interpret", "165", "--species", "dog", "--history", name, "--on", "2031-02-05")
        assert result.exit_code == 3
        assert words in result.stderr
        assert str(name) in result.stderr


def test_each_eye_and_known_kidney_disease(run) -> None:
    """Left sound, right damaged; kidneys known and not progressing.

    Oracle: by construction.
    """
    organs = "left-eye=absent,right-eye=present,kidneys=known-disease"
    told = _told(run, "165", "--species", "cat", "--organs", organs)
    assert told["organs"][0] == {
        "organ": "eyes",
        "state": "present",
        "eyes": {"left_eye": "absent", "right_eye": "present"},
    }
    assert told["organs"][3]["state"] == "known disease"
    assert told["organ_damage"] == "present"
    assert (
        "left no damage, right damage present" in run("interpret", "165", "--species", "cat", "--organs", organs).stdout
    )


@pytest.mark.parametrize("organs", ["heart=known-disease", "eyes=absent,left-eye=absent", "liver=absent", "eyes=well"])
def test_organs_that_cannot_be_are_wrong_use(run, organs: str) -> None:
    """Refused when the option is read.

    Oracle: common practice, exit code 2 for wrong use.
    """
    result = run("interpret", "165", "--species", "cat", "--organs", organs)
    assert result.exit_code == 2
    assert "Traceback" not in result.stderr


def test_background_is_told_as_clues_cautions_and_breed(run) -> None:
    """A calm or excited animal, illnesses, drugs and breed, each in its place.

    Oracle: common practice, the table of clues.
    """
    arguments = ("165", "--species", "dog", "--organs", SOUND, "--breed", "Saluki")
    calm = _told(run, *arguments, "--conditions", "none", "--drugs", "none", "--excited", "--first-visit", "--young")
    assert [clue["code"] for clue in calm["clues"]] == [
        "nothing-found-to-explain",
        "excited",
        "first-visit",
        "young-and-healthy",
    ]
    assert calm["breed"]["systolic"] == 143
    ill = _told(run, *arguments, "--conditions", "diabetes, kidney-disease", "--drugs", "glucocorticoid", "--calm")
    assert {"condition-in-record", "drug-in-record"} <= {caution["code"] for caution in ill["cautions"]}
    assert ill["clues"] == []


@pytest.mark.parametrize("option", ["--conditions", "--drugs"])
def test_an_unknown_illness_or_drug_is_wrong_use(run, option: str) -> None:
    """With the words that are known.

    Oracle: common practice, exit code 2 for wrong use.
    """
    result = run("interpret", "165", "--species", "dog", option, "stardust")
    assert result.exit_code == 2
    assert "use one of" in result.stderr


def test_the_error_of_the_method_widens_the_animal_only(run) -> None:
    """`--method-sd 10` with no day-to-day change taken away: today stays, the animal spreads, and the text says so.

    Oracle: by construction.
    """
    plain = _told(run, "150", "--species", "cat", "--sd", "5")
    wide = _told(run, "150", "--species", "cat", "--sd", "5", "--method-sd", "10")
    assert wide["categories"]["today"] == plain["categories"]["today"]
    assert wide["categories"]["animal"][1]["probability"] < plain["categories"]["animal"][1]["probability"]
    assert wide["method_sd"] == 10.0
    text = " ".join(run("interpret", "150", "--species", "cat", "--method-sd", "10").stdout.split())
    assert "and the error of the method, 10 mmHg" in text


def test_sedated_animals_get_no_category(run) -> None:
    """Nothing of the flow for high pressure, and a low pressure is still told.

    Oracle: from memory, ACVIM 2018: no sedation.
    """
    told = _told(run, "185", "--species", "cat", "--sedation", "sedated")
    assert (told["category"], told["other_rule_sets"], told["would_change"]) == (None, [], [])
    low = _told(run, "80", "--species", "cat", "--sedation", "anaesthetised", "--mean", "55")
    assert [each["code"] for each in low["next"][:2]] == ["look-at-the-animal-and-call", "confirm-low-pressure"]


def test_a_diastolic_pressure_is_a_remark_by_older_rule_sets(run) -> None:
    """145 over 96 is category I by its systolic pressure, with a caution.

    Oracle: published, ACVIM 2007: 95 mmHg begins category II.
    """
    told = _told(run, "145", "--species", "dog", "--rules", "acvim-2007", "--diastolic", "96", "--sd", "0")
    assert told["category"] == "category I"
    assert "diastolic-in-higher-category" in {caution["code"] for caution in told["cautions"]}


def test_text_tells_what_others_would_say_and_what_would_change(run) -> None:
    """Both sections for 165 mmHg, neither empty heading for 90.

    Oracle: by construction.
    """
    high = run("interpret", "165", "--species", "cat").stdout
    assert "Other rule sets, where they differ" in high
    assert "What would change the advice" in high
    assert "ISFM 2017 170 mmHg (from memory)" in " ".join(high.split())
    assert "Other rule sets" not in run("interpret", "100", "--species", "cat").stdout


@pytest.mark.parametrize(
    ("arguments", "code", "within"),
    [
        (("--age", "9"), "screen-older-cat", [335.0, 365.0]),
        (("--age", "11", "--rules", "isfm-2017"), "screen-older-cat", [180.0, 365.0]),
        (("--conditions", "kidney-disease", "--age", "2"), "screen-at-risk", [90.0, 180.0]),
        ((), "measure-by-risk", None),
    ],
)
def test_age_and_illness_tell_when_to_measure_a_normal_cat_again(run, arguments, code: str, within) -> None:
    """In text and JSON.

    Oracle: from memory, ACVIM 2018 and ISFM 2017.
    """
    told = _told(run, "120", "--species", "cat", *arguments)
    assert [(each["code"], each["within_days"]) for each in told["next"]] == [(code, within)]
    text = " ".join(run("interpret", "120", "--species", "cat", *arguments).stdout.split())
    assert told["next"][0]["says"] in text


@pytest.mark.parametrize(
    ("header", "code"),
    [("# born: 2019-05-01\n", "screen-older-cat"), ("# at_risk: yes\n", "screen-at-risk"), ("", "measure-by-risk")],
)
def test_the_history_tells_age_and_risk(run, tmp_path: Path, header: str, code: str) -> None:
    """What the file says of birth and illness counts.

    Oracle: from memory, ACVIM 2018 and ISFM 2017.
    """
    text = f"# species: cat\n{header}date,systolic_mmHg\n2031-01-06,130\n"
    path = _history(tmp_path, text)
    told = _told(run, "120", "--species", "cat", "--history", path, "--on", "2031-02-05")
    assert [each["code"] for each in told["next"]] == [code]


def test_an_age_beyond_any_cat_is_refused(run) -> None:
    """Wrong use, without a traceback.

    Oracle: common practice, exit code 2 for wrong use.
    """
    result = run("interpret", "120", "--species", "cat", "--age", "41")
    assert result.exit_code == 2
    assert "Traceback" not in result.stderr


def test_what_of_a_history_is_not_used_is_said(run, tmp_path: Path) -> None:
    """Damage of an organ that is not named, and sessions of the day or later. Oracle: by construction."""
    text = HISTORY.replace("2031-02-01,,,,\n", "").replace("# species: cat", "# species: cat\n# organ_damage: present")
    path = _history(tmp_path, text)
    result = run("interpret", "165", "--species", "cat", "--history", path, "--on", "2031-01-20")
    assert result.exit_code == 0
    assert "counts only where --organs names the organ" in result.stderr
    assert "that are left out: 1" in result.stderr
    plain = _history(tmp_path, HISTORY.replace("2031-02-01,,,,\n", ""))
    quiet = run("interpret", "165", "--species", "cat", "--history", plain, "--on", "2031-03-01")
    assert quiet.stderr == ""


def test_the_organ_check_list_is_not_told_of_a_low_pressure(run) -> None:
    """It is about damage by high pressure; where it is asked for, it stands.

    Oracle: by construction.
    """
    asked = "How the organs not yet known are examined"
    assert asked not in run("interpret", "70", "--species", "cat").stdout
    assert asked in run("interpret", "120", "--species", "cat").stdout
    assert "To examine" in run("interpret", "185", "--mean", "60", "--species", "cat").stdout


def test_a_mean_above_the_systolic_pressure_is_wrong_use(run) -> None:
    """With both numbers and a remedy.

    Oracle: by construction, the order of the three pressures.
    """
    result = run("interpret", "150", "--mean", "170", "--species", "cat")
    assert result.exit_code == 2
    assert "mean pressure of 170 mmHg is not under the systolic one of 150 mmHg" in " ".join(result.stderr.split())


@pytest.mark.parametrize(
    ("breed", "tells"), [("Ragdoll", True), ("Birman", False), ("domestic shorthair", False), (None, False)]
)
def test_a_breed_without_a_figure_says_so(run, breed: str | None, tells: bool) -> None:
    """Of a Ragdoll nothing is at hand, of a Birman something is; nothing is said where there is none, or none is told.

    Oracle: by construction, the table of breeds.
    """
    named = () if breed is None else ("--breed", breed)
    text = " ".join(run("interpret", "150", "--species", "cat", *named).stdout.split())
    assert ("No figure for the breed" in text) is tells
