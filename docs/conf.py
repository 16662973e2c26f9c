"""Sphinx settings. The build needs no network: python -m sphinx -n -W -b html docs docs/_build/html."""

import doctest
import re
import sys
from pathlib import Path
from typing import Any

from sphinx.application import Sphinx

import rs485kit

sys.path.insert(0, str(Path(__file__).parent / "_ext"))

project = "rs485kit"
author = "the rs485kit authors"
version = release = rs485kit.__version__

extensions = [
    "sphinx.ext.autodoc",
    "sphinx.ext.autosummary",
    "sphinx.ext.doctest",
    "sphinx.ext.napoleon",
    "field_tables",
    "eye_figure",
    "idle_figure",
    "rule_pages",
]
exclude_patterns = ["_build", "examples"]
nitpicky = True
smartquotes = False
highlight_language = "text"

# docstrings are in numpydoc form; types stay words, since "text or Quantity" is no name to link to
autodoc_typehints = "none"
autodoc_member_order = "bysource"
autosummary_generate = False
napoleon_google_docstring = False
napoleon_use_param = False
napoleon_use_rtype = False

# the examples are plain doctests, so that pytest runs them without Sphinx; see tests/docs
doctest_default_flags = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE

html_theme = "alabaster"
html_title = f"rs485kit {release}"
html_static_path = ["_static"]
html_css_files = ["house.css"]
html_show_sourcelink = False
html_show_sphinx = False
html_show_copyright = False
html_copy_source = False
html_sidebars = {"**": ["about.html", "searchfield.html", "navigation.html", "relations.html"]}
html_theme_options = {
    "description": "Solve an isolated multidrop RS-485 bus and prove that it works",
    "fixed_sidebar": True,
    "page_width": "1280px",
    "sidebar_width": "255px",
    "font_family": "system-ui, 'Segoe UI', 'DejaVu Sans', Arial, sans-serif",
    "head_font_family": "system-ui, 'Segoe UI', 'DejaVu Sans', Arial, sans-serif",
    "font_size": "16px",
    "code_font_size": "13.5px",
    "show_powered_by": False,
    "show_relbars": True,
}


HELD_COLON = "\N{RATIO}"


def before_napoleon(app: Sphinx, what: str, name: str, obj: Any, options: Any, lines: list[str]) -> None:
    """Keep two habits of our docstrings from being taken for markup."""
    # |V| is a magnitude, not the name of a substitution
    lines[:] = [re.sub(r"\|(\w[^|]*)\|", r"\\|\1\\|", line) for line in lines]
    if what == "property" and lines:
        # a colon in the summary of a property is a colon, and not the end of a type
        lines[0] = lines[0].replace(":", HELD_COLON)


def after_napoleon(app: Sphinx, what: str, name: str, obj: Any, options: Any, lines: list[str]) -> None:
    """Put back the colons that were held."""
    lines[:] = [line.replace(HELD_COLON, ":") for line in lines]


def setup(app: Sphinx) -> None:
    """Read docstrings before and after napoleon, which listens at priority 500."""
    app.connect("autodoc-process-docstring", before_napoleon, priority=400)
    app.connect("autodoc-process-docstring", after_napoleon, priority=600)
