"""A kept street graph is the same graph, and any change of the layer makes another."""

from dataclasses import fields

import numpy as np

from forestcycle.travel.cache import cached_streets
from forestcycle.travel.streets import StreetGraph
from tests.travel.networks import geodanet, layer


def test_kept_and_loaded(tmp_path):
    streets = geodanet()
    first = cached_streets(streets, 30.0, folder=tmp_path)
    assert len(list(tmp_path.iterdir())) == 1
    again = cached_streets(streets, 30.0, folder=tmp_path)
    for field in fields(StreetGraph):
        assert np.array_equal(getattr(first, field.name), getattr(again, field.name))


def test_any_change_is_another_graph(tmp_path):
    streets = layer([(0, 0), (100, 0)], [(100, 0), (100, 80)])
    cached_streets(streets, 30.0, folder=tmp_path)
    cached_streets(streets, 31.0, folder=tmp_path)
    cached_streets(streets.assign(one_way=[True, False]), 30.0, folder=tmp_path)
    cached_streets(streets.assign(speed_kmh=[10.0, 20.0]), 30.0, folder=tmp_path)
    cached_streets(layer([(0, 0), (100, 1)], [(100, 0), (100, 80)]), 30.0, folder=tmp_path)
    assert len(list(tmp_path.iterdir())) == 5


def test_a_damaged_file_is_built_anew(tmp_path):
    streets = layer([(0, 0), (100, 0)])
    cached_streets(streets, 30.0, folder=tmp_path)
    (kept,) = tmp_path.iterdir()
    for damage in (b"", b"not an archive", kept.read_bytes()[:200]):
        kept.write_bytes(damage)
        graph = cached_streets(streets, 30.0, folder=tmp_path)
        assert graph.length.tolist() == [100]
        assert cached_streets(streets, 30.0, folder=tmp_path).length.tolist() == [100]
