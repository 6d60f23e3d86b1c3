"""The drawings of what to clip where."""

import pytest

from sealtune.records.recording import STEPS, WIRINGS, Step, Wiring
from sealtune.report.clip_drawings import TITLES, advice, drawing


@pytest.mark.parametrize("wiring", WIRINGS)
@pytest.mark.parametrize("step", [*STEPS, None])
def test_every_step_has_its_own_drawing_that_fits_a_narrow_terminal(
    wiring: Wiring, step: Step | None
) -> None:
    text = drawing(step, wiring, 10.0, 22.1)
    assert text.isascii()
    assert max(len(line) for line in text.splitlines()) <= 78
    for word in ("amplifier +", "amplifier -", "input 1", "input 2", "[ 10 ohm  ]", "clip"):
        assert word in text
    assert ("22.1 ohm" in text) == (step in ("resistor", None))
    assert ("hot" in text) == (wiring == "sense")
    assert advice(step, wiring).endswith(".")
    others = [drawing(other, wiring, 10.0, 22.1) for other in TITLES if other not in (step, None)]
    assert step is None or text not in others


@pytest.mark.parametrize("wiring", WIRINGS)
@pytest.mark.parametrize("step", [*STEPS, None])
@pytest.mark.parametrize("ohm", [1.0, 10.0, 47.0, 100.25, 1000.0])
def test_no_wire_is_broken_whatever_the_resistor(wiring: Wiring, step: Step | None, ohm: float) -> None:
    lines = drawing(step, wiring, ohm, 22.0).splitlines()
    # exact: what runs down from a joint ends at a word or at another joint in the same column
    for row, line in enumerate(lines[:-1]):
        for column, letter in enumerate(line):
            if letter != "|":
                continue
            above = lines[row - 1].ljust(80)[max(column - 5, 0) : column + 6]
            below = lines[row + 1].ljust(80)[max(column - 5, 0) : column + 6]
            for beside, near in ((above, lines[row - 1]), (below, lines[row + 1])):
                at = near.ljust(80)[column]
                assert at in "+|" or "input" in beside or "[ ]" in beside or at.isalnum(), "\n".join(lines)
