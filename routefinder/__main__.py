"""``python -m routefinder``, and what the command ``routefinder`` starts."""

import sys


def run() -> None:
    """Run the command line (``cli.main.run``).

    Raises SystemExit: 130 too when it is stopped while it is still being loaded.
    """
    try:
        from routefinder.cli.main import run as run_command

        run_command()
    except KeyboardInterrupt:
        sys.stderr.write("routefinder: stopped\n")
        raise SystemExit(130) from None


if __name__ == "__main__":
    run()
