"""The rooms import downwards only, and the engine leans on numpy, scipy and the standard library alone."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
ENGINE = ROOT / "src" / "quietlimb" / "engine"
ALLOWED = frozenset(sys.stdlib_module_names) | {"numpy", "scipy", "quietlimb", "__future__"}


def imported_roots(source: str) -> set[str]:
    """First names of everything that a module imports, at whatever depth."""
    roots: set[str] = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            roots.update(alias.name.split(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are absolute"
            roots.add((node.module or "").split(".")[0])
    return roots


def test_the_import_contract_is_kept() -> None:
    """Every contract of .importlinter holds.

    Oracle: by construction, import-linter on the layers that the design draws.
    """
    program = Path(sys.executable).parent / "lint-imports"
    done = subprocess.run([program, "--no-logo", "--no-cache"], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "5 kept, 0 broken" in done.stdout


def test_a_broken_contract_is_seen(tmp_path: Path) -> None:
    """An engine module that imports from the command line breaks the contract, so the check above can fail.

    Oracle: by construction, a package of two modules with the forbidden arrow.
    """
    package = tmp_path / "quietlimb"
    for room, text in {"engine": "import quietlimb.cli\n", "cli": "", "": ""}.items():
        (package / room).mkdir(parents=True, exist_ok=True)
        (package / room / "__init__.py").write_text(text, encoding="utf-8")
    rules = "[importlinter]\nroot_package = quietlimb\n[importlinter:contract:rooms]\nname = rooms\ntype = layers\n"
    (tmp_path / ".importlinter").write_text(
        rules + "containers = quietlimb\nlayers =\n    cli\n    engine\n", encoding="utf-8"
    )
    program = Path(sys.executable).parent / "lint-imports"
    # `-I` keeps the installed package out of the way; the working folder is put on the path by hand.
    code = f"import sys; sys.path.insert(0, {str(tmp_path)!r}); sys.argv = ['lint-imports', '--no-cache']; "
    code += "from importlinter.cli import lint_imports_command; lint_imports_command()"
    assert program.exists()
    done = subprocess.run([sys.executable, "-I", "-c", code], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 1, done.stdout + done.stderr
    assert "1 broken" in done.stdout


@pytest.mark.parametrize("path", sorted(ENGINE.rglob("*.py")), ids=lambda path: path.relative_to(ENGINE).as_posix())
def test_the_engine_imports_numpy_scipy_and_the_standard_library_only(path: Path) -> None:
    """No other package is imported by any engine module, inside functions included.

    Oracle: by construction, the module's own syntax tree against the interpreter's list of standard modules.
    """
    assert imported_roots(path.read_text(encoding="utf-8")) <= ALLOWED
