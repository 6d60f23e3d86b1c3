"""The end of a mouth in a wide wall by direct integration, shared by the tests that need it."""

from math import pi

import numpy as np


def piston_by_chords(corners: np.ndarray) -> float:
    """Rayleigh's integral over a convex mouth: int int dS dS'/r over 2 pi S, by its chords.

    corners: of the mouth, as complex numbers, in any unit of length
    dS dS'/r is dline dr dx/1 along the line through both points, so that each chord of length l counts l^2: summed
    over lines of all directions by the midpoint rule.
    """
    following = np.roll(corners, -1)
    area = 0.5 * abs(np.sum((np.conj(corners) * following).imag))
    angles = (np.arange(400) + 0.5) * pi / 400
    total = 0.0
    for angle in angles:
        u, v = corners * np.exp(-1j * angle), following * np.exp(-1j * angle)
        lines = np.linspace(u.imag.min(), u.imag.max(), 602)
        heights = (lines[:-1] + lines[1:]) / 2
        crossed = (u.imag[:, None] - heights) * (v.imag[:, None] - heights) < 0
        rise = np.where(v.imag == u.imag, np.inf, v.imag - u.imag)
        x = u.real[:, None] + ((v.real - u.real) / rise)[:, None] * (heights - u.imag[:, None])
        chord = np.where(crossed, x, -np.inf).max(axis=0) - np.where(crossed, x, np.inf).min(axis=0)
        total += float(np.sum(chord**2)) * (lines[1] - lines[0]) * pi / len(angles)
    return total / (2 * pi * float(area))
