"""Run cases of the camera model and print their table: `glass_table.py FIRST LAST [FILE]`.

Outcomes are added to FILE (JSON lines), so that the 500 can be run in parts; without a range, FILE is told.
"""

from __future__ import annotations

import json
import sys
import tempfile
from dataclasses import asdict
from pathlib import Path

import numpy as np
from glass_cases import LIMITS, Outcome, run


def told(outcomes: list[Outcome]) -> str:
    """The table: per kind how many, right, refused, wrong, and the errors against their limits."""
    lines = [f"{'kind':24} {'n':>4} {'right':>6} {'refused':>8} {'wrong':>6}"]
    groups: dict[str, list[Outcome]] = {}
    for each in outcomes:
        groups.setdefault(each.kind, []).append(each)
        if each.kind == "long":
            groups.setdefault("long " + " ".join(each.label.split()[:2]), []).append(each)
    for kind, own in sorted(groups.items()):
        count = [sum(each.verdict == v for each in own) for v in ("right", "refused", "WRONG")]
        lines.append(f"{kind:24} {len(own):4} {count[0]:6} {count[1]:8} {count[2]:6}")
    lines.append(f"limits: {LIMITS}")
    for name in sorted({name for each in outcomes for name in each.figures} - {"pixels"}):
        values = np.array([each.figures[name] for each in outcomes if name in each.figures])
        lines.append(
            f"{name:24} n {len(values):4}  p50 {np.median(values):.4f}  p90 {np.quantile(values, 0.9):.4f}  "
            f"p95 {np.quantile(values, 0.95):.4f}  max {values.max():.4f}  p10 {np.quantile(values, 0.1):.4f}"
        )
    return "\n".join(lines)


def main(words: list[str]) -> None:
    """Run the cases named by words, or tell a file of outcomes."""
    kept = Path(words[2]) if len(words) > 2 else Path(words[0]) if len(words) == 1 else None
    if len(words) > 1:
        with tempfile.TemporaryDirectory() as folder:
            for number in range(int(words[0]), int(words[1])):
                outcome = run(number, Path(folder))
                print(json.dumps(asdict(outcome)), flush=True)
                if kept is not None:
                    with kept.open("a", encoding="utf-8") as file:
                        file.write(json.dumps(asdict(outcome)) + "\n")
    if kept is not None:
        print(told([Outcome(**json.loads(line)) for line in kept.read_text(encoding="utf-8").splitlines()]))


if __name__ == "__main__":
    main(sys.argv[1:])
