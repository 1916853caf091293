# SPDX-License-Identifier: MIT
"""The build back end: setuptools, where the build environment has none Debian's, so that nothing has to be fetched."""

import importlib.util
import sys

_DEBIAN = "/usr/lib/python3/dist-packages"


def _there(name):
    return importlib.util.find_spec(name) is not None


_missing = [name for name in ("setuptools", "wheel") if not _there(name)]
if _missing:
    sys.path.append(_DEBIAN)
    importlib.invalidate_caches()
    _missing = [name for name in _missing if not _there(name)]

if not _missing:
    from setuptools.build_meta import build_sdist, build_wheel, prepare_metadata_for_build_wheel  # noqa: F401


def get_requires_for_build_wheel(config_settings=None):
    """What the front end has to fetch; it imports this file again when that is there."""
    return _missing


def get_requires_for_build_sdist(config_settings=None):
    """The same for a source distribution."""
    return _missing
