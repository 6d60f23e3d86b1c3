"""Reading the curve on the page: a few lines of script that show frequency, ohms and degrees under pointer or finger.

The page is complete without it. The script is the same on every page, so that the page's policy can name it by its
hash and forbid every other one.
"""

from __future__ import annotations

import base64
import hashlib

import numpy as np
from numpy.typing import NDArray

from sealtune.report.drawing import thinned

_MOST_POINTS = 360

HINT = "Point at the curve or tap it to read it; arrow keys go along it."

SCRIPT = """"use strict";
for (const svg of document.querySelectorAll("svg[data-curve]")) {
  const told = svg.parentNode.querySelector("output");
  const rows = svg.dataset.curve.split(";").map(row => row.split(" "));
  const [x0, x1, f0, f1, top, foot, end, most] = svg.dataset.plot.split(" ").map(Number);
  const along = f => x0 + (x1 - x0) * Math.log(f / f0) / Math.log(f1 / f0);
  const add = (name, values) => {
    const part = svg.appendChild(document.createElementNS(svg.namespaceURI, name));
    for (const key in values) part.setAttribute(key, values[key]);
    return part;
  };
  const line = add("line", {class: "pointer", y1: top, y2: end, visibility: "hidden"});
  const dot = add("circle", {class: "pointer", r: 5, visibility: "hidden"});
  const hint = told.textContent;
  let place = 0;
  const show = next => {
    place = Math.min(Math.max(next, 0), rows.length - 1);
    const [hz, ohm, degrees] = rows[place];
    line.setAttribute("x1", along(hz));
    line.setAttribute("x2", along(hz));
    dot.setAttribute("cx", along(hz));
    dot.setAttribute("cy", foot - ohm / most * (foot - top));
    for (const part of [line, dot]) part.setAttribute("visibility", "visible");
    told.textContent = hz + " Hz: " + ohm + " \\u03a9, " + degrees.replace("-", "\\u2212") + "\\u00b0";
  };
  const hide = () => {
    for (const part of [line, dot]) part.setAttribute("visibility", "hidden");
    told.textContent = hint;
  };
  const nearest = event => {
    const here = svg.getScreenCTM(), x = (event.clientX - here.e) / here.a;
    const off = rows.map(row => Math.abs(along(row[0]) - x));
    show(off.indexOf(Math.min(...off)));
  };
  told.hidden = false;
  svg.setAttribute("tabindex", "0");
  svg.addEventListener("pointermove", nearest);
  svg.addEventListener("pointerdown", nearest);
  svg.addEventListener("pointerleave", event => { if (event.pointerType === "mouse") hide(); });
  svg.addEventListener("blur", hide);
  svg.addEventListener("keydown", event => {
    const step = {ArrowLeft: -1, ArrowRight: 1}[event.key];
    if (step) { show(place + step); event.preventDefault(); }
  });
}
"""


def script_hash() -> str:
    """Return what a content security policy calls the script."""
    return "sha256-" + base64.b64encode(hashlib.sha256(SCRIPT.encode()).digest()).decode()


def curve_data(frequency_hz: NDArray[np.float64], impedance_ohm: NDArray[np.complex128]) -> str:
    """Return the points that can be read: "Hz ohm degrees" each, as they are shown, with semicolons between.

    frequency_hz, impedance_ohm: shape (n,), rising, as measured; some are left out where there are many
    """
    chosen = thinned(frequency_hz, _MOST_POINTS)
    return ";".join(
        f"{hz:.{1 if hz < 100.0 else 0}f} {abs(z):.2f} {_degrees(z)}"
        for hz, z in zip(frequency_hz[chosen].tolist(), impedance_ohm[chosen].tolist(), strict=True)
    )


def _degrees(z: complex) -> str:
    text = f"{np.degrees(np.angle(z)):.1f}"
    return "0.0" if text == "-0.0" else text
