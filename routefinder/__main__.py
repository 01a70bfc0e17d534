"""``python -m routefinder``."""

from routefinder.cli.main import run

run()
