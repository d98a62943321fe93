"""Driving order against its own definition, walked site by site."""

import numpy as np
import pytest

from geozone.places import driving
from geozone.places.driving import driving_order


def walked(lat, lon, area):
    """The definition, with nothing but a loop: the nearest of all that is left in the area, else of all that is left."""
    x, y = ((lon - lon[0] + 180) % 360 - 180) * np.cos(np.radians(lat.mean())), lat
    here = min(range(len(lat)), key=lambda i: (-y[i], x[i], i))
    left, order = set(range(len(lat))) - {here}, [here]
    while left:
        mine = {i for i in left if area[i] == area[here]} or left
        here = min(mine, key=lambda i: ((x[i] - x[here]) ** 2 + (y[i] - y[here]) ** 2, i))
        order.append(here)
        left.remove(here)
    return order


@pytest.mark.parametrize("few", [300, 0])
@pytest.mark.parametrize("seed", range(30))
def test_the_order_is_the_walk_of_its_definition(seed, few, monkeypatch):
    """Over the antimeridian too, with lamps at one position, with grids in which many are equally near; looked at one by one and by the tree."""
    monkeypatch.setattr(driving, "_FEW", few)
    rng = np.random.default_rng(seed)
    n, places = int(rng.integers(1, 150)), int(rng.choice([1, 2, 5]))
    lat = np.round(rng.uniform(-60, 68) + rng.uniform(0, rng.choice([0.2, 1.0, 9.0]), n), places)
    lon = (np.round(rng.choice([179.6, 10.0, -70.0]) + rng.uniform(0, 1, n), places) + 180) % 360 - 180
    area = rng.choice(["a", "b", ""], n) if seed % 2 else np.full(n, "")
    assert driving_order(lat, lon, area).tolist() == walked(lat, lon, area)


@pytest.mark.parametrize("seed", range(3))
def test_a_long_walk_of_many_areas(seed):
    """Enough stops that the tree is planted again and again, on a grid where ties are the rule."""
    rng = np.random.default_rng(seed)
    lat, lon = np.round(rng.uniform(-35, -34, 900), 2 - seed % 2), np.round(rng.uniform(138, 139, 900), 2 - seed % 2)
    area = rng.choice([f"a{i}" for i in range([1, 7, 60][seed])], 900)
    assert driving_order(lat, lon, area).tolist() == walked(lat, lon, area)
