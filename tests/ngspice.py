"""What ngspice says of a subcircuit with two pins."""

import subprocess
from pathlib import Path

import numpy as np
from numpy.typing import NDArray


def impedance_by_ngspice(
    subcircuit: Path, name: str, frequency_hz: NDArray[np.float64], folder: Path
) -> NDArray[np.complex128]:
    """Return the impedance between the pins at rising frequencies, ohm, shape of frequency_hz; fed by 1 A."""
    deck, table = folder / "deck.cir", folder / "deck.txt"
    # a sweep takes no list of frequencies: one analysis for each, all appended to one file
    runs = "\n".join(f"ac lin 1 {hz:.12g} {hz:.12g}\nwrdata {table} v(in)" for hz in frequency_hz)
    deck.write_text(
        f"impedance\n.include {subcircuit}\nI1 0 in AC 1\nX1 in 0 {name}\n"
        f".control\nset numdgt=12\nset appendwrite\n{runs}\nquit\n.endc\n.end\n"
    )
    table.unlink(missing_ok=True)
    done = subprocess.run(
        ["ngspice", "-b", str(deck)], capture_output=True, text=True, timeout=120, check=False
    )
    assert table.is_file(), done.stdout[-2000:] + done.stderr[-2000:]
    columns = np.loadtxt(table, ndmin=2)
    assert np.allclose(columns[:, 0], frequency_hz, rtol=1e-9)
    return np.asarray(columns[:, 1] + 1j * columns[:, 2], dtype=np.complex128)
