"""How Sphinx builds these pages: `sphinx-build -W docs FOLDER`; nothing is fetched to read them."""

from __future__ import annotations

import sys
from importlib.metadata import version as _version
from pathlib import Path

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))
import made  # noqa: E402

project = "routefinder"
author = "routefinder maintainers"
copyright = author
release = version = _version("routefinder")
extensions = ["myst_parser"]
html_theme = "alabaster"
html_theme_options = {
    "description": "From what is on the shelf to the substance you want.",
    "fixed_sidebar": True,
    "page_width": "1100px",
    "show_powered_by": False,
}
html_show_sourcelink = False
html_copy_source = False
myst_heading_anchors = 3
smartquotes = False  # "--" is two hyphens in an option
suppress_warnings = ["misc.highlighting_failure"]

made.write(HERE / "reference")
