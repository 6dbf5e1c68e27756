"""The same figures by R, where R and its packages are at hand: they are not part of the project.

They run where the machine has Debian's r-cran-psych, r-cran-epir and r-cran-nlme, and may not be skipped in CI. Oracle
of every test here: reference libraries of R.
"""

from __future__ import annotations

import shutil
import subprocess
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from agreement.test_statistics import invented
from clinic.missing import missing
from quietlimb.agreement.concordance import concordance
from quietlimb.agreement.intraclass import intraclass
from quietlimb.agreement.limits import limits_of_agreement
from quietlimb.agreement.mixed import fit_mixed
from quietlimb.agreement.regression import deming

RSCRIPT = shutil.which("Rscript")
SECONDS = 120


@cache
def loads(package: str) -> bool:
    """Whether R is there and can load a package."""
    if RSCRIPT is None:
        return False
    done = subprocess.run([RSCRIPT, "-e", f"library({package})"], capture_output=True, timeout=SECONDS, check=False)
    return done.returncode == 0


@pytest.fixture(autouse=True)
def r_package(request: pytest.FixtureRequest) -> None:
    """The package of R that a test asks for; without it the test is skipped, or fails (see `clinic.missing`)."""
    marker = request.node.get_closest_marker("r_package")
    package = "stats" if marker is None else str(marker.args[0])
    if not loads(package):
        missing(f"no Rscript with the package {package} on this machine")


def by_r(code: str, **values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Numbers that R prints for a script, the values being there as vectors."""
    given = "".join(f"{name} <- c({', '.join(map(repr, each.tolist()))})\n" for name, each in values.items())
    script = f"{given}options(digits = 15)\n{code}"
    done = subprocess.run(
        [str(RSCRIPT), "-"], input=script, capture_output=True, text=True, timeout=SECONDS, check=True
    )
    return np.array(done.stdout.split(), dtype=np.float64)


@pytest.mark.r_package("psych")
def test_six_forms_of_the_intraclass_correlation() -> None:
    """With their intervals, by psych::ICC in its analysis of variance.

    Oracle: reference library R psych. Tolerance: its print.
    """
    table = np.column_stack([invented(61, animals=15).tested, invented(61, animals=15).reference])
    r = by_r(
        "suppressMessages(library(psych))\n"
        "t <- ICC(cbind(x, y), lmer = FALSE)$results\n"
        'cat(as.matrix(t[, c("ICC", "lower bound", "upper bound")]))',
        x=table[:, 0],
        y=table[:, 1],
    ).reshape(3, 6)
    found = intraclass(table)
    order = (
        found.one_way_single,
        found.two_way_single,
        found.consistency_single,
        found.one_way_average,
        found.two_way_average,
        found.consistency_average,
    )
    assert [each.estimate for each in order] == pytest.approx(r[0], abs=1e-6)
    assert [each.low for each in order] == pytest.approx(r[1], abs=1e-6)
    assert [each.high for each in order] == pytest.approx(r[2], abs=1e-6)


@pytest.mark.r_package("epiR")
def test_concordance_with_its_interval() -> None:
    """By epiR::epi.ccc.

    Oracle: reference library R epiR. Tolerance: what its figures for published data differ from ours by.
    """
    pairs = invented(62, animals=30)
    r = by_r(
        'suppressMessages(library(epiR))\ncat(unlist(epi.ccc(x, y, ci = "z-transform", conf.level = 0.95)$rho.c))',
        x=pairs.tested,
        y=pairs.reference,
    )
    found = concordance(pairs)
    assert found.estimate == pytest.approx(r[0], abs=1e-5)
    assert (found.low, found.high) == pytest.approx((r[1], r[2]), abs=1e-4)


@pytest.mark.r_package("nlme")
def test_mixed_line_by_nlme() -> None:
    """Coefficients, their standard errors, and both standard deviations, by nlme::lme with REML.

    Oracle: reference library R nlme. Tolerance: its optimiser's.
    """
    pairs = invented(63, animals=10, each=4)
    r = by_r(
        "library(nlme)\n"
        "f <- lme(y ~ x, random = ~ 1 | g)\n"
        "cat(fixef(f), sqrt(diag(vcov(f))), as.numeric(VarCorr(f)[, 2]))",
        x=pairs.tested,
        y=pairs.reference,
        g=pairs.index.astype(np.float64),
    )
    found = fit_mixed(pairs.reference, np.column_stack([np.ones(40), pairs.tested]), pairs.index)
    told = [*found.coefficients, *np.sqrt(np.diag(found.covariance))]
    told += [found.between_variance**0.5, found.residual_variance**0.5]
    assert told == pytest.approx(r, rel=1e-4)


@pytest.mark.r_package("stats")
def test_bias_and_deming_by_plain_r() -> None:
    """t interval of the bias by t.test, line of equal errors by prcomp.

    Oracle: reference library R stats.
    """
    pairs = invented(64, animals=18)
    r = by_r(
        "p <- prcomp(cbind(y, x))$rotation\ncat(t.test(x, y, paired = TRUE)$conf.int, p[2, 1] / p[1, 1])",
        x=pairs.tested,
        y=pairs.reference,
    )
    bias = limits_of_agreement(pairs).bias
    assert [bias.low, bias.high, deming(pairs).slope.estimate] == pytest.approx(r, rel=1e-9)
