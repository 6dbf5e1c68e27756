"""The lines of a pressure sensor, one after the other."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from exchange.sensor_lines import STEP_US, header, pressure_of, samples
from quietlimb.exchange.line_decoder import LINES_WITHOUT_UNIT, REMEMBERED, LineDecoder


def opened(unit: str = "mmHg", **options: object) -> LineDecoder:
    """A decoder that has read a header."""
    decoder = LineDecoder()
    decoder.feed(header(unit, **options))
    return decoder


def test_a_quiet_line_gives_every_sample() -> None:
    """Each sample has its time by the sensor's clock and its pressure, from 0 s, and nothing is troubled.

    Oracle: by construction. Tolerance: none, both are exact in float64 but for the division by a million.
    """
    decoder = opened()
    found = decoder.feed(samples(range(1000), start_us=77_000))
    assert found.time_s == pytest.approx(np.arange(1000) * STEP_US / 1e6, abs=1e-12)
    assert found.cuff_pressure_mmhg.tolist() == [pressure_of(k) for k in range(1000)]
    assert not decoder.troubles
    assert decoder.header == {"proto": "1", "unit": "mmHg", "rate_hz": "200"}


@pytest.mark.parametrize(("unit", "mmhg"), [("kPa", 75.00615758), ("mbar", 7.500615758), ("psi", 517.1493)])
def test_other_units_become_mmhg(unit: str, mmhg: float) -> None:
    """Ten units are that many mmHg.

    Oracle: from memory, 1 kPa = 7.500615758 mmHg and 1 psi = 51.71493 mmHg in tables. Tolerance: their last digit.
    Ten pounds are more than a cuff has, and are left out and counted.
    """
    decoder = opened(unit)
    found = decoder.feed(samples(range(3), pressure=10.0))
    if mmhg > 350.0:
        assert decoder.troubles == {"out-of-range": 3}
        assert opened(unit).feed(samples(range(1), pressure=1.0)).cuff_pressure_mmhg[0] == pytest.approx(
            mmhg / 10, abs=1e-5
        )
    else:
        assert found.cuff_pressure_mmhg == pytest.approx(mmhg, rel=1e-9)


def test_a_pressure_that_jumps_is_told_and_stays() -> None:
    """Sent in another unit than is told, 190 mmHg become 25 within one sample; an opened valve takes longer.

    Oracle: by construction: two leaps; and an exponential fall with a time constant of 0.1 s has none.
    """
    decoder, step_s = opened("mmHg"), 1e-6 * STEP_US
    sent = [190.0, 190.0, 25.3, 25.3, 190.0, *(190.0 * math.exp(-k * step_s / 0.1) for k in range(200))]
    told = np.concatenate([decoder.feed(samples([k], pressure=p)).cuff_pressure_mmhg for k, p in enumerate(sent)])
    assert decoder.troubles == {"jumped": 2}
    assert told == pytest.approx(sent, abs=1e-3)


@pytest.mark.parametrize("name", ["torr", "mmhg", "Pa", ""])
def test_an_unknown_unit_is_refused(name: str) -> None:
    """The first unit has to be a known one.

    Oracle: by construction.
    """
    decoder = LineDecoder()
    decoder.feed(header(name))
    assert decoder.failed is not None
    assert decoder.failed.code == "unit-unknown"
    assert "the sensor measures in" in decoder.failed.says


def test_another_version_is_refused() -> None:
    """Version 2 is not read as if it were 1.

    Oracle: by construction.
    """
    decoder = LineDecoder()
    decoder.feed([b"#proto=2"])
    assert decoder.failed is not None
    assert decoder.failed.code == "protocol-unknown"


def test_without_a_unit_nothing_counts_and_at_last_it_is_said() -> None:
    """Samples before the unit are counted and not given; after 5000 of them that is an error with the remedy.

    Oracle: by construction.
    """
    decoder = LineDecoder()
    found = decoder.feed([b"cut", *samples(range(LINES_WITHOUT_UNIT))])
    assert found.time_s.size == 0
    assert decoder.troubles["before-unit"] == LINES_WITHOUT_UNIT
    assert decoder.failed is None
    decoder.feed(samples([LINES_WITHOUT_UNIT]))
    assert decoder.failed is not None
    assert "#unit=mmHg" in decoder.failed.remedy


def test_one_damaged_unit_is_not_believed() -> None:
    """Another unit once is told as such; what follows waits, and counts in the old unit once that is told again.

    Oracle: by construction.
    """
    decoder = opened()
    decoder.feed([*samples(range(3)), b"#unit=kPa"])
    assert decoder.feed(samples(range(3, 6))).time_s.size == 0
    found = decoder.feed([b"#unit=mmHg", *samples(range(6, 8)), b"#unit=kPa", b"#unit=mmHg"])
    assert found.cuff_pressure_mmhg.tolist() == [3.0, 4.0, 5.0, 6.0, 7.0]
    assert decoder.troubles == {"other-unit": 2}
    assert decoder.unit == "mmHg"


def test_a_unit_told_twice_running_is_the_new_one() -> None:
    """What came after its first telling is in the new unit, by the sensor's own time, and a pause over 0.5 s parts it
    from what came before, so that no recording holds both.

    Oracle: by construction; 10 kPa are 75.00615758 mmHg, from memory. Tolerance: the last digit of the table.
    """
    decoder = opened()
    before = decoder.feed([*samples(range(200)), b"#unit=kPa"])
    assert decoder.feed(samples(range(200, 300), pressure=10.0)).time_s.size == 0
    after = decoder.feed([b"#unit=kPa", *samples(range(300, 400), pressure=10.0)])
    assert before.time_s.size == 200
    assert after.cuff_pressure_mmhg == pytest.approx(75.00615758, abs=1e-8)
    assert 0.5 < after.time_s[0] - before.time_s[-1] <= 0.6 + 1e-9
    assert after.time_s[-1] == pytest.approx(399 * STEP_US / 1e6)
    assert decoder.troubles == {"other-unit": 1, "unit-changed": 1}
    assert (decoder.unit, decoder.failed) == ("kPa", None)


def test_a_change_to_what_is_no_unit_ends_it_and_what_came_before_is_given() -> None:
    """All lines at once, as from a file: the samples before are there, none after, and it is said why.

    Oracle: by construction.
    """
    decoder = opened()
    found = decoder.feed([*samples(range(10)), b"#unit=bar", *samples(range(10, 20)), b"#unit=bar", *samples([20])])
    assert found.cuff_pressure_mmhg.tolist() == [float(k) for k in range(10)]
    assert decoder.failed is not None
    assert decoder.failed.code == "unit-changed"
    assert decoder.feed([b"#unit=mmHg", *samples([21])]).time_s.size == 0


def test_a_doubtful_unit_does_not_wait_for_ever() -> None:
    """After 5000 samples without a word on the unit it ends, with the remedy.

    Oracle: by construction.
    """
    decoder = opened()
    decoder.feed([*samples(range(5)), b"#unit=kPa", *samples(range(5, 5 + LINES_WITHOUT_UNIT))])
    assert decoder.failed is None
    decoder.feed(samples([5 + LINES_WITHOUT_UNIT]))
    assert decoder.failed is not None
    assert decoder.failed.code == "unit-missing"


def test_the_clock_wraps_without_a_jump() -> None:
    """Time goes on through 2^32 us, and through it again.

    Oracle: by construction; 2^32 us are 4294.97 s.
    """
    decoder = opened(rate_hz=2)
    clock = [(2**32 - 1_000_000 + 500_000 * k) % 2**32 for k in range(20_000)]
    found = decoder.feed([b"%d,%d,50.0" % (k, us) for k, us in enumerate(clock)])
    assert min(clock) < 1_000_000
    assert sum(b < a for a, b in itertools.pairwise(clock)) == 3
    assert found.time_s == pytest.approx(np.arange(20_000) * 0.5)
    assert not decoder.troubles


def test_the_first_line_after_opening_may_be_cut() -> None:
    """The first line is left out even where it could pass for a sample, and again after the port was opened anew.

    Oracle: by construction.
    """
    decoder = LineDecoder()
    decoder.feed([b"3,61500,9.9", *header()])
    found = decoder.feed([*samples(range(10, 12)), b"#received_anew=5.0", b"2,60000,0.5", *samples(range(13, 15))])
    assert decoder.troubles == {"cut-line": 2, "gap": 1, "sample-missing": 1}
    assert found.cuff_pressure_mmhg.tolist() == [10.0, 11.0, 13.0, 14.0]


@pytest.mark.parametrize(
    ("first", "told"),
    [
        (b"9,45000,9.0", {}),  # whole: the next is its neighbour
        (b"", {}),
        (b"000,9.0", {"cut-line": 1}),
        (b"0", {"cut-line": 1}),
        (b"9,45000,9.0*0000", {"cut-line": 1}),
        (b"ate_hz=200", {"cut-line": 1}),
        (b"systolic 120 mmHg", {"unreadable-line": 1}),
    ],
)
def test_the_first_line_is_told_as_cut_only_where_it_is(first: bytes, told: dict[str, int]) -> None:
    """What can be the end of a line is; a whole sample is one, and counts where its unit was told; a text is no line.

    Oracle: by construction: with a header before the port was opened anew, then lines from sample 10 on.
    """
    decoder = opened()
    found = decoder.feed([b"#received_anew=5.0", first, *samples(range(10, 13))])
    assert decoder.troubles == told
    assert found.cuff_pressure_mmhg.tolist() == [*([9.0] if first.endswith(b"45000,9.0") else []), 10.0, 11.0, 12.0]


def test_the_first_line_waits_for_its_neighbour_over_a_late_header() -> None:
    """Attached to a running sensor in the gap between two lines: nothing was cut, samples came before their unit.

    Oracle: by construction.
    """
    decoder = LineDecoder()
    found = decoder.feed([*samples(range(7, 10)), *header(), *samples(range(10, 12))])
    assert decoder.troubles == {"before-unit": 3}
    assert found.cuff_pressure_mmhg.tolist() == [10.0, 11.0]


def test_a_leap_ahead_is_missing_samples_and_no_new_beginning() -> None:
    """The number leaps by 500 while the clock goes on by one interval; a clock that went back is a new beginning.

    Oracle: by construction.
    """
    for back, told in ((0, {"gap": 1, "sample-missing": 500}), (20 * STEP_US, {"began-anew": 1})):
        decoder = opened()
        decoder.feed(samples(range(20), start_us=10**6))
        ahead = [b"%d,%d,5.0" % (520 + k, 10**6 + (20 + k) * STEP_US - 2 * back) for k in range(10)]
        assert decoder.feed(ahead).time_s.size == 10
        assert decoder.troubles == told


def test_missing_samples_are_counted_and_time_goes_on() -> None:
    """Two gaps of 3 and 400 samples are told as such; the times after them are the sensor's.

    Oracle: by construction.
    """
    decoder = opened()
    kept = [*range(10), *range(13, 20), *range(420, 430)]
    found = decoder.feed(samples(kept))
    assert decoder.troubles == {"gap": 2, "sample-missing": 403}
    assert found.time_s == pytest.approx(np.array(kept) * STEP_US / 1e6)


def test_repeated_samples_count_once() -> None:
    """A block that is sent twice, and a single line that is, are in it once.

    Oracle: by construction.
    """
    decoder = opened()
    found = decoder.feed(samples([*range(100), *range(40, 100), 99, *range(100, 110)]))
    assert found.time_s.size == 110
    assert decoder.troubles == {"repeated": 61}


def test_a_stray_sample_is_left_out() -> None:
    """A line whose counters fit to nothing, between lines that do, is counted and has no consequence.

    Oracle: by construction; a single digit of the number, or of the clock, was damaged.
    """
    for damaged in (b"900000,50000,5.0", b"3,50000,5.0", b"10,990000050000,5.0", b"10,3000000000,5.0"):
        decoder = opened()
        lines = [*samples(range(10)), damaged, *samples(range(11, 20))]
        found = decoder.feed(lines)
        assert found.cuff_pressure_mmhg.tolist() == [*map(float, range(10)), *map(float, range(11, 20))], damaged
        told = dict(decoder.troubles)
        assert told.pop("stray", 0) + told.pop("unreadable-line", 0) == 1
        assert told == {"gap": 1, "sample-missing": 1}


def test_a_sensor_that_begins_anew_is_carried_on_by_the_hosts_clock() -> None:
    """Counters that start again at 0 give times later by what the host's clock says, and no sample is lost.

    Oracle: by construction: the host saw 2.5 s between the lines.
    """
    decoder = opened()
    decoder.feed([b"#received_utc=1000.0", *samples(range(100), start_us=10**9)])
    found = decoder.feed([b"#received_utc=1002.5", *samples(range(50))])
    assert decoder.troubles == {"began-anew": 1}
    assert found.time_s == pytest.approx(99 * STEP_US / 1e6 + 2.5 + np.arange(50) * STEP_US / 1e6)
    assert decoder.first_utc_s == 1000.0
    assert decoder.received_utc_s == 1002.5


def test_without_a_host_clock_a_new_beginning_leaves_a_second() -> None:
    """Nothing before a restart can be taken for one recording with what follows it.

    Oracle: by construction; a recording has no gap over 0.5 s.
    """
    decoder = opened()
    found = decoder.feed(samples([*range(100), *range(50)], start_us=0))
    assert decoder.troubles == {"repeated": 50}
    decoder = opened()
    found = decoder.feed([*samples(range(100), start_us=5_000_000), *samples(range(50))])
    assert np.diff(found.time_s)[99] == pytest.approx(1.0)


def test_a_wrong_check_is_counted_and_a_missing_one_too() -> None:
    """A damaged line is left out; once lines carry checks, one without is not believed.

    Oracle: by construction.
    """
    decoder = opened(check=True)
    lines = samples(range(5), check=True)
    lines[2] = lines[2].replace(b",2.0", b",9.0")
    lines[3] = lines[3].split(b"*")[0]
    found = decoder.feed(lines)
    assert found.cuff_pressure_mmhg.tolist() == [0.0, 1.0, 4.0]
    assert decoder.troubles == {"wrong-check": 2, "gap": 1, "sample-missing": 2}


def test_a_pressure_that_no_cuff_has_is_left_out() -> None:
    """Under -20 and over 350 mmHg a sample is counted and not given; the line goes on.

    Oracle: by construction, the limits of a recording.
    """
    decoder = opened()
    found = decoder.feed([b"0,0,10.0", b"1,5000,400.0", b"2,10000,-21.0", b"3,15000,12.0"])
    assert found.cuff_pressure_mmhg.tolist() == [10.0, 12.0]
    assert decoder.troubles == {"out-of-range": 2}


def test_what_is_remembered_does_not_grow() -> None:
    """100,000 samples, with gaps and repeats in them, are all counted; what is remembered stays bounded.

    Oracle: by construction: each thousandth sample is missing, each 1500th comes twice, unless it is missing.
    """
    decoder, total, size = opened(), 100_000, 0
    missing = [k for k in range(total) if k % 1000 == 500]
    twice = [k for k in range(total) if k % 1500 == 7]
    absent, again = set(missing), set(twice)
    for first in range(0, total, 1000):
        kept = [k for k in range(first, first + 1000) if k not in absent]
        size += decoder.feed(samples(sorted([*kept, *(k for k in kept if k in again)]))).time_s.size
    assert size == total - len(missing)
    assert decoder.troubles == {
        "gap": len(missing),
        "sample-missing": len(missing),
        "repeated": len(again - absent),
    }
    assert len(decoder._seen) <= REMEMBERED
    assert len(decoder._order) <= REMEMBERED
