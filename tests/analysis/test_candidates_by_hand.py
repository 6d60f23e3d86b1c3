"""Which circuits are kept beside the best one, with stand-ins for the search and for how probable it makes them."""

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from sealtune.analysis import candidates
from sealtune.analysis.candidates import leaking, with_leakage_alone
from sealtune.analysis.parameters import LEAK, SPARE, VENTED
from sealtune.physics.vented_box import VentedBox, tuning_and_q

BOX = VentedBox(
    6.0, 0.5, 0.7, 50.0, 230.0, 4.0, 0.1, 1.2, 250.0, leakage=0.04, friction=0.02, absorption=0.02, volume_m3=0.024
)  # fmt: skip


class Search:
    """Stands in for the curves: it notes what is asked and finds a circuit of a cost that grows from time to time."""

    def __init__(
        self, monkeypatch: pytest.MonkeyPatch, share: float, roles: tuple[str, ...] = ("open",)
    ) -> None:
        self.asked: list[tuple[tuple[str, ...], VentedBox]] = []
        self.odds: list[float] = []
        self.by_role = dict.fromkeys(roles)
        self.points = SimpleNamespace(sigma_ohm=np.ones(3), size_ohm=np.ones(3))

        def weights(minima: list[object], _: object, odds: list[float] | None = None) -> np.ndarray:
            if odds is None:  # among leaks alone the last one
                return np.arange(1.0, len(minima) + 1.0)
            self.odds = odds
            return np.array([1.0 - share, share])

        monkeypatch.setattr(candidates, "weights", weights)
        monkeypatch.setattr(candidates, "search", lambda *_, **__: None)

    def searched(self, names: tuple[str, ...], start: VentedBox, *_: object, **__: object) -> Any:
        self.asked.append((names, start))
        return SimpleNamespace(
            cost=float(len(self.asked)), start=start, model=None, vector=None, model_error=np.array([0.01])
        )


def best() -> Any:
    return SimpleNamespace(
        model=SimpleNamespace(unpack=lambda _: BOX), vector=np.zeros(1), model_error=np.array([0.01])
    )


@pytest.mark.parametrize(("share", "kept"), [(0.021, True), (0.019, False)])
def test_the_textbooks_circuit_is_kept_where_it_may_be_true(
    share: float, kept: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    # from 2 % on; beforehand one in ten, and all of the box's losses leak: 1/Q of what the best circuit has together
    curves = Search(monkeypatch, share)
    found = with_leakage_alone(best(), cast(Any, curves))
    assert (found is not None) == kept
    assert curves.odds == [1.0, 0.1]
    ((names, start),) = curves.asked
    assert names == SPARE
    assert start.leakage == pytest.approx(1.0 / tuning_and_q(BOX)[1])
    assert (start.friction, start.absorption, start.plain_share, start.volume_m3) == (0.0, 0.0, 0.0, 0.0)


@pytest.mark.parametrize(("share", "kept"), [(0.021, True), (0.019, False)])
@pytest.mark.parametrize(
    ("roles", "shapes"), [(("open",), ["slit"] * 2), (("open", "plugged"), ["slit", "slit", "hole"])]
)
def test_a_leak_is_kept_where_it_may_be_true(
    share: float, kept: bool, roles: tuple[str, ...], shapes: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    # one box in six leaks; the open curve alone cannot tell a hole; of two starts of a shape the cheaper end counts
    curves = Search(monkeypatch, share, roles)
    found = cast(Any, leaking(best(), cast(Any, curves)))
    assert (found is not None) == kept
    assert curves.odds == [1.0, 0.2]
    assert [start.leak_shape for _, start in curves.asked] == shapes
    assert all(names == (*VENTED, *LEAK) for names, _ in curves.asked)
    if kept:
        assert found.start is curves.asked[0 if len(roles) == 1 else 2][1]
