"""A microphone's correction file, read as its makers write it, and refused where it is none."""

from pathlib import Path

import numpy as np
import pytest

from sealtune.errors import UsageFault
from sealtune.files.microphone_file import read_microphone


@pytest.mark.parametrize(
    "text",
    [
        "20 -3.0\n100 0.0\n1000 1.5\n",
        "* a comment\n20,-3.0\n100,0.0\n1000,1.5\n",
        "Freq\tSPL\n20\t-3.0\n100\t0.0\n1000\t1.5\n",
        "20;-3,0\n100;0,0\n1000;1,5\n",
        "1000 1.5\n20 -3.0\n100 0.0\n",
    ],
    ids=["blanks", "commas", "tabs", "decimal commas", "any order"],
)
def test_two_columns(tmp_path: Path, text: str) -> None:
    path = tmp_path / "mic.txt"
    path.write_text(text)
    found = read_microphone(path)
    assert found.frequency_hz == pytest.approx([20.0, 100.0, 1000.0])
    assert found.level_db == pytest.approx([-3.0, 0.0, 1.5])
    assert found.phase_deg is None


def test_three_columns_as_a_factor(tmp_path: Path) -> None:
    path = tmp_path / "mic.txt"
    path.write_text('"some header"\n10 -6.0206 90\n40 0 0\n')
    factor = read_microphone(path).at(np.array([5.0, 10.0, 20.0, 100.0]))
    # Exact: half at 10 Hz and below, a quarter of a turn ahead; at 20 Hz, in the middle of the octaves, half in dB
    assert np.abs(factor) == pytest.approx([0.5, 0.5, 2.0**-0.5, 1.0], rel=1e-4)
    assert np.degrees(np.angle(factor)) == pytest.approx([90.0, 90.0, 45.0, 0.0], abs=1e-6)


def test_phase_goes_on_over_half_a_turn(tmp_path: Path) -> None:
    path = tmp_path / "mic.txt"
    path.write_text("10 0 170\n40 0 -170\n")
    # Exact: from 170 to 190 degrees, not back through 0
    assert np.degrees(np.angle(read_microphone(path).at(np.array([20.0])))) == pytest.approx([180.0])


@pytest.mark.parametrize(
    "text", ["", "no numbers here\n", "20 1\n", "20\n40\n", "20 1\n40 900\n", "0 1\n10 2\n"]
)
def test_what_is_none(tmp_path: Path, text: str) -> None:
    path = tmp_path / "mic.txt"
    path.write_text(text)
    with pytest.raises(UsageFault) as told:
        read_microphone(path)
    assert "--microphone" in told.value.remedy
