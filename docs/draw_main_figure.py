"""Draws docs/main_figure.png: the report's main figure for the demo's leaking cabinet."""

from pathlib import Path

from matplotlib import rc_context

from sealtune.jobs.check import check
from sealtune.jobs.recordings import CheckOptions
from sealtune.jobs.report import demo_folder
from sealtune.report.drawing import Format, settings
from sealtune.report.figures import draw_impedance
from sealtune.report.look import LIGHT

WIDE = Format(10.2, 5.3, 10.5, 4, narrow=False)

result = check(demo_folder() / "right", CheckOptions())
target = Path(__file__).with_name("main_figure.png")
with rc_context(settings(WIDE.letters_pt)):
    figure = WIDE.figure()
    if not draw_impedance(figure, result, WIDE):
        raise SystemExit("The demo's recording gave no curve to draw.")
    figure.set_facecolor(LIGHT["card"])
    figure.savefig(target, format="png", dpi=150, metadata={"Software": None})
print(f"Wrote {target}")
