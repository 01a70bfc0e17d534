"""The command line. Commands import what they need when they run, so that help is instant."""

from __future__ import annotations

import errno
import io
import os
import sys
from typing import Annotated

import typer

from routefinder.cli import (
    bench_test_command,
    compare_commands,
    find_commands,
    library_commands,
    log_commands,
    look_commands,
    new_commands,
    plan_commands,
    unlock_commands,
    weigh_command,
)

app = typer.Typer(
    name="routefinder",
    help="Find, weigh up and run routes from what is on the shelf to the substance you want.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        typer.echo(f"routefinder {version('routefinder')}")
        raise typer.Exit


@app.callback()
def main(
    _: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    """Find, weigh up and run routes from what is on the shelf to the substance you want."""
    from routefinder.library import settings

    chosen = settings.read()
    if chosen:
        from routefinder import digits

        digits.use(digits.Shown(**chosen))


find_commands.register(app)
compare_commands.register(app)
plan_commands.register(app)
library_commands.register(app)
look_commands.register(app)
new_commands.register(app)
weigh_command.register(app)
bench_test_command.register(app)
log_commands.register(app)
unlock_commands.register(app)


FAULT = 70  # exit code: a fault of the program itself (EX_SOFTWARE of BSD's sysexits)


def run() -> None:
    """Entry point; never a traceback.

    Exit codes: 0 done; 1 an answer that is no (no route, faults found); 2 what the user can mend,
    in one sentence; 3 refused; 70 a fault of routefinder, the details in a file that is named; 130
    stopped by Ctrl-C. A reader that closes the pipe ends the program with 0.
    """
    import gc

    from routefinder.cli.terminal import Guarded

    gc.set_threshold(200_000, 20, 100)  # a library is many objects that all live to the end
    streams = sys.stdout, sys.stderr
    if sys.stdout is None:  # closed by who called
        sys.stdout = io.StringIO()
    if sys.stderr is None:
        sys.stderr = io.StringIO()
    sys.stdout = Guarded(sys.stdout)
    sys.stderr = Guarded(sys.stderr, line=True)
    try:
        code = _ended()
    finally:
        sys.stdout, sys.stderr = streams
    raise SystemExit(code)


def _ended() -> int:
    """Run the command; gives the exit code."""
    from routefinder.asking.fields import option
    from routefinder.cli.terminal import Gone
    from routefinder.errors import FieldError, Refused, RoutefinderError, missing_package

    try:
        code = _called()
        sys.stdout.flush()
        return code
    except Refused as error:
        return _say(str(error), 3)
    except RoutefinderError as error:
        return _say(error.said(option) if isinstance(error, FieldError) else str(error), 2)
    except Gone as gone:
        _silence()
        if gone.error.errno in {errno.EPIPE, errno.EINVAL}:  # EINVAL: a closed pipe on Windows
            return 0
        return _say(f"the output cannot be written ({gone.error.strerror}); nothing more is", 2)
    except KeyboardInterrupt:
        return _say("stopped", 130)
    except OSError as error:
        return _say(_file_words(error), 2)
    except Exception as error:
        lacking = missing_package(error)
        return _say(lacking, 2) if lacking else _say(_fault_words(error), FAULT)


def _called() -> int:
    try:
        app()
    except SystemExit as end:
        if end.code == 130:
            raise KeyboardInterrupt from None
        return end.code if isinstance(end.code, int) else int(bool(end.code))
    return 0


def _say(words: str, code: int) -> int:
    """One message on the error stream; gives the exit code back."""
    import contextlib

    from routefinder.cli.terminal import Gone
    from routefinder.hidden import shortened

    with contextlib.suppress(Gone):  # the error stream is gone too: the exit code says it
        sys.stderr.write(f"routefinder: {shortened(words.rstrip())}\n")
        sys.stderr.flush()
    with contextlib.suppress(Gone):
        sys.stdout.flush()
        return code
    _silence()
    return code


def _silence() -> None:
    """Point a standard output that takes no more at nothing, so that leaving does not complain."""
    import contextlib

    with contextlib.suppress(OSError, ValueError):
        nothing = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nothing, sys.stdout.fileno())
        os.close(nothing)


def _file_words(error: OSError) -> str:
    why = error.strerror or str(error)
    if error.filename is not None:
        name = os.fsdecode(error.filename) if not isinstance(error.filename, int) else ""
        return f"{name}: cannot be read or written ({why}); check the path and its permissions"
    try:
        os.getcwd()
    except OSError:
        return "the working folder is gone; change to another and try again"
    return f"a file cannot be read or written ({why})"


def _fault_words(error: Exception) -> str:
    """What to say of a fault of the program itself, whose details go to a file."""
    import platform
    import traceback
    from datetime import datetime

    from routefinder.errors import InputError
    from routefinder.library import where

    kind = f"{type(error).__name__}: {str(error)[:120]}".rstrip(": ").replace("\n", " ")
    details = "".join(traceback.format_exception(error))
    text = (
        f"{datetime.now():%Y-%m-%d %H:%M:%S}, Python {platform.python_version()}, "
        f"{platform.platform()}\nwords: {sys.argv[1:]!r}\n\n{details[-200_000:]}"
    )
    try:
        lies = f"the details are in {where.write_fault(text)}; send it along (it names your files)"
    except (OSError, InputError) as log_error:
        lies = f"its details could not be kept ({log_error})"
    return (
        f"a fault of routefinder itself, not of yours ({kind}). Please report what you did; {lies}"
    )


if __name__ == "__main__":
    run()
