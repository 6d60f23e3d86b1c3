import pytest

from sealtune.design.terminals import effective_driver
from sealtune.records.design import Box, Design, Driver, DriverWiring

DRIVER = Driver(
    fs_hz=48.0, qms=4.2, qes=0.42, vas_m3=0.021, re_ohm=5.7, sd_m2=0.0132, xmax_m=0.005, power_w=60.0
)


def design(count: int, wiring: DriverWiring) -> Design:
    values = {**DRIVER.__dict__, "count": count, "wiring": wiring}
    return Design("Invented", Box(0.04), driver=Driver(**values))


@pytest.mark.parametrize(("wiring", "re_ohm"), [("parallel", 2.85), ("series", 11.4), ("single", None)])
def test_two_drivers(wiring: DriverWiring, re_ohm: float | None) -> None:
    # Exact: two alike share the air, so area and compliance add; resonance and Q stay.
    seen = effective_driver(design(2, wiring))
    assert seen.re_ohm == (None if re_ohm is None else pytest.approx(re_ohm, rel=1e-12))
    assert (seen.fs_hz, seen.qms, seen.qes, seen.xmax_m) == (48.0, 4.2, 0.42, 0.005)
    assert (seen.vas_m3, seen.sd_m2, seen.power_w) == pytest.approx((0.042, 0.0264, 120.0), rel=1e-12)
    assert (seen.count, seen.wiring) == (1, "single")


def test_one_driver_is_itself() -> None:
    assert effective_driver(Design("Invented", Box(0.02), driver=DRIVER)) == DRIVER


def test_unknown_data_stay_unknown() -> None:
    seen = effective_driver(Design("Invented", Box(0.04), driver=Driver(count=2, wiring="series")))
    assert (seen.re_ohm, seen.vas_m3, seen.sd_m2) == (None, None, None)
