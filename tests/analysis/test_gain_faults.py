"""A drift of one channel's gain shows as a slope of the magnitude that the phase knows nothing of."""

from __future__ import annotations

import numpy as np
import pytest

from sealtune.analysis.gain_faults import drift_problems, gain_drift
from sealtune.records.recording import Sweep
from sealtune.signals.transfer_function import Ratio

SWEEP = Sweep(6.0, 1000.0, 8.0)
HZ = np.geomspace(6.5, 950.0, 700)


def ratio(drift_db: float = 0.0, noise: float = 1e-5, wiring: str = "divider", delay_s: float = 0.0) -> Ratio:
    """A vented box's two peaks over 10 ohm, in closed form, with a drift of so many dB over the whole sweep."""
    s = 2j * np.pi * HZ
    w_s, w_b, alpha, qms = 2 * np.pi * 45.0, 2 * np.pi * 42.0, 1.2, 4.0
    box = s / w_b + 0.1 + w_b / s
    z = 6.0 + 40.0 / (1 + qms * (s / w_s + w_s / s) + alpha * w_s * qms / w_b / box) + 0.02 * s**0.6
    value = z / (10.0 + z) if wiring == "divider" else 10.0 / z
    octaves_e = np.log(SWEEP.stop_hz / SWEEP.start_hz)
    value = value * 10.0 ** (drift_db / 20.0 * np.log(HZ / 77.0) / octaves_e) * np.exp(-s * delay_s)
    rng = np.random.default_rng(3)
    size = noise * np.abs(value)
    value = value + size * (rng.standard_normal(HZ.size) + 1j * rng.standard_normal(HZ.size))
    return Ratio(HZ, value, size, np.ones(HZ.size))


@pytest.mark.parametrize("wiring", ["divider", "sense"])
@pytest.mark.parametrize("drift_db", [-1.0, -0.5, 0.0, 0.5, 1.0, 3.0])
def test_the_drift_is_measured(wiring: str, drift_db: float) -> None:
    found = gain_drift(ratio(drift_db, wiring=wiring))
    assert found is not None
    # exact: the drift that was put in; the odd powers stand for what lies beyond the band to 0.1 dB
    per_sweep = 20.0 * np.log10(np.e) * np.log(SWEEP.stop_hz / SWEEP.start_hz)
    assert found.slope * per_sweep == pytest.approx(drift_db, abs=0.1)
    names = [problem.problem for problem in drift_problems(ratio(drift_db, wiring=wiring), SWEEP)]
    assert names == ([] if drift_db == 0.0 else ["dropout"])


def test_the_standard_error_is_the_scatter() -> None:
    rng = np.random.default_rng(8)
    clean = ratio(noise=0.0)
    size = 0.01 * np.abs(clean.value)
    slopes, errors = [], []
    for _ in range(100):
        noise = size * (rng.standard_normal(HZ.size) + 1j * rng.standard_normal(HZ.size))
        found = gain_drift(Ratio(HZ, clean.value + noise, size, clean.power))
        assert found is not None
        slopes.append(found.slope)
        errors.append(found.error)
    # independent: the scatter over 100 draws, itself known to 7 %
    assert np.mean(errors) / np.std(slopes) == pytest.approx(1.0, abs=0.35)


def test_delay_polarity_and_narrow_bands_are_no_drift() -> None:
    assert drift_problems(ratio(delay_s=1e-5), SWEEP) == []
    plain = ratio()
    assert drift_problems(Ratio(HZ, -plain.value, plain.sigma, plain.power), SWEEP) == []
    part = slice(0, 200)
    assert gain_drift(Ratio(HZ[part], plain.value[part], plain.sigma[part], plain.power[part])) is None
    # a drift below its own noise is not told
    assert drift_problems(ratio(0.3, noise=0.1), SWEEP) == []
