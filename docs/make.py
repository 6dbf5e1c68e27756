"""Renew what the code makes in docs/ and the README: commands, findings, pictures, tables, the demo's output.

Run by `python3 run.py docs`.
"""

from __future__ import annotations

import re
import tempfile
from pathlib import Path

import click
from click.testing import CliRunner

from quietlimb.cli.demo import SESSION, demo, invented_session
from quietlimb.cli.main import quietlimb

ROOT = Path(__file__).resolve().parents[1]
PICTURES = ROOT / "docs" / "pictures"
BLOCK = re.compile(r"(<!-- the demo prints -->\n```text\n).*?(\n```\n<!-- until here -->)", re.DOTALL)
# Of the readings the README shows a good one and the spoiled one.
GOOD, SPOILED = (f"reading-{k}.csv" for k in (1, int(invented_session().spoiled.argmax()) + 1))


EXIT_CODES = """## Exit codes

- `0`: done.
- `2`: the command line is wrong whatever the files hold. An option or a number is not known or not allowed, two of them
  contradict each other, or an output is one of the files to be read. `simulate` overwrites nothing at all; pictures and
  reports (`--picture`, `--out`) replace an older file of their name.
- `3`: a file that is named, as argument or in an option, is missing or damaged, or does not go with the command line;
  or a source of `capture` cannot be opened or understood, or ends without a sample. The other files are still done, and
  what came is kept.

Each message says what was found and what to do, in one line on stderr.
"""


def command_page() -> str:
    """The help of every command, as one page, with the exit codes."""
    runner = CliRunner()
    lines = ["# Commands", "", "Made from the program's own help by `python3 run.py docs`.", "", EXIT_CODES]

    def add(command: click.Command, names: tuple[str, ...]) -> None:
        helped = runner.invoke(quietlimb, [*names, "--help"], prog_name="quietlimb").output.rstrip()
        lines.extend([f"## quietlimb {' '.join(names)}".rstrip(), "", "```text", helped, "```", ""])
        if isinstance(command, click.Group):
            for name in command.list_commands(click.Context(command)):
                child = command.get_command(click.Context(command), name)
                assert child is not None
                add(child, (*names, name))

    add(quietlimb, ())
    return "\n".join(lines)


def finding_page() -> str:
    """The table of findings."""
    # imported here, as the tests load this file without its folder
    from findings_page import findings_page

    return findings_page()


def excerpt(printed: str) -> str:
    """The parts of the demo's output that the README shows."""
    paragraphs = printed.split("\n\n")
    good = next(text for text in paragraphs if text.startswith(GOOD))
    spoiled = next(text for text in paragraphs if text.startswith(SPOILED))
    first = next(k for k, text in enumerate(paragraphs) if text.startswith(SESSION))
    last = next(k for k, text in enumerate(paragraphs) if text.startswith("Cautions"))
    truth = next(text for text in paragraphs if text.startswith("The truth"))
    return "\n\n".join([good, "...", spoiled, "...", *paragraphs[first:last], "...", truth])


def with_output(readme: str, printed: str) -> str:
    """The README with the demo's output in its place."""
    return BLOCK.sub(lambda match: match[1] + excerpt(printed) + match[2], readme)


def method_page() -> None:
    """Pictures and tables of the page about the method; about a minute, nearly all for the errors beside noise."""
    # imported here, as the tests load this file without its folder
    from method_pictures import draw
    from method_study import look_into, study_noise
    from method_tables import tables, with_blocks

    looked, study = look_into(), study_noise()
    draw(PICTURES, looked, study)
    page = ROOT / "docs" / "reading-method.md"
    page.write_text(with_blocks(page.read_text(encoding="utf-8"), tables(looked, study)), encoding="utf-8")


def main() -> None:
    """Renew everything."""
    (ROOT / "docs" / "commands.md").write_text(command_page(), encoding="utf-8")
    (ROOT / "docs" / "findings.md").write_text(finding_page(), encoding="utf-8")
    with tempfile.TemporaryDirectory() as folder:
        result = CliRunner().invoke(demo, ["--out", folder, "--once"], catch_exceptions=False)
        PICTURES.mkdir(exist_ok=True)
        for made, kept in ((f"{SESSION}.png", "session.png"), (f"{Path(GOOD).stem}.png", "recording.png")):
            (PICTURES / kept).write_bytes((Path(folder) / made).read_bytes())
    readme = ROOT / "README.md"
    readme.write_text(with_output(readme.read_text(encoding="utf-8"), result.stdout), encoding="utf-8")
    method_page()


if __name__ == "__main__":
    main()
