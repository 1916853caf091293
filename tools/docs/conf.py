# SPDX-License-Identifier: MIT
"""Settings of the reference pages; see tools/docs/build."""

import pathlib
import sys

sys.path.insert(0, str(pathlib.Path(__file__).parent))

import rewound  # noqa: E402

project = "rewound"
author = "the rewound project"
version = release = rewound.__version__
html_title = f"rewound {version}"

extensions = ["sphinx.ext.autodoc", "sphinx.ext.napoleon", "sphinx.ext.doctest", "pages"]
html_theme = "alabaster"
html_theme_options = {"description": "Release, hold, or undecided", "show_powered_by": False, "page_width": "1060px"}
highlight_language = "none"
html_copy_source = False
html_show_sourcelink = False

autodoc_member_order = "bysource"
autodoc_typehints = "none"  # the docstrings say types with their units and shapes
autodoc_preserve_defaults = True
napoleon_google_docstring = False
napoleon_use_ivar = True
napoleon_use_rtype = False

doctest_global_setup = "import numpy\nimport pandas\nimport rewound"
doctest_test_doctest_blocks = "default"

# Every name that a docstring refers to has to be there. Types of arguments are words, not names.
nitpicky = True
nitpick_ignore_regex = [
    ("py:class", r"(?!rewound\b)(?![A-Z]\w+$).*"),
    ("py:class", "Array|None|ArrayLike|Series|DataFrame"),
]
