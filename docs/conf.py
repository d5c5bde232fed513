"""How the docs are built: ``python -m sphinx -W docs docs/_build``; nothing is fetched."""

from forestcycle import __version__

project = "forestcycle"
project_copyright = "the authors of forestcycle"
release = __version__

extensions = ["myst_parser", "sphinx.ext.autodoc", "sphinx.ext.napoleon"]
exclude_patterns = ["_build"]
myst_enable_extensions = ["deflist"]
myst_heading_anchors = 4
suppress_warnings = ["config.cache"]

autodoc_member_order = "bysource"
autodoc_typehints = "none"
autodoc_preserve_defaults = True
napoleon_google_docstring = False
napoleon_use_rtype = False
napoleon_use_ivar = True

html_theme = "alabaster"
html_theme_options = {
    "description": "A city's structural pruning as a yearly cycle",
    "page_width": "1130px",
    "sidebar_width": "270px",
    "body_max_width": "840px",
    "font_family": "system-ui, sans-serif",
    "head_font_family": "system-ui, sans-serif",
    "code_font_size": "0.82em",
}
html_show_sourcelink = False
html_copy_source = False
