"""The command line. Commands import what they need when they run, so that help is instant."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from routefinder.cli import (
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
log_commands.register(app)
unlock_commands.register(app)


def run() -> None:
    """Entry point: one sentence, exit code 2 for what the user can mend, 3 for a refusal."""
    import gc

    from routefinder.asking.fields import option
    from routefinder.errors import FieldError, Refused, RoutefinderError

    gc.set_threshold(200_000, 20, 100)  # a library is many objects that all live to the end
    try:
        app()
    except Refused as error:
        print(f"routefinder: {error}", file=sys.stderr)
        raise SystemExit(3) from None
    except RoutefinderError as error:
        said = error.said(option) if isinstance(error, FieldError) else error
        print(f"routefinder: {said}", file=sys.stderr)
        raise SystemExit(2) from None
    except BrokenPipeError:
        raise SystemExit(0) from None
    except KeyboardInterrupt:
        print("routefinder: stopped", file=sys.stderr)
        raise SystemExit(130) from None


if __name__ == "__main__":
    run()
