"""Histories from CSV files: what is read, and what is refused with which remedy."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pytest

from quietlimb.engine.follow_up.history import History, Shift, TreatmentEvent, usual_own_sd
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.history_csv import history_text, read_history

WHOLE = """# species: cat
# animal: Invented cat Brom
# instrument: display 1
# site: left forelimb
# organ_damage: absent
# at_risk: yes
# born: 2019-05-01
date,systolic_mmHg,systolic_low_mmHg,systolic_high_mmHg,systolic_sd_mmHg,mean_mmHg,diastolic_mmHg,readings,method,place,event
2031-01-10,188,180,196,,138,112,6,,Consulting room,
2031-01-24,184,,,4.5,,,7,,,Treatment begun
2031-01-30,,,,,,,,,,treatment changed
2031-02-04,161,,,,,,5,Doppler,home,
"""


@pytest.fixture
def read(tmp_path: Path):
    """Read a history from text."""

    def call(text: str, **options: Any) -> History:
        path = tmp_path / "history.csv"
        path.write_text(text, encoding="utf-8")
        return read_history(path, **options)

    return call


def rows(*lines: str, header: str = "date,systolic_mmHg") -> str:
    """A small file for a cat."""
    return "\n".join(["# species: cat", header, *lines]) + "\n"


def test_a_whole_file_is_read(read) -> None:
    """Every cell where it belongs: dates as days, interval and SD as own SD, circumstances of above and of the row.

    Oracle: by construction; 1.96 standard deviations on either side of a 95 % interval.
    """
    found = read(WHOLE)
    first, second, third = found.sessions
    assert (found.species, found.animal, found.organ_damage, found.at_risk) == (
        "cat",
        "Invented cat Brom",
        "absent",
        True,
    )
    assert found.born_day == date(2019, 5, 1).toordinal()
    assert [each.day for each in found.sessions] == [
        date(2031, month, day).toordinal() for month, day in ((1, 10), (1, 24), (2, 4))
    ]
    assert found.events == (
        TreatmentEvent(day=date(2031, 1, 24).toordinal(), step="begun"),
        TreatmentEvent(day=date(2031, 1, 30).toordinal(), step="changed"),
    )
    assert (first.systolic_mmhg, first.mean_mmhg, first.diastolic_mmhg, first.readings) == (188.0, 138.0, 112.0, 6)
    assert first.own_sd_mmhg == pytest.approx(16.0 / (2 * 1.959964), rel=1e-6)
    assert second.own_sd_mmhg == 4.5
    assert third.own_sd_mmhg == usual_own_sd(third.circumstances, 5)
    assert (first.circumstances.site, first.circumstances.side) == ("forelimb", "left")
    assert (first.circumstances.place, second.circumstances.place) == ("consulting-room", None)
    assert (first.circumstances.method, third.circumstances.method) == ("oscillometric", "doppler")


def test_newest_first_is_turned_round(read) -> None:
    """Falling dates give the history that rising ones give.

    Oracle: by construction; equality.
    """
    lines = ["2031-01-01,150", "2031-02-01,151", "2031-03-01,152"]
    assert read(rows(*lines)) == read(rows(*reversed(lines)))


def test_kilopascals_and_decimal_commas(read) -> None:
    """20 kPa is 150.01 mmHg; semicolons allow the decimal comma.

    Oracle: published, the pascal's definition: 1 mmHg = 133.322387415 Pa. Tolerance: rounding.
    """
    (found,) = read(rows("2031-01-01;20,0", header="date;systolic_kPa")).sessions
    assert found.systolic_mmhg == pytest.approx(20_000 / 133.322387415)


def test_a_conversion_is_read(read) -> None:
    """Its shift and its uncertainty.

    Oracle: by construction.
    """
    header = "date,systolic_mmHg,convert_add_mmHg,convert_sd_mmHg"
    first, second = read(rows("2031-01-01,150,-4,6", "2031-02-01,150,,", header=header)).sessions
    assert (first.conversion, second.conversion) == (Shift(add_mmhg=-4.0, sd_mmhg=6.0), None)


def test_two_sessions_of_a_day_are_told_apart_by_their_times(read) -> None:
    """The same pressure at ten and at four counts as two; without times, or at one time, as one.

    Oracle: by construction.
    """
    two = read(rows("2031-01-01T10:00,150", "2031-01-01T16:00,150")).sessions
    assert [each.circumstances.started_at for each in two] == ["2031-01-01T10:00", "2031-01-01T16:00"]
    assert len(read(rows("2031-01-01T10:00,150", "2031-01-01T10:00,150")).sessions) == 1
    (one,) = read(rows("2031-01-01,150", "2031-01-01,150")).sessions
    assert one.circumstances.started_at is None


def test_times_of_day_and_blank_rows_are_no_matter(read) -> None:
    """A date with a time counts as its day; a row of separators is nothing.

    Oracle: by construction.
    """
    found = read(rows("2031-01-01T10:30:00+01:00,150", ","))
    assert [each.day for each in found.sessions] == [date(2031, 1, 1).toordinal()]


def test_a_cuff_and_its_width_are_two_columns(read) -> None:
    """A column named as a longer name begins takes nothing away from it.

    Oracle: by construction.
    """
    (found,) = read(
        rows("2031-01-01,150,3.5,10", header="date,systolic_mmHg,cuff_width_cm,limb_circumference_cm")
    ).sessions
    assert (found.circumstances.cuff, found.circumstances.cuff_width_cm) == (None, 3.5)


def test_a_key_or_column_of_ones_own_is_left_out(read) -> None:
    """What only the practice knows may stand above the table and in it.

    Oracle: by construction.
    """
    text = "# file_number: 12\n# risk_class: 3\n" + rows("2031-01-01,150,calm", header="date,systolic_mmHg,mood")
    assert len(read(text).sessions) == 1


REPEATED = "date,systolic_mmHg,place,event"


@pytest.mark.parametrize(
    ("second", "sessions", "events", "told"),
    [
        ("2031-01-01,150,home,treatment begun", 1, 1, ["same session", "same event"]),
        ("2031-01-01,,,begun", 1, 1, ["same event"]),
        ("2031-01-01,150,home,", 1, 1, ["same session"]),
        ("2031-01-01,150,carrier,treatment changed", 2, 2, []),
        ("2031-01-01T16:00,150,home,", 2, 1, []),
        ("2031-01-02,150,home,treatment begun", 2, 2, []),
    ],
)
@pytest.mark.parametrize("newest_first", [False, True])
def test_what_stands_twice_counts_once_and_is_told(
    read, second: str, sessions: int, events: int, told: list[str], newest_first: bool
) -> None:
    """A session or an event of the same day in the same words; what differs in anything is another one.

    Oracle: by construction.
    """
    said: list[str] = []
    lines = ["2031-01-01,150,home,treatment begun", second, "2031-03-01,140,home,"]
    found = read(rows(*(reversed(lines) if newest_first else lines), header=REPEATED), tell=said.append)
    assert (len(found.sessions), len(found.events)) == (sessions + 1, events)
    assert len(said) == len(told)
    for sentence, words in zip(said, told, strict=True):
        assert words in sentence
        assert sentence.startswith("line 5" if newest_first else "line 4")


def test_the_species_may_come_from_outside(read) -> None:
    """As an option, where the file is silent.

    Oracle: by construction.
    """
    assert read("date,systolic_mmHg\n2031-01-01,150\n", species="dog").species == "dog"


EVENT = "date,systolic_mmHg,event"
INTERVAL = "date,systolic_mmHg,systolic_low_mmHg,systolic_high_mmHg,systolic_sd_mmHg"
CONVERTED = "date,systolic_mmHg,convert_add_mmHg,convert_sd_mmHg"
WRONG = {
    "not-a-date": (rows("2031-01-01,150", "1.2.2031,150"), 4, "2031-02-04"),
    "not-a-date: empty": (rows(",150"), 3, "2031-02-04"),
    "not-a-date: year": (rows("0031-01-01,150"), 3, "2031-02-04"),
    "dates-out-of-order": (rows("2031-01-01,150", "2030-02-01,150", "2031-03-01,150"), 4, "year"),
    "unknown-event": (rows("2031-01-01,150,something new", header=EVENT), 3, "remarks"),
    "systolic-missing": (rows("2031-01-01,,", "2031-01-02,150,", header=EVENT), 3, "event alone"),
    "systolic-missing: readings": (rows("2031-01-01,,5", header="date,systolic_mmHg,readings"), 3, "no pressures"),
    "out-of-range": (rows("2031-01-01,18"), 3, "kPa"),
    "out-of-range: readings": (rows("2031-01-01,150,2.5", header="date,systolic_mmHg,readings"), 3, "whole number"),
    "not-a-number": (rows("2031-01-01,high"), 3, "digits"),
    "interval-incomplete": (rows("2031-01-01,150,145,,", header=INTERVAL), 3, "both ends"),
    "interval-beside-value": (rows("2031-01-01,150,151,160,", header=INTERVAL), 3, "lower one first"),
    "told-twice": (rows("2031-01-01,150,145,155,3", header=INTERVAL), 3, "keep one"),
    "conversion-incomplete": (rows("2031-01-01,150,-4,", header=CONVERTED), 3, "give both"),
    "conversion-incomplete: column": (rows("2031-01-01,150,-4", header=CONVERTED.rpartition(",")[0]), 2, "both"),
    "mean-above-systolic": (rows("2031-01-01,150,160", header="date,systolic_mmHg,mean_mmHg"), 3, "swapped"),
    "unknown-circumstance": (rows("2031-01-01,150,ear", header="date,systolic_mmHg,site"), 3, "forelimb"),
    "misspelt-column": (rows("2031-01-01,150,5", header="date,systolic_mmHg,reading"), 2, "readings"),
    "column-missing": (rows("150", header="systolic_mmHg"), 2, "date"),
    "unit-missing": (rows("2031-01-01,150", header="date,systolic"), 2, "systolic_mmHg"),
    "empty": (rows("2031-01-01,,treatment begun", header=EVENT), 2, "at least one"),
    "unknown-choice": ("# species: cat\n# at_risk: maybe\ndate,systolic_mmHg\n2031-01-01,150\n", 2, "yes, no"),
    "told-twice: remark": ("# born: 2020-01-01\n# born: 2020-01-02\n" + rows("2031-01-01,150"), 2, "keep one"),
    "misspelt-key": ("# organ_damge: present\n" + rows("2031-01-01,150"), 1, "'# organ_damage: ...'"),
    "misspelt-key: at risk": ("# At-risk: yes\n" + rows("2031-01-01,150"), 1, "'# at_risk: ...'"),
    "misspelt-key: born": ("# borm: 2020-01-01\n" + rows("2031-01-01,150"), 1, "'# born: ...'"),
    "misspelt-key: birth": ("# Date of birth: 2020-01-01\n" + rows("2031-01-01,150"), 1, "'# born: ...'"),
    "belongs-above: birth": (rows("2031-01-01,150,x", header="date,systolic_mmHg,birthday"), 2, "# born: ..."),
    "belongs-above": (rows("2031-01-01,150,present", header="date,systolic_mmHg,organ_damage"), 2, "organ_damage: ..."),
    "belongs-above: blank": (rows("2031-01-01,150,yes", header="date,systolic_mmHg,At risk"), 2, "# at_risk: ..."),
    "belongs-above: animal": (rows("2031-01-01,150,Moss", header="date,systolic_mmHg,animal"), 2, "one file an animal"),
    "belongs-above: misspelt": (rows("2031-01-01,150,no", header="date,systolic_mmHg,organ_damge"), 2, "organ_damage"),
    "belongs-in-a-column": ("# readings: 5\n" + rows("2031-01-01,150"), 1, "a column named readings"),
    "born-after-session": ("# born: 2031-01-02\n" + rows("2031-01-01,150"), 1, "year"),
    "species-missing": ("date,systolic_mmHg\n2031-01-01,150\n", None, "--species"),
}  # fmt: skip


@pytest.mark.parametrize("name", WRONG)
def test_what_is_wrong_is_named_with_line_and_remedy(read, name: str) -> None:
    """Each mistake has its code, the line at fault and what to do about it.

    Oracle: by construction.
    """
    text, line, remedy = WRONG[name]
    with pytest.raises(FileError) as caught:
        read(text)
    assert caught.value.code == name.partition(":")[0]
    assert caught.value.line == line
    assert remedy in caught.value.remedy


def test_a_history_that_was_written_is_read_again(read) -> None:
    """Sessions, events, conversions, circumstances and what stands above come back equal.

    Oracle: by construction; exactly, for numbers are written with all digits that they have.
    """
    whole = read(WHOLE)
    assert read(history_text(whole)) == whole
    more = read(
        rows(
            "2031-01-10T08:00:00+01:00,188.3,0.1,4.25,-3.5,first",
            "2031-01-10T16:00:00+01:00,188.3,,,,second",
            header="date,systolic_mmHg,convert_add_mmHg,convert_sd_mmHg,cuff_below_heart_cm,remarks",
        )
    )
    assert read(history_text(more)) == more


def test_a_formula_in_a_written_history_is_defused(read) -> None:
    """What a spreadsheet would run gets an apostrophe; numbers, also negative ones, stay numbers.

    Oracle: by construction.
    """
    found = history_text(read(rows("2031-01-10,188,-3.5,=1+1", header="date,systolic_mmHg,cuff_below_heart_cm,cuff")))
    assert "'=1+1" in found
    assert ",-3.5" in found
