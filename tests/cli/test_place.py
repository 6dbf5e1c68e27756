"""`quietlimb place`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from quietlimb.cli.main import quietlimb
from quietlimb.exchange.place_json import PLACE
from quietlimb.exchange.schemas import schema

jsonschema = pytest.importorskip("jsonschema")


def written(folder: Path, name: str, place: str, level: float, *, started: str | None, site: str = "forelimb") -> str:
    """A typed session: six readings about one level."""
    head = ["# species: cat", "# animal: Bracken", f"# place: {place}", f"# site: {site}"]
    if started:
        head.append(f"# started_at: {started}")
    rows = [f"{1.2 * k:g},{level + wiggle:g}" for k, wiggle in enumerate((2, -1, 1, 0, -2, 1))]
    path = folder / f"{name}.csv"
    path.write_text("\n".join([*head, "minute,systolic_mmHg", *rows, ""]), encoding="utf-8")
    return str(path)


def pair(folder: Path, name: str, first: float, second: float, day: str = "2031-03-04") -> list[str]:
    return [
        written(folder, f"{name}-carrier", "carrier", first, started=f"{day}T09:00"),
        written(folder, f"{name}-table", "consulting-room", second, started=f"{day}T09:20"),
    ]


def test_two_pairs_give_the_effect_with_its_interval(tmp_path: Path) -> None:
    """Levels 140 and 152, then 138 and 150: about 12 mmHg higher on the table, in text and as JSON by the schema.

    Oracle: by construction. Tolerance: 2 mmHg, the scatter written into the readings is up to 2 mmHg.
    """
    paths = [*pair(tmp_path, "a", 140, 152), *pair(tmp_path, "b", 138, 150, day="2031-04-11")]
    text = CliRunner().invoke(quietlimb, ["place", *paths])
    assert text.exit_code == 0, text.output
    assert text.stdout.startswith("Bracken\n")
    assert "from 2 pairs" in " ".join(text.stdout.split())
    assert "always came first" in " ".join(text.stdout.split())
    found = json.loads(CliRunner().invoke(quietlimb, ["place", "--json", *paths]).stdout)
    jsonschema.validate(found, schema("place"))
    assert found["schema"] == PLACE
    assert found["effect"]["value"] == pytest.approx(12.0, abs=2.0)
    assert found["effect"]["low"] < 12.0 < found["effect"]["high"]
    assert found["pairs"] == [paths[:2], paths[2:]]
    assert found["order_confounded"] is True


def test_a_session_given_twice_is_refused(tmp_path: Path) -> None:
    """The same pair again would narrow the interval by nothing measured; so would one session in two pairs, also
    under another name.

    Oracle: by construction.
    """
    first, second = pair(tmp_path, "a", 140, 152)
    copied = tmp_path / "copy.csv"
    copied.write_text(Path(first).read_text(encoding="utf-8"), encoding="utf-8")
    other = written(tmp_path, "other", "consulting-room", 150, started="2031-03-04T09:40")
    for paths in ([first, second, first, second], [first, second, str(copied), other]):
        refused = CliRunner().invoke(quietlimb, ["place", *paths])
        assert refused.exit_code == 3
        assert refused.stdout == ""
        assert "session 3 is the same as session 1" in refused.stderr


def test_readings_that_disagree_are_said_to(tmp_path: Path) -> None:
    """A session that broke the protocol's rule is told, in text and JSON.

    Oracle: published, ACVIM 2018 as remembered: variability under 20 %; the readings vary by more than a third.
    """
    first, second = pair(tmp_path, "a", 140, 152)
    path = Path(first)
    head = path.read_text(encoding="utf-8").split("minute,")[0]
    uneven = "minute,systolic_mmHg\n0,140\n1,190\n2,130\n3,180\n"
    path.write_text(head + uneven, encoding="utf-8")
    text = CliRunner().invoke(quietlimb, ["place", first, second])
    assert "The readings of 1 session broke the protocol's rule" in " ".join(text.stdout.split())
    assert json.loads(CliRunner().invoke(quietlimb, ["place", "--json", first, second]).stdout)["uneven"] == 1


def test_one_visit_and_other_days_exclude_each_other(tmp_path: Path) -> None:
    """Oracle: by construction, the exit codes of `docs/commands.md`."""
    asked = CliRunner().invoke(quietlimb, ["place", "--same-visit", "--other-days", *pair(tmp_path, "a", 140, 152)])
    assert asked.exit_code == 2
    assert "contradict each other" in asked.stderr


def test_days_between_widen_the_interval(tmp_path: Path) -> None:
    """A pair of different days carries the change from day to day; without dates the command asks.

    Oracle: by construction.
    """
    paths = pair(tmp_path, "a", 140, 152)
    widths = []
    for option in ("--same-visit", "--other-days"):
        effect = json.loads(CliRunner().invoke(quietlimb, ["place", "--json", option, *paths]).stdout)["effect"]
        widths.append(effect["high"] - effect["low"])
    assert widths[1] > 1.3 * widths[0]
    undated = [
        written(tmp_path, "c", "carrier", 140, started=None),
        written(tmp_path, "d", "consulting-room", 150, started=None),
    ]
    asked = CliRunner().invoke(quietlimb, ["place", *undated])
    assert asked.exit_code == 3
    assert "--same-visit or --other-days" in asked.stderr
    assert CliRunner().invoke(quietlimb, ["place", "--same-visit", *undated]).exit_code == 0


def test_unlike_sessions_and_odd_numbers_are_refused(tmp_path: Path) -> None:
    """Another site is not compared, one place is no two, and a half pair is wrong use. Oracle: by construction."""
    first, second = pair(tmp_path, "a", 140, 152)
    tail = written(tmp_path, "tail", "consulting-room", 150, started="2031-03-04T09:30", site="tail")
    for paths, code, words in (
        ([first, tail], 3, "site"),
        ([first, first], 3, "same place first"),
        ([first, second, first], 2, "make no pairs"),
        ([first, str(tmp_path / "none.csv")], 3, "none.csv"),
    ):
        result = CliRunner().invoke(quietlimb, ["place", *paths])
        assert (result.exit_code, words in result.stderr) == (code, True), result.stderr
        assert result.stdout == ""
