"""The design of a box, read and completed; for a plan also held against what can be built."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from sealtune.design.buildable import obstacles
from sealtune.design.completion import complete
from sealtune.design.driver_contradictions import contradictions
from sealtune.errors import SettingsFault
from sealtune.files.design_file import read_design
from sealtune.physics.air import climate_air, standard_air
from sealtune.records.design import Design


def load_design(path: Path) -> tuple[Design, tuple[str, ...]]:
    """Return the design with the driver's data completed, and which of them contradict one another, in sentences.

    path: a design.toml
    A data sheet's values count as measured in the standard air, wherever the box stands.
    Raises UsageFault where there is no readable file, SettingsFault with all faults of the file together.
    """
    design, _, odd = _completed(path)
    return design, odd


def planned_design(path: Path) -> tuple[Design, tuple[str, ...]]:
    """Return the same for a box that is still to be built, with sentences on what was filled in as well.

    Raises SettingsFault also where it cannot be built, with all that keeps it from that.
    """
    design, filled, odd = _completed(path)
    found = obstacles(design, climate_air(design.climate))
    if found:
        raise SettingsFault(str(path), found, "Change the design; the file was not changed.")
    return design, (*filled, *odd)


def _completed(path: Path) -> tuple[Design, tuple[str, ...], tuple[str, ...]]:
    design = read_design(path)
    air = standard_air()
    driver, filled = complete(design.driver, air)
    if driver.vas_m3 is not None:  # V_AS = rho c^2 S_D^2 C_MS goes with the pressure of the day
        today = climate_air(design.climate).bulk_modulus_pa / air.bulk_modulus_pa
        driver = replace(driver, vas_m3=today * driver.vas_m3)
    return replace(design, driver=driver), filled, contradictions(design.driver, air)
