# SPDX-License-Identifier: MIT
"""The CMake step of the Python package: builds the library's floors and the extension module, copies the samples.

The C++ sources lie above this folder; a source distribution carries them in `source/`.
"""

import os
import pathlib
import re
import shutil
import subprocess
import sys

from setuptools import Extension, setup
from setuptools.command.build_ext import build_ext
from setuptools.command.build_py import build_py
from setuptools.command.sdist import sdist

HERE = pathlib.Path(__file__).resolve().parent
CARRIED = ("CMakeLists.txt", "LICENSE", "libcore", "reference", "tools/cmake", "bindings/python")


def root():
    """The folder of the library's CMakeLists.txt."""
    carried = HERE / "source"
    return carried if carried.is_dir() else HERE.parents[1]


def version():
    text = (root() / "CMakeLists.txt").read_text(encoding="utf-8")
    return re.search(r"project\(rewound VERSION ([0-9.]+)", text).group(1)


class built_by_cmake(build_ext):
    """Builds the extension module."""

    def build_extension(self, extension):
        folder = pathlib.Path(self.build_temp).resolve() / "cmake"
        folder.mkdir(parents=True, exist_ok=True)
        generator = ["-G", "Ninja"] if shutil.which("ninja") else []
        build_type = os.environ.get("CMAKE_BUILD_TYPE") or "Release"
        subprocess.run(
            [
                "cmake", "-S", str(root()), "-B", str(folder), *generator, f"-DCMAKE_BUILD_TYPE={build_type}",
                "-DREWOUND_BUILD_PYTHON=ON", "-DREWOUND_BUILD_TOOLS=OFF", "-DREWOUND_BUILD_TESTS=OFF",
                "-DREWOUND_PYTHON_WHEEL=ON", f"-DPython3_EXECUTABLE={sys.executable}",
            ],
            check=True,
        )  # fmt: skip
        jobs = os.environ.get("CMAKE_BUILD_PARALLEL_LEVEL") or str(min(2, os.cpu_count() or 1))
        subprocess.run(["cmake", "--build", str(folder), "--target", "rewound_core", "-j", jobs], check=True)
        target = pathlib.Path(self.get_ext_fullpath(extension.name)).resolve()
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy2(folder / "python" / "rewound" / target.name, target)


class with_samples(build_py):
    """Copies the package and the records that come with it."""

    def run(self):
        super().run()
        samples = pathlib.Path(self.build_lib) / "rewound" / "samples"
        samples.mkdir(parents=True, exist_ok=True)
        for record in sorted((root() / "reference" / "records" / "good").glob("*.toml")):
            shutil.copy2(record, samples / record.name)


class with_sources(sdist):
    """Carries the C++ sources."""

    def make_release_tree(self, base_dir, files):
        super().make_release_tree(base_dir, files)
        left_out = shutil.ignore_patterns("build", "__pycache__", "*.egg-info", "dist", "notebooks", "source")
        for name in CARRIED:
            there, to = root() / name, pathlib.Path(base_dir) / "source" / name
            if there.is_dir():
                shutil.copytree(there, to, ignore=left_out, dirs_exist_ok=True)
            elif there.exists():
                to.parent.mkdir(parents=True, exist_ok=True)
                shutil.copy2(there, to)


setup(
    version=version(),
    ext_modules=[Extension("rewound._core", sources=[])],
    options={"build": {"build_base": str(root() / "build" / "wheel")}},  # which no check of the tree looks into
    cmdclass={"build_ext": built_by_cmake, "build_py": with_samples, "sdist": with_sources},
)
