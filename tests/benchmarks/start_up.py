"""How long the program takes to start, as ratios within one run, so that they mean the same on any machine.

    python tests/benchmarks/start_up.py [--rounds 7]

Each line is the median over the rounds of one command's time over that of what it is compared with, which run in
turn. All run with compiled modules in a fresh folder, as an installed program does.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from statistics import median
from time import perf_counter

ROOT = Path(__file__).resolve().parents[2]
PATHS = 8
"""Cabinets in the call with several."""

DESIGN = ROOT / "recordings" / "design.toml"
CLICK = ("-c", "import click")
PLANNING = ("-c", "import click, numpy, scipy.optimize")
NUMERICS = ("-c", "import numpy, scipy.optimize, scipy.signal, soundfile")


def _seconds(arguments: tuple[str, ...], environment: dict[str, str]) -> float:
    begin = perf_counter()
    done = subprocess.run(
        [sys.executable, *arguments],
        env=environment,
        capture_output=True,
        text=True,
        timeout=600,
        check=False,
    )
    took = perf_counter() - begin
    if "Traceback" in done.stderr or done.returncode not in (0, 1):
        raise SystemExit(f"{arguments} failed:\n{done.stderr}")
    return took


def _plan_s(rounds: int) -> float:
    """Return the time that the whole plan of the demo's design takes once everything is imported, s."""
    from sealtune.jobs.plan import plan

    took = []
    for _ in range(rounds):
        begin = perf_counter()
        plan(DESIGN, 10.0)
        took.append(perf_counter() - begin)
    return median(took)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--rounds", type=int, default=7)
    rounds: int = parser.parse_args().rounds
    cabinets = (str(ROOT / "recordings" / "left"), str(ROOT / "recordings" / "right"))
    commands = {
        "click": CLICK,
        "help": ("-m", "sealtune", "--help"),
        "planning": PLANNING,
        "plan": ("-m", "sealtune", "plan", str(ROOT / "recordings")),
        "numerics": NUMERICS,
        "one": ("-m", "sealtune", "check", cabinets[0]),
        "several": ("-m", "sealtune", "check", *(cabinets * PATHS)[:PATHS]),
    }
    times: dict[str, list[float]] = {name: [] for name in commands}
    with tempfile.TemporaryDirectory() as cache:
        environment = {**os.environ, "PYTHONPYCACHEPREFIX": cache}
        environment.pop("PYTHONDONTWRITEBYTECODE", None)
        for number in range(rounds + 1):
            for name, arguments in commands.items():
                took = _seconds(arguments, environment)
                if number > 0:  # the first round compiles
                    times[name].append(took)

    def ratio(name: str, other: str, share: int = 1) -> float:
        return median(took / share / against for took, against in zip(times[name], times[other], strict=True))

    more = [
        (several - one) / (PATHS - 1) / against
        for one, several, against in zip(times["one"], times["several"], times["numerics"], strict=True)
    ]
    print(
        f"a plan with its 10,000 draws takes {1e3 * _plan_s(rounds):.0f} ms once all is imported (aim: 300)"
    )
    print(f"medians of {rounds} rounds: import click {median(times['click']):.3f} s, "
          f"numerics {median(times['numerics']):.3f} s")  # fmt: skip
    print(f"{'ratio':62} {'measured':>8} {'aim':>5}")
    print(f"{'sealtune --help over importing click':62} {ratio('help', 'click'):8.2f} {1.5:5.1f}")
    print(f"{'one plan over importing what it needs':62} {ratio('plan', 'planning'):8.2f} {1.8:5.1f}")
    print(f"{'one check over importing the numerics it needs':62} {ratio('one', 'numerics'):8.2f} {1.8:5.1f}")
    print(
        f"{f'each of {PATHS} paths in one call over the same import':62} "
        f"{ratio('several', 'numerics', PATHS):8.2f} {0.5:5.1f}"
    )
    print(f"{'  of it, each path after the first':62} {median(more):8.2f}")


if __name__ == "__main__":
    main()
