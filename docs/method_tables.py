"""The tables of docs/reading-method.md that the code makes, and their places in the page. Called by docs/make.py."""

from __future__ import annotations

import re
from pathlib import Path

from method_study import PRESSURES, WAYS, Looked, NoiseStudy

from quietlimb.engine.methods import artery_fit, waveform_fit
from quietlimb.engine.methods.pulse_form import FORM_FACTOR, FORM_FACTOR_SD, WALL_LAG_S
from quietlimb.engine.values import Cited

VALIDATION = Path(__file__).resolve().parents[1] / "validation"
ACCURACY, FLOOR = VALIDATION / "reading.txt", VALIDATION / "floor.txt"
BLOCK = re.compile(r"(<!-- made: (?P<name>[a-z ]+) -->\n).*?(\n<!-- until here -->)", re.DOTALL)


def priors_table() -> str:
    """The priors of the fit, as the code has them."""
    fit, wave = artery_fit, waveform_fit
    rows: list[tuple[str, Cited, Cited | float]] = [
        ("level, mmHg", fit.LEVEL, fit.LEVEL_SD),
        ("ln of pulse pressure over level; centre as the ratio itself", fit.PULSE_SHARE, fit.PULSE_SHARE_LN_SD),
        ("form factor", FORM_FACTOR, FORM_FACTOR_SD),
        ("ln of the collapsed half width; centre in mmHg", fit.COLLAPSED, fit.COLLAPSED_LN_SD),
        ("ln of distended over collapsed half width", fit.DISTENDED_LN, fit.DISTENDED_LN_SD),
        ("residue of compliance", wave.RESIDUE_SHARE, wave.RESIDUE_SHARE_SD),
        ("lag of the wall, s", WALL_LAG_S, wave.WALL_LAG_SD_S),
    ]
    lines = ["| of | centre | SD | standing |", "|---|---|---|---|"]
    for name, centre, sd in rows:
        spread = sd.value if isinstance(sd, Cited) else sd
        lines.append(f"| {name} | {centre.value:g} | {spread:g} | {centre.standing} |")
    return "\n".join(lines)


def accuracy_quote() -> str:
    """The summary at the end of validation/reading.txt."""
    text = ACCURACY.read_text(encoding="utf-8")
    first = text.splitlines()[0]
    return "\n".join(["```text", first, "", text[text.index("Against the targets") :].rstrip(), "```"])


def floor_table() -> str:
    """The rows over all families of validation/floor.txt, with what is asked of their ratio."""
    lines = [
        "| recordings | pressure | n | floor, mmHg | error, mmHg | ratio | at most 1.25 |",
        "|---|---|---|---|---|---|---|",
    ]
    row = ""
    for line in FLOOR.read_text(encoding="utf-8").splitlines():
        if found := re.match(r"(\S.*): \d+ recordings", line):
            row = found[1]
        elif line.startswith("  all "):
            words = line.replace("+-", " ").split()
            _, pressure, n, floor, _, *_, error, error_mc, ratio, ratio_mc = words[:14]
            verdict = " ".join(words[14:])
            lines.append(
                f"| {row} | {pressure} | {n} | {floor} | {error} ± {error_mc} | {ratio} ± {ratio_mc} | {verdict} |"
            )
    return "\n".join(lines)


def noise_table(study: NoiseStudy) -> str:
    """Root mean square errors with their Monte Carlo errors."""
    lines = ["| largest pulse over noise | kept | way | systolic | mean | diastolic |", "|---|---|---|---|---|---|"]
    for k, level in enumerate(study.peak_to_noise):
        for way in WAYS:
            cells = [f"{r:.1f} ± {s:.1f}" for r, s in zip(study.rmse(way, k), study.rmse_sd(way, k), strict=True)]
            lines.append(f"| {level:g} | {study.kept[k]} of {study.count} | {way} | {' | '.join(cells)} |")
    return "\n".join(lines)


def pictured_table(looked: Looked) -> str:
    """The pictured reading: value, interval and the two parts of its error beside the truth."""
    lines = ["| pressure, mmHg | true | read | 95 % interval | own SD | shared SD |", "|---|---|---|---|---|---|"]
    for name in PRESSURES:
        one, truth = getattr(looked.reading, name), getattr(looked.simulated.truth, name)
        lines.append(
            f"| {name} | {truth:.1f} | {one.value:.1f} | {one.low:.1f} to {one.high:.1f} | {one.own_sd:.1f} "
            f"| {one.shared_sd:.1f} |"
        )
    offset = looked.simulated.truth.peak_offset
    assert offset is not None
    return "\n".join([*lines, "", f"The compliance of this artery is greatest at {offset:+.1f} mmHg."])


def families_table(looked: Looked) -> str:
    """What each family makes of the same heights."""
    lines = ["| from the heights alone | systolic | mean | diastolic | weight |", "|---|---|---|---|---|"]
    for name, (values, weight) in looked.by_heights.items():
        lines.append(f"| {name} | {' | '.join(f'{value:.1f}' for value in values)} | {weight:.2f} |")
    truth = " | ".join(f"{getattr(looked.simulated.truth, name):.1f}" for name in PRESSURES)
    lines.append(f"| *true* | {truth} | |")
    return "\n".join(lines)


def with_blocks(page: str, blocks: dict[str, str]) -> str:
    """The page with each block between its marks; a mark without a block is an error."""
    return BLOCK.sub(lambda match: f"{match[1]}\n{blocks[match['name']]}\n{match[3]}", page)


def tables(looked: Looked, study: NoiseStudy) -> dict[str, str]:
    """Every made part of the page, by the name at its place."""
    return {
        "priors": priors_table(),
        "pictured reading": pictured_table(looked),
        "families": families_table(looked),
        "error by noise": noise_table(study),
        "accuracy": accuracy_quote(),
        "floor": floor_table(),
    }
