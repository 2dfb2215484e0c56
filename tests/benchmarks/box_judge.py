"""The judge of an identification against a box's truth: how far the operator, and which words are right.

Kernel error (L1) of a line: sum over source lines of |found - true|, 0…2. Phase error of a line: the
distance of the two centroids in source lines. Both are means over the lines of picture in all fields,
placed by the capture's known move; nothing is fitted, so an operator one line off is wrong.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from box_steps import Matrix
from boxes import Box
from capture_paths import Capture

RIGHT = 0.10
"""Below this mean L1 the operator counts as right."""
TWIN = 0.02
"""Two methods whose operators differ by less on this geometry count as one name."""
SURE = 0.5
"""From this confidence on an answer counts as confident."""


@dataclass(frozen=True)
class Found:
    """What an identification said, freed from its form.

    `operators`: per field of the captured frame (captured lines, source lines), None when it gave none;
    lines without an answer are rows of zeros or NaN. `methods`: every name it holds possible.
    `named`: per field the operator its best name stands for.
    """

    operators: Sequence[Matrix] | None
    named: Sequence[Matrix] | None
    methods: tuple[str, ...]
    unknown: bool
    relation: str
    encoding: str
    confidence: float


@dataclass(frozen=True)
class Verdict:
    """How one identification did; `l1` and `phase` are 2 and NaN where there was no operator.

    `chain`: a right operator's chain text gives that operator too; None where there is no such text.
    """

    kind: str
    l1: float
    phase: float
    right: bool
    relation: bool
    name: bool | None
    chain: bool | None
    flagged: bool
    encoding: bool | None
    sure_and_wrong: bool
    seconds: float
    seed: int
    said: str
    confidence: float = 0.0

    @property
    def whole(self) -> bool:
        """Right in everything that can be judged: what the confidence speaks of."""
        judged = (self.right, self.relation, self.name, self.chain, self.encoding)
        return all(answer is not False for answer in judged)


def placed(box: Box, capture: Capture, field: int, lines: int) -> tuple[Matrix, np.ndarray]:
    """Return the true operator on a field's captured lines, and which of these lines are judged."""
    truth, inner = box.truth[field], box.inner(field)
    down = capture.field_lines(box.relation)
    out, judged = np.zeros((lines, truth.shape[1])), np.zeros(lines, bool)
    at = np.arange(len(truth)) + down
    there = (at >= 0) & (at < lines)
    out[at[there]], judged[at[there]] = truth[there], inner[there]
    return out, judged


def line_errors(box: Box, capture: Capture, operators: Sequence[Matrix] | None) -> tuple[float, float]:
    """Return the mean kernel L1, and the mean phase error in source lines of those that have an answer."""
    if operators is not None and len(operators) == 1 and box.straight:
        operators = [operators[0][0::2], operators[0][1::2]]
    if operators is None or len(operators) != len(box.truth):
        return 2.0, float("nan")
    kernel, phase = [], []
    for field, found in enumerate(operators):
        true, judged = placed(box, capture, field, len(found))
        guess = np.nan_to_num(np.asarray(found, float))[judged]
        true = true[judged]
        kernel.append(np.abs(guess - true).sum(axis=1))
        phase.append(np.abs(centroids(guess) - centroids(true)))
    moved = np.concatenate(phase)
    moved = moved[np.isfinite(moved)]
    return float(np.mean(np.concatenate(kernel))), float(moved.mean()) if moved.size else float("nan")


def centroids(operator: Matrix) -> np.ndarray:
    """Return each line's centre of weight in source lines; NaN for lines that sum to next to nothing."""
    whole = operator.sum(axis=1)
    return (operator @ np.arange(operator.shape[1])) / np.where(np.abs(whole) < 0.1, np.nan, whole)


def plain(label: str) -> str:
    """Return a label as boxes name their stages: values without their keys, stages joined by "+"."""
    return label.replace("kernel=", "").replace("taps=", "").replace(", ", "+")


def judge(
    box: Box, capture: Capture, found: Found, seed: int = 0, seconds: float = 0, *, swapped: bool = False
) -> Verdict:
    """Judge one identification; `seed` and `seconds` are only kept, `swapped` fields must be told as such.

    A box that gives a progressive source's own lines as fields cannot be told from one that gives them as a
    picture: both answers are right.
    """
    l1, phase = line_errors(box, capture, found.operators)
    name = None
    if box.known:
        twin = found.named is not None and line_errors(box, capture, found.named)[0] < TWIN
        name = not found.unknown and (twin or box.method in map(plain, found.methods))
    right, chain = l1 < RIGHT, None
    if right and found.named is not None and found.named is not found.operators:
        chain = line_errors(box, capture, found.named)[0] < RIGHT
    return Verdict(
        box.kind,
        l1,
        phase,
        right,
        found.relation == (box.relation if box.relation != "half-line" or not swapped else "swapped")
        or (found.relation == "progressive" and box.straight),
        name,
        chain,
        found.unknown,
        None if box.encoding == "undecidable" else found.encoding == box.encoding,
        not right and not found.unknown and found.confidence >= SURE,
        seconds,
        seed,
        f"{box.method} said {'/'.join(found.methods[:3])}, {found.encoding}, {found.relation}",
        found.confidence,
    )


def share(answers: Sequence[bool | None]) -> float:
    """Return the percentage of true ones among those that are not None; NaN when there are none."""
    asked = [answer for answer in answers if answer is not None]
    return 100 * sum(asked) / len(asked) if asked else float("nan")
