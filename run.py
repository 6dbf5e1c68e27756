"""Set up and run Quietlimb with nothing but Python: demo, test, check, docs.

    python3 run.py demo     runs the main job on invented recordings, then an invented clinic in the browser
    python3 run.py test     runs the tests
    python3 run.py check    runs ruff, mypy and the import contract
    python3 run.py docs     renews the command page and the pictures

The first run makes .venv beside this file and installs the lock files in requirements/ into it. Later runs compare the
hash of the lock file and need no network. Nothing outside this folder is changed, except under `test --install`.

The file is written so that every Python since 2.7 can read it: an old one must reach the sentence that refuses it.
"""

import sys

if sys.version_info < (3, 11):  # noqa: UP036  the packaging metadata cannot stop `python run.py`
    sys.exit(
        "Quietlimb needs Python 3.11 or newer, and this is Python "
        + ".".join(str(part) for part in sys.version_info[:3])
        + ". Install a newer one and name it: python3.11 run.py demo (Windows: py -3.11 run.py demo)"
    )

import argparse
import hashlib
import importlib.util
import os
import shutil
import subprocess
from pathlib import Path

FOLDER = Path(__file__).resolve().parent
VENV = FOLDER / ".venv"
LOCKS = {"run": ["run"], "test": ["run", "test"]}
PYTHON_MARK = VENV / "quietlimb-python.txt"

# program -> (system packages, what is missed without it). Used under `test --install` only.
SYSTEM_PROGRAMS = {
    "chromium": ("chromium", "the tests in a browser skip"),
    "pg_createcluster": ("postgresql", "the tests of the clinic on PostgreSQL skip"),
    "pdftotext": ("poppler-utils", "the tests that read a PDF back skip"),
    "Rscript": ("r-base-core r-cran-psych r-cran-epir r-cran-nlme", "the tests against R skip"),
}


def say(sentence):
    """One line of talk, on stderr."""
    sys.stderr.write(sentence + "\n")
    sys.stderr.flush()


def venv_python():
    """The interpreter of the environment."""
    return VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def call(*arguments):
    """Run a command in this folder and return its exit code."""
    return subprocess.call([str(argument) for argument in arguments], cwd=FOLDER)


def call_or_stop(trouble, *arguments):
    """Run a command; stop with a sentence if it fails."""
    if call(*arguments):
        sys.exit(trouble)


def this_python():
    """Major and minor version of the Python that runs this, as 3.11."""
    return ".".join(str(part) for part in sys.version_info[:2])


def interpreter_mark():
    """What the environment was made for: another Python, or a folder that was moved, needs a new one."""
    return this_python() + " " + str(VENV) + "\n"


def environment_works():
    """Whether .venv is whole, was made for this Python, and stands where it was made."""
    if PYTHON_MARK.exists():
        return PYTHON_MARK.read_text(encoding="utf-8") == interpreter_mark() and venv_python().exists()
    # no mark: somebody made it by hand, or we were interrupted while making it
    question = "import sys, pip; sys.exit(sys.version_info[:2] != " + repr(tuple(sys.version_info[:2])) + ")"
    return venv_python().exists() and call(venv_python(), "-c", question) == 0


def make_environment():
    """Make .venv, unless there is one that works."""
    if environment_works():
        PYTHON_MARK.write_text(interpreter_mark(), encoding="utf-8")
        return
    if importlib.util.find_spec("venv") is None or importlib.util.find_spec("ensurepip") is None:
        sys.exit(
            "This Python cannot make an environment, because its venv or ensurepip module is missing. On Debian and "
            "Ubuntu it is a package of its own: apt install python3-venv (or python"
            + this_python()
            + "-venv), then run this again."
        )
    say("Making the environment in .venv ...")
    call_or_stop(
        "Making .venv failed, see above. Is the disk full or the folder read-only?",
        sys.executable,
        "-m",
        "venv",
        "--clear",
        VENV,
    )
    PYTHON_MARK.write_text(interpreter_mark(), encoding="utf-8")


def lock_hash(lock):
    """Hash of a lock file and of what describes the project to its installer."""
    digest = hashlib.sha256()
    for path in (FOLDER / "requirements" / (lock + ".txt"), FOLDER / "pyproject.toml"):
        digest.update(path.read_bytes().replace(b"\r\n", b"\n"))
    return digest.hexdigest()


def install(trouble, *arguments):
    """pip install in the environment, without a cache outside this folder."""
    pip = (venv_python(), "-m", "pip", "--disable-pip-version-check", "--no-cache-dir", "-q", "install")
    call_or_stop(trouble, *(pip + arguments))


def set_up(purpose):
    """Bring .venv up to date for `run` or `test`; does nothing when the lock files have not changed."""
    make_environment()
    for lock in LOCKS[purpose]:
        mark = VENV / ("quietlimb-" + lock + "-lock.txt")
        if mark.exists() and mark.read_text(encoding="ascii") == lock_hash(lock):
            continue
        say("Installing what requirements/" + lock + ".txt names ...")
        install(
            "Installing the packages failed, see above. Is this computer connected to a package index?",
            "--require-hashes",
            "-r",
            FOLDER / "requirements" / (lock + ".txt"),
        )
        install(
            "Installing Quietlimb itself into .venv failed, see above.",
            "--no-deps",
            "--no-build-isolation",
            "--editable",
            FOLDER,
        )
        mark.write_text(lock_hash(lock), encoding="ascii")


def system_programs(may_install):
    """Install the system packages that tests can use, or name those that are missing."""
    missing = {name: why for name, why in SYSTEM_PROGRAMS.items() if shutil.which(name) is None}
    if not missing:
        return
    packages = sorted({package for listed, _ in missing.values() for package in listed.split()})
    if may_install and shutil.which("apt-get"):
        call_or_stop("apt-get update failed, see above.", "apt-get", "update", "-q")
        trouble = "apt-get install failed, see above. It needs the rights of an administrator."
        call_or_stop(trouble, "apt-get", "install", "-q", "-y", "--no-install-recommends", *packages)
        return
    for name, (package, missed) in sorted(missing.items()):
        say("Without " + name + " (Debian: " + package + ") " + missed + ".")


def demo(options, _rest):
    """The main job on invented recordings, then an invented clinic in the browser."""
    set_up("run")
    once = ["--once"] if options.once else []
    return call(venv_python(), "-m", "quietlimb.cli.demo", "--out", Path(options.out).absolute(), *once)


def test(options, rest):
    """The tests; what is not an option of ours goes to pytest. All of them go side by side, one worker a file."""
    system_programs(options.install)
    set_up("test")
    os.environ.setdefault("OMP_NUM_THREADS", "1")  # workers share the processors; threads of the algebra would fight
    side_by_side = ("-n", "auto", "--dist", "loadfile", "--no-loadscope-reorder")
    return call(venv_python(), "-m", "pytest", *(rest or side_by_side))


def check(_options, _rest):
    """Everything that can be said about the code without running it."""
    set_up("test")
    programs = venv_python().parent
    results = [
        call(venv_python(), "-m", "ruff", "check", "."),
        call(venv_python(), "-m", "ruff", "format", "--check", "."),
        call(venv_python(), "-m", "mypy"),
        call(programs / "lint-imports"),
    ]
    return max(results)


def docs(_options, _rest):
    """The parts of docs/ and of the README that the code makes."""
    set_up("run")
    return call(venv_python(), FOLDER / "docs" / "make.py")


def main():
    """Read the command line, set up, run."""
    parser = argparse.ArgumentParser(prog="run.py", description="Set up and run Quietlimb.")
    commands = parser.add_subparsers(dest="command", required=True, metavar="demo|test|check|docs")
    one = commands.add_parser("demo", help="run the main job on invented recordings, then an invented clinic")
    one.add_argument("--out", default="demo-output", metavar="FOLDER", help="where files go (default: demo-output)")
    one.add_argument("--once", action="store_true", help="end there, without the clinic")
    one.set_defaults(run=demo)
    two = commands.add_parser("test", help="run the tests; further arguments go to pytest")
    two.add_argument("--install", action="store_true", help="also install the system packages that tests can use")
    two.set_defaults(run=test)
    commands.add_parser("check", help="ruff, mypy, import contract").set_defaults(run=check)
    commands.add_parser("docs", help="renew the command page and the pictures").set_defaults(run=docs)
    options, rest = parser.parse_known_args()
    if rest and options.command != "test":
        parser.error("unknown arguments: " + " ".join(rest))
    return options.run(options, rest)


if __name__ == "__main__":
    sys.exit(main())
