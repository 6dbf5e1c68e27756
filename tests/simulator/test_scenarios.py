"""What each scenario makes of a recording."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from quietlimb.engine.circumstances import Species
from quietlimb.engine.errors import ParameterError
from quietlimb.simulator import FOREIGN_FAMILIES, SCENARIOS, recordings, simulate_recording, simulate_session
from quietlimb.simulator.animals import Animal
from quietlimb.simulator.beats import Beats, Rhythm, draw_beats
from quietlimb.simulator.cuff_course import Deflation, Inflation
from quietlimb.simulator.scenarios import species_of, subject_settings
from quietlimb.simulator.subjects import Settings, Subject, draw_subject

SEEDS = range(12)


def _subject(seed: int, scenario: str) -> Subject:
    settings = subject_settings(np.random.default_rng(seed), scenario, Settings())
    return draw_subject(seed, settings=settings)


def test_every_scenario_has_a_sentence():
    """Each says in words what it is, and no two say the same.

    Oracle: by construction.
    """
    assert all(len(sentence) > 10 for sentence in SCENARIOS.values())
    assert len(set(SCENARIOS.values())) == len(SCENARIOS)


@pytest.mark.parametrize("scenario", [name for name in SCENARIOS if name != "empty-cuff"])
def test_every_scenario_can_be_had_of_every_artery(scenario: str):
    """Cat and dog, each family: the engine's own checks accept the recording, and the truth is told.

    Oracle: by construction. Tolerance: rounding.
    """
    for k, family in enumerate(FOREIGN_FAMILIES):
        species: Species = "cat" if k % 2 or "purring" in scenario else "dog"
        simulated = simulate_recording(k, species=species, family=family, scenario=scenario)
        truth = simulated.truth
        assert truth.family == family
        assert truth.systolic is not None
        assert truth.mean is not None
        assert truth.diastolic is not None
        assert truth.systolic > truth.mean > truth.diastolic
        assert truth.foot_s.size >= 3


@pytest.mark.parametrize("scenario", ["tail-wagging", "limb-loaded", "repeated-motion", "weak-pulse", "narrow-cuff"])
def test_a_scenario_leaves_the_animal_as_it_was(scenario: str):
    """Of one seed, the true pressures with and without the disturbance are the same: the recordings are a pair.

    Oracle: by construction.
    """
    for seed in SEEDS:
        assert simulate_recording(seed, scenario=scenario).truth.systolic == simulate_recording(seed).truth.systolic


def test_weak_pulses_are_weak():
    """Peaks of 0.05 to 0.2 mmHg, which fill the range.

    Oracle: invented range, frozen. Tolerance: 1 %, the height is found by iteration.
    """
    heights = [_subject(seed, "weak-pulse").peak_height_mmhg for seed in range(60)]
    assert 0.05 * 0.99 <= min(heights) < 0.06
    assert 0.17 < max(heights) <= 0.2 * 1.01


@pytest.mark.parametrize(("scenario", "rate"), [("slow-pulse", 40.0), ("fast-pulse", 300.0)])
def test_pulse_rates_at_the_edges(scenario: str, rate: float):
    """The true pulse rate is 40 or 300 a minute.

    Oracle: by construction. Tolerance: 5 %: breathing and scatter over one reading of 15 beats and more.
    """
    for seed in SEEDS:
        assert simulate_recording(seed, scenario=scenario).truth.pulse_rate == pytest.approx(rate, rel=0.05)


def test_a_narrow_cuff_is_narrow_and_loses_pressure():
    """0.15 to 0.25 of the circumference and a transmission of 0.85 to 0.98, where fitting cuffs keep to 0.98 and more.

    Oracle: invented ranges, frozen; a fitting cuff is 0.30 to 0.40 as wide (common practice). Tolerance: half a
    millimetre of 5.5 cm.
    """
    for seed in range(40):
        narrow, fitting = _subject(seed, "narrow-cuff"), _subject(seed, "undisturbed")
        share = narrow.animal.cuff_width_cm / narrow.animal.limb_circumference_cm
        assert 0.15 - 0.01 <= share <= 0.25 + 0.01
        assert 0.85 <= narrow.limb.transmission <= 0.98 <= fitting.limb.transmission <= 1.0
        assert fitting.animal.cuff_width_cm / fitting.animal.limb_circumference_cm >= 0.30


def test_a_loose_cuff_makes_late_contact_and_small_pulses():
    """Heights are 0.3 to 0.7 of those of the fitting cuff; the cuff passes pulses on from 12 to 30 mmHg upwards.

    Oracle: invented ranges, frozen. Tolerance: 2 %, heights are found by iteration.
    """
    for seed in range(40):
        loose, fitting = _subject(seed, "loose-cuff"), _subject(seed, "undisturbed")
        assert 0.3 * 0.98 <= loose.peak_height_mmhg / fitting.peak_height_mmhg <= 0.7 * 1.02
        assert 12.0 <= loose.limb.contact_mmhg <= 30.0
        assert 0.85 <= loose.limb.transmission <= 0.98


def test_lost_pressure_moves_the_oscillogram_up():
    """Where 0.9 of the cuff pressure reaches the artery, the highest pulses come at a cuff pressure 1 / 0.9 as high.

    Oracle: by construction: the artery feels 0.9 Pc. Tolerance: 5 mmHg at 130, where neighbouring pulses are alike.
    """
    centre = []
    for transmission in (1.0, 0.9):
        simulated = simulate_recording(
            4,
            species="cat",
            family="logistic",
            systolic=140.0,
            diastolic=100.0,
            transmission=transmission,
            deflation="linear",
            deflation_mmhg_per_s=3.0,
            start_mmhg=200.0,
            stop_mmhg=60.0,
            peak_height_mmhg=2.0,
            sampling_hz=200.0,
            noise_mmhg=0.0,
        )
        time, pressure = simulated.recording.time_s, simulated.recording.cuff_pressure_mmhg
        cuff, height = [], []
        for begin, end in pairwise(simulated.truth.foot_s):
            beat = pressure[(time >= begin) & (time <= end)]
            cuff.append(beat.mean())
            height.append(np.ptp(beat - np.linspace(beat[0], beat[-1], beat.size)))
        weight = np.array(height) ** 4
        centre.append(float(weight @ np.array(cuff) / weight.sum()))
    assert centre[1] == pytest.approx(centre[0] / 0.9, abs=5.0)
    assert centre[1] > centre[0] + 6.0


def test_fast_deflation_leaves_few_pulses():
    """From pulse to pulse the cuff falls by 8 to 20 mmHg.

    Oracle: invented range, frozen. Tolerance: 20 %, a bleed valve is up to 15 % off its mean rate and beats vary.
    """
    for seed in range(40):
        simulated = simulate_recording(seed, scenario="fast-deflation")
        top, dump = simulated.truth.deflation_s
        time, pressure = simulated.recording.time_s, simulated.recording.cuff_pressure_mmhg
        fall = float(np.interp(top + 0.1, time, pressure) - np.interp(dump - 0.05, time, pressure))
        assert simulated.truth.pulse_rate is not None
        a_pulse = fall / (dump - top - 0.15) * 60.0 / simulated.truth.pulse_rate
        assert 8.0 * 0.8 <= a_pulse <= 20.0 * 1.2


@pytest.mark.parametrize("family", FOREIGN_FAMILIES)
def test_cut_off_leaves_the_lower_flank_out(family: str):
    """At the dump the cuff is above the diastolic pressure, and the last pulses are near the highest: no lower flank.

    Oracle: by construction, measured in the recording: height of each pulse above the line between its feet. Tolerance:
    3 mmHg for beats that vary and cold air; two of the last four pulses reach 0.75 of the upper quartile of the highest
    ten, as pulses scatter by 4 % and more with breathing and a step may fall into any.
    """
    for seed in range(12):
        simulated = simulate_recording(
            seed, family=family, scenario="cut-off", deflation="linear", deflation_mmhg_per_s=3.0, peak_to_noise=200.0
        )
        time, pressure = simulated.recording.time_s, simulated.recording.cuff_pressure_mmhg
        last = float(np.interp(simulated.truth.deflation_s[1] - 0.05, time, pressure))
        assert simulated.truth.diastolic is not None
        assert simulated.truth.systolic is not None
        assert simulated.truth.diastolic - 3.0 < last < simulated.truth.systolic
        heights = []
        for foot, end in pairwise(simulated.truth.foot_s):
            beat = pressure[(time >= foot) & (time <= end)]
            heights.append(np.ptp(beat - np.linspace(beat[0], beat[-1], beat.size)))
        highest = np.percentile(np.sort(heights)[-10:], 75)
        assert np.sort(heights[-4:])[-2] > 0.75 * highest


def test_leaks_lie_in_their_range():
    """0.5 to 3 mmHg a second, in the truth too; an undisturbed cuff loses nothing.

    Oracle: invented range, frozen.
    """
    leaks = [simulate_recording(seed, scenario="leak").truth.leak_mmhg_per_s for seed in SEEDS]
    assert 0.5 <= min(leaks) < max(leaks) <= 3.0
    assert simulate_recording(1).truth.leak_mmhg_per_s == 0.0


def test_drift_of_the_deflation_is_within_its_range(monkeypatch: pytest.MonkeyPatch):
    """Over the deflation the level moves by 4 to 10 mmHg, up in some recordings and down in others.

    Oracle: invented range, frozen; what the beats are asked for is seen by a spy. Tolerance: rounding.
    """
    asked: list[tuple[float, float]] = []

    def spy(rng: np.random.Generator, animal: Animal, duration_s: float, *, rhythm: Rhythm, drift_mmhg: float) -> Beats:
        asked.append((duration_s, drift_mmhg))
        return draw_beats(rng, animal, duration_s, rhythm=rhythm, drift_mmhg=drift_mmhg)

    monkeypatch.setattr(recordings, "draw_beats", spy)
    signs = set()
    for seed in SEEDS:
        top, dump = simulate_recording(seed, scenario="pressure-drift").truth.deflation_s
        duration, drift = asked[-1]
        within = drift * (dump - top) / duration
        assert 4.0 - 1e-9 <= abs(within) <= 10.0 + 1e-9
        signs.add(bool(within > 0.0))
    assert signs == {True, False}


def test_a_purr_sampled_too_slowly_falls_among_the_pulses():
    """At 50 Hz without a filter the hum comes back below 12 Hz; with the filter it does not.

    Oracle: by construction: the recording without purring of the same seed has the same noise and pulses. Tolerance:
    the smallest second harmonic is 0.01 mmHg; the window, the breath's gate and the share below 12 Hz leave a tenth.
    """
    for seed in SEEDS:
        settings: Settings = {"noise_mmhg": 0.0, "quantum_mmhg": 0.0, "sampling_hz": 50.0}
        hums = []
        for anti_alias in (False, True):
            humming, still = (
                simulate_recording(seed, species="cat", scenario=scenario, anti_alias=anti_alias, **settings)
                for scenario in ("purring-alias", "undisturbed")
            )
            hum = humming.recording.cuff_pressure_mmhg - still.recording.cuff_pressure_mmhg
            spectrum = np.fft.rfft(hum * np.hanning(hum.size))
            low = np.fft.rfftfreq(hum.size, 0.02) < 12.0
            hums.append(float(np.sqrt((np.abs(spectrum[low]) ** 2).sum()) / hum.size))
        assert hums[0] > 10.0 * hums[1]
        assert hums[0] > 0.001


def test_purring_at_low_rate_is_sampled_as_its_name_says():
    """50 samples a second, of a cat.

    Oracle: by construction.
    """
    simulated = simulate_recording(3, scenario="purring-alias")
    assert simulated.recording.sampling_rate_hz == pytest.approx(50.0)
    assert simulated.recording.circumstances.species == "cat"
    with pytest.raises(ParameterError, match="ask for a cat"):
        species_of("purring-alias", "dog")


def test_what_is_chosen_goes_before_the_scenario():
    """A height, a pulse rate, a stop or a leak that is given stays, whatever the scenario would choose.

    Oracle: by construction. Tolerance: 1 % for the height; 5 % for the rate; 3 mmHg for the stop.
    """
    assert simulate_recording(3, scenario="weak-pulse", peak_height_mmhg=1.0).truth.peak_height_mmhg == pytest.approx(
        1.0, rel=0.01
    )
    assert simulate_recording(3, scenario="slow-pulse", pulse_rate=60.0).truth.pulse_rate == pytest.approx(60, rel=0.05)
    assert simulate_recording(3, scenario="leak", leak_mmhg_per_s=0.7).truth.leak_mmhg_per_s == 0.7
    cut = simulate_recording(3, scenario="cut-off", systolic=150.0, diastolic=90.0, stop_mmhg=110.0)
    last = np.interp(cut.truth.deflation_s[1] - 0.05, cut.recording.time_s, cut.recording.cuff_pressure_mmhg)
    assert last == pytest.approx(110.0, abs=3.0)


def test_a_session_has_one_scenario_for_all_its_recordings():
    """Of a weak pulse all recordings are weak, of a narrow cuff one cuff serves for all, and only cats purr.

    Oracle: by construction. Tolerance: a third for the height, which the level of the recording moves.
    """
    weak = simulate_session(2, readings=3, scenario="weak-pulse")
    for made in weak.recordings:
        assert made.truth.peak_height_mmhg is not None
        assert 0.05 / 1.34 < made.truth.peak_height_mmhg < 0.2 * 1.34
    narrow = simulate_session(2, readings=2, scenario="narrow-cuff")
    assert narrow.subject.limb.transmission <= 0.98
    for seed in range(4):
        assert simulate_session(seed, readings=1, scenario="purring").circumstances.species == "cat"


@pytest.mark.parametrize("inflation", ["pump", "bulb"])
@pytest.mark.parametrize("deflation", ["linear", "steps"])
@pytest.mark.parametrize("sampling_hz", [50.0, 1000.0])
def test_ways_of_inflating_and_deflating(inflation: Inflation, deflation: Deflation, sampling_hz: float):
    """Pump and bulb, linear and stepwise, 50 to 1000 Hz can be had in any combination.

    Oracle: by construction.
    """
    made = simulate_recording(5, inflation=inflation, deflation=deflation, sampling_hz=sampling_hz)
    assert (made.truth.inflation, made.truth.deflation) == (inflation, deflation)
    assert made.recording.sampling_rate_hz == pytest.approx(sampling_hz)
