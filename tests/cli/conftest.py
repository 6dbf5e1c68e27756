"""A command runner, and a few simulated recordings that all tests of the command line share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from quietlimb.cli.main import quietlimb
from quietlimb.cli.simulated_files import write_recording_with_truth, write_session_with_truth
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.recording import recording
from quietlimb.exchange.recording_csv import write_recording
from quietlimb.simulator.recordings import simulate_recording
from quietlimb.simulator.sessions import simulate_session

Run = Callable[..., Result]

TYPED = """# species: cat
# site: forelimb
# method: oscillometric
# place: carrier
minute,systolic_mmHg,mean_mmHg,diastolic_mmHg,pulse_rate_per_min
0,171,128,104,190
1,158,122,100,186
2.5,152,118,97,184
4,151,117,96,182
5,149,116,95,183
6.5,150,117,96,181
"""


@pytest.fixture
def run() -> Run:
    """Run `quietlimb` in this process, as a shell would."""

    def call(*arguments: str | Path) -> Result:
        return CliRunner().invoke(quietlimb, [str(argument) for argument in arguments])

    return call


@pytest.fixture(scope="session")
def recordings(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with `r2.csv`, `r10.csv` (quiet limbs) and `r11.csv` (a deflation without any pulse)."""
    folder = tmp_path_factory.mktemp("recordings")
    for name, seed in (("r2", 3), ("r10", 4)):
        made = simulate_recording(seed, species="cat", systolic=150.0, diastolic=95.0)
        write_recording_with_truth(made, folder / f"{name}.csv", seed=seed)
    time_s = np.arange(0.0, 40.0, 0.01)
    noise = np.random.default_rng(11).normal(0.0, 0.02, time_s.size)
    still = recording(time_s, 200.0 - 4.5 * time_s + noise, Circumstances(species="cat", instrument="simulator"))
    write_recording(still, folder / "r11.csv")
    return folder


@pytest.fixture(scope="session")
def session_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A session of three recordings with their times."""
    folder = tmp_path_factory.mktemp("sessions") / "three"
    made = simulate_session(8, species="dog", readings=3, systolic=150.0, diastolic=95.0)
    write_session_with_truth(made, folder, seed=8)
    return folder


@pytest.fixture
def typed(tmp_path: Path) -> Path:
    """A file of six typed readings that fall to a level."""
    path = tmp_path / "typed.csv"
    path.write_text(TYPED, encoding="utf-8")
    return path
