#!/usr/bin/python3
"""Pictures of pages for the eye: every width, light and dark, and the PDFs.

usage: pictures.py OUT PAGE.html...
"""

import pathlib
import sys

from browser import PAPERS, SCHEMES, WIDTHS, browser


def main(out, *pages):
    out = pathlib.Path(out)
    out.mkdir(parents=True, exist_ok=True)
    with browser() as one:
        for path in map(pathlib.Path, pages):
            one.open(path)
            for width in WIDTHS:
                for scheme in SCHEMES:
                    one.look(width, scheme).picture(out / f"{path.stem}_{width}_{scheme}.png")
            for paper in PAPERS:
                one.print(out / f"{path.stem}_{paper}.pdf", paper)


if __name__ == "__main__":
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    main(*sys.argv[1:])
