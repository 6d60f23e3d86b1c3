"""Voice-coil models against published forms."""

from math import pi

import numpy as np
import pytest

from sealtune.physics.voice_coil import leach_parallel, lr2, semi_inductor

OMEGA = 2 * pi * 1000.0


def test_leach() -> None:
    # Form published [Leach2002]; figures independent: K 0.02, n 0.7 at 1 kHz.
    z = complex(semi_inductor(1j * OMEGA, 0.02, 0.7))
    assert z.real == pytest.approx(4.13812, abs=6e-6)
    assert z.imag == pytest.approx(8.12151, abs=6e-6)
    assert np.degrees(np.angle(z)) == pytest.approx(63.0, abs=1e-9)
    resistance, inductance = leach_parallel(OMEGA, 0.02, 0.7)
    assert resistance == pytest.approx(20.0775, abs=6e-5)
    assert inductance == pytest.approx(1.62815e-3, abs=6e-9)
    # Exact: the two side by side are the semi-inductor.
    assert 1 / (1 / resistance + 1 / (1j * OMEGA * inductance)) == pytest.approx(z, rel=1e-12)


def test_lr2() -> None:
    # Form published [Leach2002]; figures independent: 0.3 mH, 0.5 mH, 2 ohm at 1 kHz.
    z = complex(lr2(1j * OMEGA, 0.3e-3, 0.5e-3, 2.0))
    assert z.real == pytest.approx(1.42320, abs=6e-6)
    assert z.imag == pytest.approx(2.79099, abs=6e-6)
    # Exact: both coils in series at low, the first alone beside r2 at high frequency.
    assert complex(lr2(1e-3j, 0.3e-3, 0.5e-3, 2.0)).imag == pytest.approx(0.8e-6, rel=1e-9)
    assert complex(lr2(1e9j, 0.3e-3, 0.5e-3, 2.0)).real == pytest.approx(2.0, rel=1e-9)


def test_eddy_currents_alone() -> None:
    # Published: K sqrt(j w), a phase of 45 degrees at every frequency [Vanderkooy1989].
    z = semi_inductor(1j * np.logspace(1, 5, 9), 0.03, 0.5)
    np.testing.assert_allclose(np.degrees(np.angle(z)), 45.0, rtol=1e-12)
    assert abs(z[-1]) == pytest.approx(0.03 * np.sqrt(1e5), rel=1e-12)
