"""What went wrong: one line on stderr for each file, and the exit code at the end.

2 where the command line is wrong whatever the files hold, 3 where a file is: missing, damaged, or not going with it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

import click

from quietlimb.engine.errors import ParameterError, QuietlimbError
from quietlimb.exchange.errors import FileError, one_line

SOME_FILE_FAILED = 3

Tell = Callable[[str, QuietlimbError], None]


class Batch:
    """Remembers whether any file of a batch failed, so that the others are still done.

    tell : called with path and error of each failure, for `--json`
    """

    def __init__(self, tell: Tell | None = None) -> None:
        self.failed = False
        self._tell = tell

    @contextmanager
    def file(self, path: str) -> Iterator[None]:
        """Work on one file; its error becomes one line on stderr and does not stop the batch."""
        try:
            yield
        except QuietlimbError as error:
            self.report(path, error)
        except BrokenPipeError:
            raise  # the reader of the output has gone, as `head` does: no file's fault, and click ends quietly
        except OSError as error:
            reason = error.strerror or type(error).__name__
            about = f"{error.filename}: {reason}" if error.filename else reason
            self.report(path, QuietlimbError("cannot-open", about, "check the name and your rights"))

    def report(self, path: str, error: QuietlimbError) -> None:
        """Put one error into words: file, line where there is one, what was found, what to do."""
        self.failed = True
        told = str(error) if isinstance(error, FileError) else f"{path}: {error.says}; {error.remedy}"
        click.echo(one_line(told), err=True)
        if self._tell is not None:
            self._tell(path, error)

    def end(self) -> None:
        """Leave with the exit code that the batch deserves."""
        if self.failed:
            raise click.exceptions.Exit(SOME_FILE_FAILED)


def remark_on(path: str) -> Callable[[str], None]:
    """For what a person should know of a file that is read all the same: a line on stderr."""

    def remark(sentence: str) -> None:
        click.echo(one_line(f"{path}: {sentence}"), err=True)

    return remark


@contextmanager
def wrong_use() -> Iterator[None]:
    """An option or argument that the engine refuses is wrong use of the command: exit code 2."""
    try:
        yield
    except ParameterError as error:
        raise click.UsageError(one_line(f"{error.says}; {error.remedy}")) from None
