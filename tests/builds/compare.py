#!/usr/bin/env python3
"""Judges every record of the tree with two builds of the tool and compares what they say: decisions, outcomes of the
findings and ranks of causes must be the same, probabilities to 1e-6.

    tests/builds/compare.py BUILD/bin/rewound OTHER/bin/rewound [PART OF A RECORD'S NAME...]

Builds that differ by compiler, optimisation or width of registers are compared so. It takes minutes where one
of them is not optimised, so it is run by hand."""

import json
import pathlib
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parents[2]
ALLOWED = 1e-6


def cases():
    """Every record that can be judged: alone, beside the learnt reference of its model, beside its earlier visit."""
    records = ROOT / "reference" / "records"
    learnt = ROOT / "reference" / "learnt" / "circulator-40.reference.toml"
    for path in sorted(records.rglob("*.toml")):
        if path.parent.name == "bad" or path.name == "blank.toml":
            continue
        yield path.stem, [path]
        if 'model = "circulator-40"' in path.read_text(encoding="utf-8"):
            yield path.stem + " beside the reference", [path, "--reference", learnt]
    earlier = records / "good" / "gh07_after_repair.toml"
    yield "gh07_recheck beside its earlier visit", [records / "good" / "gh07_recheck.toml", "--earlier", earlier]
    for year in range(2022, 2026):
        now, then = (records / "good" / f"gh12_{each}.toml" for each in (year, year - 1))
        yield f"gh12_{year} beside its earlier visit", [now, "--earlier", then]


def judged(tool, arguments):
    done = subprocess.run(
        [tool, "judge", "--format", "json", *map(str, arguments)], capture_output=True, text=True, timeout=600
    )
    if done.returncode not in (0, 10, 20):
        return {"error": done.stderr.replace(str(tool), "")}
    return json.loads(done.stdout)


def differences(one, other):
    """In words; empty where both builds say the same."""
    out = []
    for key in ("error", "decision"):
        if one.get(key) != other.get(key):
            out.append(f"{key}: {one.get(key)} / {other.get(key)}")
    if "error" in one or "error" in other:
        return out
    plain = [
        [(f["check"], f["subject"], f["quantity"], f["outcome"]) for f in each["findings"]] for each in (one, other)
    ]
    out += [f"finding: {a} / {b}" for a, b in zip(*plain) if a != b]
    if len(plain[0]) != len(plain[1]):
        out.append(f"{len(plain[0])} / {len(plain[1])} findings")
    causes = [{each["cause"]: each["probability"] for each in result["causes"]} for result in (one, other)]
    for name in sorted(set(causes[0]) | set(causes[1])):
        a, b = (each.get(name, -1.0) for each in causes)
        if abs(a - b) > ALLOWED:
            out.append(f"cause {name}: {a:.9f} / {b:.9f}")
    for f, g in zip(one["findings"], other["findings"]):
        if f["unit"] == "1" and f["value"] is not None and "p" in f["quantity"]:
            if abs(f["value"] - g["value"]) > ALLOWED:
                out.append(f"{f['quantity']}: {f['value']:.9f} / {g['value']:.9f}")
    return out


def main():
    if len(sys.argv) < 3 or sys.argv[1] in ("-h", "--help"):
        sys.exit(__doc__)
    tools = [str(pathlib.Path(each).resolve()) for each in sys.argv[1:3]]
    only = sys.argv[3:]
    count = unequal = 0
    for name, arguments in cases():
        if only and not any(each in name for each in only):
            continue
        count += 1
        found = differences(*(judged(tool, arguments) for tool in tools))
        unequal += bool(found)
        for each in found:
            print(f"{name}: {each}", flush=True)
    print(f"{count} judgements, {unequal} of them differ")
    sys.exit(1 if unequal or count == 0 else 0)


main()
