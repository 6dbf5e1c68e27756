"""The page about the method: its pictures and tables are made by the code, and its prose says what the code does."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from findings_page import findings_page
from method_pictures import draw
from method_study import HEIGHTS, PRESSURES, WAYS, Looked, NoiseStudy, look_into, study_noise
from method_tables import BLOCK, accuracy_quote, floor_table, noise_table, priors_table, tables, with_blocks

from quietlimb.engine.methods import artery_fit, fixed_ratios, pulse_prior, waveform_fit, waveforms
from quietlimb.engine.methods.least_squares import DEGREES_OF_FREEDOM
from quietlimb.engine.reading import METHODS, read

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "docs" / "reading-method.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def looked() -> Looked:
    """The pictured reading."""
    return look_into()


@pytest.fixture(scope="module")
def study() -> NoiseStudy:
    """Few recordings at two levels of noise."""
    return study_noise((10.0, 80.0), 12, seed=20390101)


def test_the_pictured_reading_is_one_that_the_engine_gives(looked: Looked) -> None:
    """Looking into the fit changes nothing, and the arterial pulse shown has the pressures that the reading gives.

    Oracle: by construction, the reading of the same recording. Tolerance: none; the page rounds.
    """
    again = read(looked.simulated.recording)
    assert again.verdict == looked.reading.verdict == "keep"
    for name, shown in zip(PRESSURES, (looked.found.max(), looked.found.mean(), looked.found.min()), strict=True):
        assert getattr(again, name).value == getattr(looked.reading, name).value
        assert shown == pytest.approx(getattr(again, name).value, abs=1e-6)


def test_the_fitted_curves_follow_the_averaged_pulses(looked: Looked) -> None:
    """Over all groups of two pulses and more, what the fit leaves is under a tenth of the largest pulse.

    Oracle: by construction of the recording, whose pulses an artery made. Tolerance: noise, and another family of
    artery; without the placing, or with the pulses in another order, a third of the largest pulse is left.
    """
    several = looked.waveforms.pulses > 1
    left = (looked.waveforms.pressure_mmhg - looked.fitted)[several]
    largest = float(looked.waveforms.height_mmhg.max())
    assert np.sqrt(np.mean(left**2)) < 0.1 * largest
    shuffled = (looked.waveforms.pressure_mmhg - np.roll(looked.fitted, 6, axis=0))[several]
    assert np.sqrt(np.mean(shuffled**2)) > 0.2 * largest


def test_the_figures_of_missed_groups_are_those_of_the_print() -> None:
    """The table of groups whose intervals fail, and the floor's, quote the printed tables.

    Oracle: by construction, validation/reading.txt and floor.txt. Tolerance: none; the page shows one decimal.
    """
    assert floor_table() in PAGE
    printed = (ROOT / "validation" / "reading.txt").read_text(encoding="utf-8").split("\n\n")
    for block, group, value in (
        ("loose or narrow", "loose-cuff", "systolic"),
        ("fast pulse", "all", "systolic"),
        ("mildly disturbed", "shivering", "systolic"),
        ("hard", "atrial-fibrillation", "pulse_rate"),
        ("slow pulse", "steps", "pulse_rate"),
    ):
        (text,) = (each for each in printed if each.startswith(block))
        (line,) = re.findall(rf"^  {group} +{value} .*$", text, re.MULTILINE)
        _, _, _, bias, _, _, sd, _, _, _, held, *_ = line.split()
        told = f"| {value.replace('_', ' ')} | {held} % | {float(bias):+.1f} | {float(sd):.1f} |"
        assert told in PAGE, told


def test_the_page_of_findings_is_made_from_the_programs_words() -> None:
    """docs/findings.md is what `python3 run.py docs` would write.

    Oracle: by construction.
    """
    assert (ROOT / "docs" / "findings.md").read_text(encoding="utf-8") == findings_page()


def test_all_ways_are_judged_on_the_same_recordings(study: NoiseStudy) -> None:
    """Each way has an error for each recording kept, all finite, and the two rules have the same mean pressure.

    Oracle: by construction.
    """
    for level, kept in enumerate(study.kept):
        assert 3 <= kept <= study.count
        for way in WAYS:
            assert study.errors[way][level].shape == (kept, 3)
            assert np.isfinite(study.errors[way][level]).all()
        np.testing.assert_allclose(*(study.errors[method][level][:, 1] for method in METHODS[1:]), atol=1e-9)
        assert not np.allclose(study.errors[HEIGHTS][level], study.errors[METHODS[0]][level])


def test_the_pictures_are_drawn(looked: Looked, study: NoiseStudy, tmp_path: Path) -> None:
    """Four PNG files under the names that the page shows.

    Oracle: by construction.
    """
    draw(tmp_path, looked, study)
    shown = set(re.findall(r"\(pictures/(method-\w+\.png)\)", PAGE))
    assert {path.name for path in tmp_path.iterdir()} == shown
    assert len(shown) == 4
    assert all(path.read_bytes().startswith(b"\x89PNG") for path in tmp_path.iterdir())


def test_every_place_in_the_page_is_filled(looked: Looked, study: NoiseStudy) -> None:
    """The page has a place for each made table and no other, and none of them is empty.

    Oracle: by construction.
    """
    blocks = tables(looked, study)
    places = {match["name"]: match[0] for match in BLOCK.finditer(PAGE)}
    assert places.keys() == blocks.keys()
    assert all(len(text.splitlines()) > 5 for text in places.values())
    made = with_blocks(PAGE, blocks)
    assert noise_table(study) in made
    assert with_blocks(made, blocks) == made


def test_tables_of_the_page_are_up_to_date(looked: Looked) -> None:
    """Priors, accuracy and pictured reading are what the code gives now. If not: `python3 run.py docs`.

    Oracle: by construction. Tolerance: another processor may move a value by 0.1 mmHg; the errors beside noise take too
    long to be made here.
    """
    assert priors_table() in PAGE
    assert accuracy_quote() in PAGE
    for name in PRESSURES:
        row = re.search(rf"^\| {name} \| ([\d.]+) \| ([\d.]+) \|", PAGE, re.MULTILINE)
        assert row is not None
        assert float(row[1]) == pytest.approx(getattr(looked.simulated.truth, name), abs=0.11)
        assert float(row[2]) == pytest.approx(getattr(looked.reading, name).value, abs=0.16)


@pytest.mark.parametrize(
    "told",
    [
        f"{waveform_fit.HARMONICS} harmonics",
        rf"\eta = {waveform_fit.TRANSMISSION.value:g}",
        f"within {waveforms.TOGETHER_MMHG:g} mmHg of cuff pressure",
        f"drift of {100 * waveform_fit.DRIFT_SHARE:g} %",
        f"shift of {waveform_fit.BEAT_SHIFT_S:g} s",
        f"{100 * waveform_fit.WAVE_SIZE_SD:g} % of the wave's size",
        f"level of {waveform_fit.BEAT_LEVEL_MMHG:g} mmHg",
        f"{100 * waveform_fit.BEAT_PULSE_SD:g} % of the pulse pressure",
        f"{100 * waveform_fit.BEAT_LENGTH_SD:g} % of the interval",
        f"allowance of {100 * waveform_fit.MODEL_ERROR_SHARE:g} % of the largest pulse",
        f"n^{{{pulse_prior.ALLOWANCE_FALL:g}}}",
        f"{100 * pulse_prior.ALLOWANCE:g} % of the pulse pressure over",
        f"{DEGREES_OF_FREEDOM:g} degrees of freedom",
        f"fewer than {waveform_fit.FEWEST_BINS} groups",
        f"SD of {artery_fit.PEAK_OFFSET_SD.value:g} mmHg",
        f"{fixed_ratios.SYSTOLIC_RATIO.value:g} and {fixed_ratios.DIASTOLIC_RATIO.value:g} of its peak",
    ],
)
def test_the_prose_names_the_numbers_of_the_code(told: str) -> None:
    """Each constant that the page quotes is that of the code.

    Oracle: by construction, the modules' own constants.
    """
    assert told in " ".join(PAGE.split())


def test_every_picture_has_words_for_those_who_listen() -> None:
    """Alt text of forty characters and more for every picture of the page.

    Oracle: invented; a name of a file would be shorter.
    """
    words = re.findall(r"!\[([^\]]*)\]\(pictures/", PAGE)
    assert len(words) == 5
    assert all(len(text) >= 40 for text in words)
