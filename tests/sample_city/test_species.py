"""Species of the sample city are known to the practice tables."""

import numpy as np

from sample_city.species import choose_species, species_mix


def test_species_under_wires_stay_small_more_often():
    random = np.random.default_rng(1)
    plain = np.zeros(4_000, dtype=bool)
    alone = np.full(4_000, -1)
    small = species_mix()["small"].to_numpy()
    free = small[choose_species(alone, plain, random)].mean()
    wired = small[choose_species(alone, ~plain, random)].mean()
    assert wired > 2 * free


def test_a_stretch_of_street_has_a_main_species():
    random = np.random.default_rng(1)
    chosen = choose_species(np.zeros(1_000, dtype=int), np.zeros(1_000, dtype=bool), random)
    assert np.bincount(chosen).max() > 600
