"""Which species the city plants, and how they grow: invented shares, plausible sizes."""

from importlib.resources import files

import numpy as np
import pandas as pd

from sample_city.ground import Floats, Integers, Random, Truths


def species_mix() -> pd.DataFrame:
    """Read the species list.

    Returns
    -------
    DataFrame
        One row per species; ``share`` adds up to about 100.
    """
    with files("sample_city").joinpath("species.csv").open(encoding="utf-8") as table:
        return pd.read_csv(table)


def choose_species(stretch: Integers, under_wires: Truths, random: Random) -> Integers:
    """Choose a species for every tree.

    Two trees in three follow the scheme of their stretch of street, the rest
    are a mixture; under wires, most are species that stay small.

    Parameters
    ----------
    stretch : (n,) int64
        Trees planted to one scheme share it; -1 where there is none.
    under_wires : (n,) bool
    random : Generator

    Returns
    -------
    (n,) int64
        Rows of :func:`species_mix`.
    """
    mix = species_mix()
    share = mix["share"].to_numpy(float)
    small = share * mix["small"].to_numpy(float)
    scheme, of_tree = np.unique(stretch, return_inverse=True)
    of_scheme = random.choice(len(mix), len(scheme), p=share / share.sum())
    alone = random.choice(len(mix), len(stretch), p=share / share.sum())
    low = random.choice(len(mix), len(stretch), p=small / small.sum())
    follows = (random.uniform(size=len(stretch)) < 0.66) & (stretch >= 0)
    chosen = np.where(follows, of_scheme[of_tree], alone)
    goes_low = under_wires & (random.uniform(size=len(stretch)) < 0.55)
    return np.where(goes_low, low, chosen).astype(np.int64)


def diameter_cm(age: Floats, species: Integers, random: Random) -> Floats:
    """Draw diameters at breast height: quick growth at first, then ever slower.

    Parameters
    ----------
    age : (n,) float64
        Years since planting; trees are planted at about 5 cm.
    species : (n,) int64
    random : Generator

    Returns
    -------
    (n,) float64
    """
    mix = species_mix()
    mature = mix["mature_dbh_cm"].to_numpy(float)[species] * 1.15
    rate = mix["growth_cm_per_year"].to_numpy(float)[species]
    noise = np.exp(random.normal(0, 0.16, len(age)))
    grown = mature * (1 - np.exp(-rate * age / mature)) * noise
    result: Floats = np.round(np.clip(4.5 + grown, 3.0, 1.6 * mature), 1)
    return result


def height_m(dbh_cm: Floats, species: Integers, random: Random) -> Floats:
    """Draw heights that level off at the species' height."""
    mix = species_mix()
    top = mix["height_m"].to_numpy(float)[species]
    mature = mix["mature_dbh_cm"].to_numpy(float)[species]
    full = 1.3 + (top - 1.3) * (1 - np.exp(-2.6 * dbh_cm / mature))
    result: Floats = np.round(full * np.exp(random.normal(0, 0.07, len(full))), 1)
    return result


def crown_diameter_m(height: Floats, species: Integers, random: Random) -> Floats:
    """Draw crown diameters in proportion to height."""
    ratio = species_mix()["crown_per_height"].to_numpy(float)[species]
    result: Floats = np.round(height * ratio * np.exp(random.normal(0, 0.1, len(height))), 1)
    return result
