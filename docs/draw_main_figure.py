"""Draws docs/main_figure.png: the report's main figure for the demo's leaking cabinet."""

from pathlib import Path

from sealtune.jobs.check import check
from sealtune.jobs.recordings import CheckOptions
from sealtune.jobs.report import demo_folder
from sealtune.report.figures import save_png

result = check(demo_folder() / "right", CheckOptions())
target = Path(__file__).with_name("main_figure.png")
if not save_png(result, target):
    raise SystemExit("The demo's recording gave no curve to draw.")
print(f"Wrote {target}")
