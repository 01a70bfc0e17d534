"""``python -m routefinder``, and what the command ``routefinder`` starts."""

import sys


def run() -> None:
    """Run the command line (``cli.main.run``).

    Raises SystemExit: 130 too when it is stopped while it is still being loaded, 2 too when a
    package that is needed for that is not there.
    """
    try:
        from routefinder.cli.main import run as run_command

        run_command()
    except KeyboardInterrupt:
        sys.stderr.write("routefinder: stopped\n")
        raise SystemExit(130) from None
    except ModuleNotFoundError as error:
        from routefinder.errors import missing_package

        words = missing_package(error)
        if not words:
            raise
        sys.stderr.write(f"routefinder: {words}\n")
        raise SystemExit(2) from None


if __name__ == "__main__":
    run()
