"""The watch over one cuff: where a stream is split, what is kept, what is shown."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from engine.live.streams import RATE_HZ, codes, fed, finished, inflation, watched
from engine.recordings import CAT, Array
from quietlimb.engine.errors import RecordingError
from quietlimb.engine.live import Finished, Watch
from quietlimb.engine.live import watch as watch_module
from quietlimb.engine.reading import Reading, read
from quietlimb.engine.recording import Recording
from quietlimb.simulator import SCENARIOS, simulate_recording

PIECES = (1, 7, 50, 1000)
VALUES = ("systolic", "mean", "diastolic", "pulse_rate")


def streamed(whole: Recording, piece: int) -> list[Finished]:
    """What a watch makes of a recording fed in pieces."""
    watch = Watch(whole.circumstances)
    time, pressure = whole.time_s, whole.cuff_pressure_mmhg
    ended = finished([watch.add(time[k : k + piece], pressure[k : k + piece]) for k in range(0, time.size, piece)])
    while (left := watch.end()) is not None:
        ended.append(left)
    return ended


def same(one: Reading, other: Reading) -> bool:
    """Whether two readings are the same to the last bit."""
    values = all(getattr(one, name) == getattr(other, name) for name in VALUES)
    return values and (one.verdict, one.findings) == (other.verdict, other.findings)


@pytest.mark.parametrize("scenario", SCENARIOS)
def test_the_end_is_the_reading_of_the_recording_whatever_the_pieces(scenario: str, monkeypatch: pytest.MonkeyPatch):
    """Fed one, 7, 50 or 1000 samples at a time, a recording comes out with the same samples and `read` of them.

    The samples are those of the file, in one stretch without the ends of idle pressure.

    Oracle: by construction; `read` of the finished recording. No tolerance: the same bits. Looks are made with pieces
    of 50 only, every 4 s, for they take most of the time.
    """
    whole = simulate_recording(975_001, scenario=scenario, sampling_hz=100.0 if "alias" not in scenario else 50.0)
    file = whole.recording
    first: Recording | None = None
    expected: Reading | None = None
    for piece in PIECES:
        monkeypatch.setattr(watch_module, "LOOK_EVERY_S", 4.0 if piece == 50 else 1e9)
        (ended,) = streamed(file, piece)
        assert ended.recording is not None
        assert ended.reading is not None
        first = first or ended.recording
        expected = expected or read(first)
        assert ended.recording.fingerprint == first.fingerprint
        assert same(ended.reading, expected)
    assert first is not None
    begins = int(np.searchsorted(file.time_s, first.time_s[0]))
    stretch = slice(begins, begins + first.time_s.size)
    assert (file.time_s[stretch] == first.time_s).all()
    assert (file.cuff_pressure_mmhg[stretch] == first.cuff_pressure_mmhg).all()
    left_out = np.delete(file.cuff_pressure_mmhg, np.arange(stretch.start, stretch.stop))
    assert left_out.size == 0 or left_out.max() < 12.0


def test_looks_every_half_second_change_nothing_of_the_end():
    """With looks as often as they are made, the end is the same to the last bit for pieces of 7 and of 1000 samples.

    Oracle: by construction.
    """
    file = simulate_recording(975_002, sampling_hz=100.0).recording
    (small,), (large,) = streamed(file, 7), streamed(file, 1000)
    assert small.reading is not None
    assert large.reading is not None
    assert same(small.reading, large.reading)


def test_an_hour_of_inflations_is_neither_lost_nor_kept(monkeypatch: pytest.MonkeyPatch):
    """An hour at 200 Hz, an inflation every 40 s: each comes out once, with all samples under pressure, and what is
    held never exceeds one inflation.

    Oracle: by construction, the stream itself. Looks are left out here, for they take most of the time.
    """
    monkeypatch.setattr(watch_module, "LOOK_EVERY_S", 1e9)
    one = np.interp(np.arange(0.0, 36.0, 0.005), np.arange(inflation().size) / RATE_HZ, inflation(), right=0.0)
    one = np.concatenate((one, np.zeros(8000 - one.size)))
    pressure = np.tile(one, 90)
    time = np.arange(pressure.size) / 200.0
    watch, most, ended = Watch(CAT), 0, []
    for k in range(0, time.size, 50):
        moment = watch.add(time[k : k + 50], pressure[k : k + 50])
        most = max(most, watch.kept_samples)
        if moment.finished is not None:
            ended.append(moment.finished)
    assert len(ended) == 90
    assert most <= 8000
    taken = np.concatenate([end.recording.time_s for end in ended if end.recording is not None])
    assert (np.diff(taken) > 0).all()
    under_pressure = time[pressure > 12.0]
    assert np.isin(under_pressure, taken).all()


def test_only_a_second_of_idle_pressure_is_kept():
    """Idle for a minute, a watch holds no more than about a second; pumped up, the recording begins with that second.

    Oracle: by construction. Tolerance: two ticks of 0.05 s.
    """
    watch = Watch(CAT)
    fed(watch, np.zeros(6000))
    assert watch.kept_samples <= 1.15 * RATE_HZ
    (ended,) = finished(fed(watch, inflation(), from_s=60.0))
    assert ended.recording is not None
    assert ended.recording.time_s[0] == pytest.approx(60.0 + 1.0 + 0.2 - 1.0, abs=0.15)


@pytest.mark.parametrize(
    ("time_s", "pressure", "code"),
    [
        ([1.0], [100.0], "time-backwards"),
        ([0.5], [100.0], "time-backwards"),
        ([1.01, 1.02, 1.02], [1.0, 1.0, 1.0], "time-backwards"),
        ([1.01], [float("nan")], "not-finite"),
        ([float("inf")], [1.0], "not-finite"),
        ([1.01, 1.02], [1.0], "shape"),
        ([], [], "shape"),
    ],
)
def test_a_source_that_repeats_or_goes_back_is_refused_and_nothing_taken(
    time_s: list[float], pressure: list[float], code: str
):
    """A piece at fault raises an error with its code, and the watch goes on as if it had not come.

    Oracle: by construction.
    """
    watch = Watch(CAT)
    watch.add([0.99, 1.0], [3.0, 3.0])
    with pytest.raises(RecordingError) as caught:
        watch.add(time_s, pressure)
    assert caught.value.code == code
    assert watch.kept_samples == 2
    assert watch.add([1.01], [3.0]).time_s == 1.01


def test_the_phases_follow_each_other():
    """Idle, inflating, deflating, emptied; then, pumped up again, inflating once more without what was shown.

    Oracle: by construction.
    """
    watch = Watch(CAT)
    moments = fed(watch, inflation())
    phases = [moment.phase for moment in moments]
    assert sorted(set(phases), key=phases.index) == ["idle", "inflating", "deflating", "emptied"]
    assert moments[-1].reading is not None
    assert moments[-1].inflated_s == 0.0
    again = fed(watch, inflation()[:300], from_s=40.0)[-1]
    assert (again.phase, again.reading, again.pulses, again.remarks) == ("inflating", None, None, ())


def test_what_stands_now():
    """Pressure, time under pressure and rate of fall are those of the stream.

    Oracle: by construction: 1 s of rest and 3 s of rise to 180 mmHg, of which 0.2 s below 12, then 6 mmHg a second.
    Tolerance: a pulse, of 1.2 mmHg at most, rides on the fall; time by two ticks.
    """
    moment = watched(inflation()[:1400])[-1]
    assert moment.time_s == pytest.approx(13.99)
    assert moment.pressure_mmhg == pytest.approx(180.0 - 6.0 * 9.95, abs=1.3)
    assert moment.fall_mmhg_per_s == pytest.approx(6.0, abs=0.7)
    assert moment.inflated_s == pytest.approx(13.99 - 1.2, abs=0.15)


@pytest.mark.parametrize("seed", [815_001, 815_002, 815_003])
def test_the_count_of_pulses_goes_back_only_where_that_is_told(seed: int):
    """From moment to moment the count is the greatest so far less what is told as taken back; before the deflation is
    looked at, and when the cuff is empty, there is none. It counts no more pulses than the newest look keeps.

    Oracle: by construction.
    """
    file = simulate_recording(seed, sampling_hz=100.0).recording
    watch = Watch(file.circumstances)
    time, pressure = file.time_s, file.cuff_pressure_mmhg
    moments = [watch.add(time[k : k + 10], pressure[k : k + 10]) for k in range(0, time.size, 10)]
    most = 0
    for moment in moments:
        if moment.pulses_counted is None:
            assert moment.pulses_dropped == 0
            assert moment.phase != "deflating" or most == 0
            continue
        most = max(most, moment.pulses_counted)
        assert moment.pulses_counted + moment.pulses_dropped == most
        assert moment.pulses_counted <= (0 if moment.pulses is None else int(moment.pulses.kept.sum()))
    assert most > 10


def test_a_cuff_that_is_touched_is_no_inflation():
    """A rise to 30 mmHg for 2 s, as when a cuff is put on, ends as nothing.

    Oracle: by construction.
    """
    touch = np.concatenate((np.zeros(200), 30.0 * np.sin(np.linspace(0.0, np.pi, 200)), np.zeros(200)))
    moments = watched(touch)
    assert not finished(moments)
    assert moments[-1].phase == "idle"


def test_an_inflation_that_is_no_recording_is_refused_with_its_reason():
    """Pumped to 100 mmHg and let out at once: too short to read, and the reason is told.

    Oracle: by construction; the reason is that of `Recording`.
    """
    short = np.concatenate((np.linspace(0.0, 100.0, 80), np.linspace(100.0, 0.0, 40), np.zeros(100)))
    moments = watched(short)
    (ended,) = finished(moments)
    assert ended.recording is None
    assert ended.reading is None
    assert ended.refused is not None
    assert ended.refused.code == "too-short"
    (said,) = moments[-1].remarks
    assert said.code == "recording-refused"
    assert said.told == str(ended.refused)


def gapped(gap_s: float) -> tuple[Array, Array]:
    """Times and pressures of an inflation of which nothing came for so long in the middle of the fall."""
    pressure = inflation()
    time = np.arange(pressure.size) / RATE_HZ
    there = (time < 15.0) | (time >= 15.0 + gap_s)
    return time[there], pressure[there]


def test_a_source_that_goes_away_leaves_what_it_brought():
    """After 3 s without a sample the part before is a recording, the part after another, and the time under pressure
    goes on.

    Oracle: by construction.
    """
    time, pressure = gapped(3.0)
    watch = Watch(CAT)
    moments = [watch.add(time[k : k + 10], pressure[k : k + 10]) for k in range(0, time.size, 10)]
    before, after = finished(moments)
    assert before.recording is not None
    assert after.recording is not None
    assert before.recording.time_s[-1] == pytest.approx(14.99, abs=0.001)
    assert after.recording.time_s[0] == pytest.approx(18.0, abs=0.001)
    soon_after = next(moment for moment in moments if moment.time_s > 19.0)
    assert soon_after.inflated_s == pytest.approx(soon_after.time_s - 1.2, abs=0.15)


def test_what_the_source_cut_gives_no_advice_on_inflating_or_emptying():
    """Cut amid the large pulses: both parts are told as cut there, live and at the end, and neither is put down to a
    cuff that was not inflated high enough or emptied too early; a fall that really began there still is.

    Oracle: by construction: 180 mmHg, falling 6 mmHg a second, cut after the rise and about 10 s of the fall.
    """
    time, pressure = gapped(0.7)
    watch = Watch(CAT)
    moments = [watch.add(time[k : k + 10], pressure[k : k + 10]) for k in range(0, time.size, 10)]
    before, after = finished(moments)
    assert [(cut.by, cut.at) for one in (before, after) for cut in one.cuts] == [("sensor", "end"), ("sensor", "start")]
    assert before.cuts[0].pressure_mmhg == pytest.approx(pressure[time < 15.0][-1], abs=3.0)
    assert after.cuts[0].pressure_mmhg == pytest.approx(pressure[time > 15.0][0], abs=3.0)
    for part, code, flank in (
        (before, "cut-below", "diastolic-side-missing"),
        (after, "cut-above", "systolic-side-missing"),
    ):
        assert part.recording is not None
        assert part.reading is not None
        found = {each.code: each for each in part.reading.findings}
        assert found[code].at_mmhg == part.cuts[0].pressure_mmhg
        assert not {flank, "cuff-loose"} & set(found)
        blamed = {each.code for each in read(replace(part.recording, cuts=())).findings}
        assert flank in blamed
    assert "inflate-higher" not in codes(moments)
    assert [each.code for each in moments[-1].remarks] == ["recording-cut"]
    assert {m.phase for m in moments if "recording-cut" in codes([m])} >= {"deflating", "emptied"}
    low = watched(inflation(start_mmhg=118.0))
    assert "inflate-higher" in codes(low)
    assert "recording-cut" not in codes(low)


def test_pumped_up_after_a_cut_it_is_an_inflation_like_any_other():
    """The gap falls into the rise: what comes after it was inflated by somebody and began nowhere else.

    Oracle: by construction: the rise is from 1.0 to about 4 s.
    """
    pressure = inflation()
    time = np.arange(pressure.size) / RATE_HZ
    rising = np.flatnonzero(pressure > 60.0)[0] / RATE_HZ
    there = (time < rising) | (time >= rising + 0.6)
    watch = Watch(CAT)
    moments = [watch.add(time[there][k : k + 10], pressure[there][k : k + 10]) for k in range(0, there.sum(), 10)]
    assert not finished(moments)[-1].cuts
    assert "recording-cut" not in codes(moments[-1:])


def test_a_source_that_returns_in_mid_fall_shows_no_inflation():
    """From the first sample after the gap on it is the fall that it was; after a gap in the rise, the rise goes on.

    Oracle: by construction: the rise is from 1.0 to about 4 s, the gap before the fall is long enough to be told.
    """
    time, pressure = gapped(0.7)
    watch = Watch(CAT)
    moments = [watch.add(time[k : k + 5], pressure[k : k + 5]) for k in range(0, time.size, 5)]
    after = [moment.phase for moment in moments if moment.time_s > 15.0]
    assert after[: after.index("emptied")] == ["deflating"] * after.index("emptied")
    whole = inflation()
    time = np.arange(whole.size) / RATE_HZ
    rising = np.flatnonzero(whole > 60.0)[0] / RATE_HZ
    there = (time < rising) | (time >= rising + 0.6)
    watch = Watch(CAT)
    moments = [watch.add(time[there][k : k + 5], whole[there][k : k + 5]) for k in range(0, there.sum(), 5)]
    assert {moment.phase for moment in moments if rising < moment.time_s < 4.0} == {"inflating"}


def test_a_source_that_returns_and_is_pumped_up_again_shows_the_inflation():
    """The cuff was pumped up again after the source came back in mid-fall: the rise is shown once it is seen.

    Oracle: by construction; a rise of 10 mmHg is one.
    """
    time, pressure = gapped(0.7)
    back = int(np.flatnonzero(time > 15.0)[0])
    again = np.concatenate((pressure[:back], pressure[back] + np.arange(0.0, 60.0, 0.5)))
    time = time[: again.size]
    watch = Watch(CAT)
    moments = [watch.add(time[k : k + 5], again[k : k + 5]) for k in range(0, time.size, 5)]
    assert moments[-1].phase == "inflating"
    seen = next(m for m in moments if m.time_s > 15.0 and m.phase == "inflating")
    assert seen.pressure_mmhg - pressure[back] < 25.0


def test_a_short_stutter_is_borne():
    """A gap of 0.3 s leaves one recording.

    Oracle: by construction; `Recording` bears gaps up to 0.5 s.
    """
    time, pressure = gapped(0.3)
    watch = Watch(CAT)
    moments = [watch.add(time[k : k + 10], pressure[k : k + 10]) for k in range(0, time.size, 10)]
    (ended,) = finished(moments)
    assert ended.recording is not None


def test_pumped_up_again_without_emptying_makes_two_recordings():
    """A fall to 90 mmHg, then a rise and a whole deflation: two recordings, and the second is read.

    Oracle: by construction.
    """
    first, second = inflation(), inflation()
    pressure = np.concatenate((first[:1900], np.linspace(first[1900], second[400], 150), second[400:]))
    ended = finished(watched(pressure))
    assert len(ended) == 2
    assert ended[0].recording is not None
    assert ended[0].recording.cuff_pressure_mmhg[-1] == pytest.approx(first[1899], abs=3.0)
    assert ended[1].reading is not None
    assert ended[1].reading.verdict == "keep"


def test_an_inflation_that_nobody_ends_does_not_grow():
    """A cuff at 80 mmHg for 17 min is cut every 5 min.

    Oracle: by construction, 5 min at 100 Hz, and the second before.
    """
    watch, most = Watch(CAT), 0
    pressure = np.concatenate((np.zeros(100), np.linspace(0.0, 80.0, 200), np.full(100_000, 80.0)))
    moments = []
    time = np.arange(pressure.size) / RATE_HZ
    for k in range(0, time.size, 500):
        moments.append(watch.add(time[k : k + 500], pressure[k : k + 500]))
        most = max(most, watch.kept_samples)
    assert most <= 300 * RATE_HZ + 600
    assert len(finished(moments)) == 3
    assert moments[-1].inflated_s > 1000.0


def test_the_source_may_end_at_any_time():
    """What is left when the source ends becomes a recording; without anything left there is None, once and again.

    Oracle: by construction.
    """
    watch = Watch(CAT)
    assert watch.end() is None
    fed(watch, inflation()[:2000])
    ended = watch.end()
    assert ended is not None
    assert ended.recording is not None
    assert ended.recording.time_s[-1] == pytest.approx(19.99)
    assert ended.reading is not None
    assert same(ended.reading, read(ended.recording))
    assert watch.end() is None
    assert watch.kept_samples == 0


def test_two_ends_in_one_piece_are_told_one_after_the_other():
    """Two inflations in one piece: the first at once, the second with the next call.

    Oracle: by construction.
    """
    pressure = np.concatenate((inflation(), inflation()))
    watch = Watch(CAT)
    (moment,) = fed(watch, pressure, piece=pressure.size)
    assert moment.finished is not None
    left = watch.end()
    assert left is not None
    assert left.recording is not None
    assert left.recording.time_s[0] > moment.time_s / 2.0 - 1.0
    assert watch.end() is None
