"""`import quietlimb`: what it offers, and that it costs next to nothing."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import quietlimb

HEAVY = ("numpy", "scipy", "altair", "vl_convert", "typst", "django", "uvicorn", "click")


@pytest.mark.parametrize("name", quietlimb.__all__)
def test_every_public_name_is_there_and_documented(name: str) -> None:
    """Each name in `__all__` can be had and, unless it is the version, has a docstring.

    Oracle: by construction.
    """
    value = getattr(quietlimb, name)
    assert name == "__version__" or value.__doc__


def test_all_names_exactly_what_is_looked_up_and_what_is_typed() -> None:
    """`__all__`, the table of homes and the imports for type checkers name the same things in the same places.

    Oracle: by construction, the module's own syntax tree.
    """
    tree = ast.parse(Path(quietlimb.__file__).read_text(encoding="utf-8"))
    typed = {}
    for branch in (node for node in tree.body if isinstance(node, ast.If)):
        for node in branch.body:
            assert isinstance(node, ast.ImportFrom)
            assert node.module is not None
            for alias in node.names:
                typed[alias.asname or alias.name] = (node.module.removeprefix("quietlimb."), alias.name)
    assert typed == quietlimb._HOMES
    assert set(quietlimb.__all__) == {*typed, "__version__"}
    assert quietlimb.__all__ == sorted(quietlimb.__all__)
    assert set(quietlimb.__all__) <= set(dir(quietlimb))


def test_an_unknown_name_is_an_attribute_error() -> None:
    """A name that does not exist is refused as Python refuses it.

    Oracle: by construction, PEP 562.
    """
    with pytest.raises(AttributeError, match="no attribute 'bark'"):
        quietlimb.bark  # noqa: B018


@pytest.mark.parametrize("module", ["quietlimb", "quietlimb.cli.main"])
def test_importing_loads_nothing_heavy(module: str) -> None:
    """Neither the package nor the command line loads numbers or pictures before they are needed.

    Oracle: by construction, a fresh interpreter's table of modules.
    """
    code = f"import sys, {module}; print(*sorted(set(sys.modules) & set({HEAVY!r})))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == (["click"] if module == "quietlimb.cli.main" else [])
