#!/usr/bin/env python3
"""Writes what stands on the invented mill hall's slab: obstacles and no-go areas for `layproof plan`.

Everything is invented. Heights and places are in international feet, in the hall's own frame.
    make_demo_floor.py          writes the files beside the others of the example
    make_demo_floor.py --check  fails when they differ from what would be written
"""

import pathlib
import sys

FOLDER = pathlib.Path(__file__).resolve().parent.parent / "invented-mill-hall"

HEADER = ("obstacle,kind,east [ft],north [ft],east_2 [ft],north_2 [ft],width [ft],depth [ft],"
          "diameter [ft],thickness [ft],turn,bottom [ft],top [ft],note")


def row(name, kind, east, north, east_2="", north_2="", width="", depth="", diameter="",
        thickness="", turn="", bottom="", top="", note="invented"):
    cells = [name, kind, east, north, east_2, north_2, width, depth, diameter, thickness, turn,
             bottom, top]
    return ",".join(f"{c:.2f}" if isinstance(c, float) else str(c) for c in cells) + "," + note


def obstacles():
    out = [HEADER]
    slab = 312.0
    # Stair and lift core, walls up.
    west, south, east, north = 5092.0, 10082.0, 5108.0, 10102.0
    for i, (a, b, c, d) in enumerate([(west, south, east, south), (east, south, east, 10090.0),
                                      (east, 10095.0, east, north), (east, north, west, north),
                                      (west, north, west, south)]):
        out.append(row(f"core {i + 1}", "wall", a, b, c, d, thickness=0.67, bottom=slab,
                       top=slab + 12.0))
    # Wall forms, braced: knee high and full height.
    out.append(row("form 1", "wall", 5150.0, 10045.0, 5176.0, 10045.0, thickness=1.5, bottom=slab,
                   top=slab + 10.0))
    out.append(row("form 2", "wall", 5040.0, 10142.0, 5066.0, 10142.0, thickness=1.5, bottom=slab,
                   top=slab + 3.5))
    # Bundles of rebar, a gang box, round pier forms already standing.
    out.append(row("rebar stack", "column", 5196.0, 10108.0, width=6.0, depth=32.0, turn=12.0,
                   bottom=slab, top=slab + 4.0))
    out.append(row("gang box", "column", 5127.0, 10128.0, width=5.0, depth=3.0, turn=0.0,
                   bottom=slab, top=slab + 4.5))
    for i, (e, n) in enumerate([(5071.0, 10062.0), (5071.0, 10112.0), (5154.0, 10092.0),
                                (5181.0, 10142.0)]):
        out.append(row(f"pier {i + 1}", "round", e, n, diameter=3.0, bottom=slab, top=slab + 11.0))
    # Pallets as an outline with an inner corner.
    for e, n in [(5116.0, 10058.0), (5130.0, 10058.0), (5130.0, 10062.0), (5121.0, 10062.0),
                 (5121.0, 10068.0), (5116.0, 10068.0)]:
        out.append(row("pallets", "outline", e, n, bottom=slab, top=slab + 6.5))
    return "\n".join(out) + "\n"


def no_go():
    out = [HEADER]
    areas = {
        "crane path": [(5010.0, 10066.0), (5230.0, 10066.0), (5230.0, 10078.0), (5010.0, 10078.0)],
        "slab edge": [(5218.0, 10010.0), (5236.0, 10010.0), (5236.0, 10186.0), (5218.0, 10186.0)],
        "pour access": [(5018.0, 10120.0), (5034.0, 10120.0), (5034.0, 10150.0),
                        (5018.0, 10150.0)],
    }
    for name, corners in areas.items():
        for e, n in corners:
            out.append(row(name, "no-go", e, n))
    return "\n".join(out) + "\n"


def main():
    files = {"obstacles.csv": obstacles(), "no-go.csv": no_go()}
    status = 0
    for name, text in files.items():
        path = FOLDER / name
        if "--check" in sys.argv[1:]:
            if not path.exists() or path.read_text() != text:
                print(f"{path} differs from what {pathlib.Path(__file__).name} writes")
                status = 1
        else:
            path.write_text(text)
    return status


if __name__ == "__main__":
    sys.exit(main())
