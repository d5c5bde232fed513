"""What all scenarios of a city have in common: trees, their assessment, the ways between them."""

import hashlib
from dataclasses import dataclass, replace
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from forestcycle.cycle.city import City
from forestcycle.cycle.plan import travel_of
from forestcycle.inventory.schema import Inventory
from forestcycle.practice import Assessment
from forestcycle.schedule.problem import FloatArray, IntArray
from forestcycle.travel import Travel

NEVER_ASKED = ["address", "common_name", "geometry"]
TEXTS_THAT_REPEAT = ["fund", "species", "street", "ward"]
TEXTS_FOR_CREWS = ["cautions", "note", "work"]


@dataclass(frozen=True)
class CommonGround:
    """Made once, read by every scenario; texts for crews are left out.

    Attributes
    ----------
    x, y : (n,) float64
        Where trees stand.
    trees : DataFrame
        Columns of the inventory that a plan may ask for.
    inventory : Inventory
        Without trees and records.
    assessment : Assessment
        Without work items.
    travel : Travel
    place_of_tree : (n,) int64
    """

    x: FloatArray
    y: FloatArray
    trees: pd.DataFrame
    inventory: Inventory
    assessment: Assessment
    travel: Travel
    place_of_tree: IntArray

    def full_inventory(self) -> Inventory:
        """Return the inventory with its trees as points.

        Returns
        -------
        Inventory
        """
        points = gpd.points_from_xy(self.x, self.y)
        trees = gpd.GeoDataFrame(self.trees, geometry=points, crs=self.inventory.trees.crs)
        return replace(self.inventory, trees=trees)

    def fingerprint(self) -> str:
        """Return a hash of all that a plan depends on besides the settings.

        Returns
        -------
        str
            SHA-256 in hexadecimal digits.
        """
        found = hashlib.sha256()
        for table in (self.trees, self.assessment.trees):
            found.update(pd.util.hash_pandas_object(table, index=False).to_numpy().tobytes())
        closed = [[list(map(str, each)) for each in group] for group in self._closed()]
        found.update(repr((closed, self.travel.kind)).encode())
        for array in (self.x, self.y, self.place_of_tree, self._legs()):
            found.update(np.ascontiguousarray(array).tobytes())
        return found.hexdigest()

    def _closed(self) -> list[Any]:
        return list(self.assessment.season_closed)

    def _legs(self) -> FloatArray:
        """Minutes from the first depot to every place: another street layer changes them."""
        places = np.arange(self.travel.place_count)
        return self.travel.minutes(np.array([self.travel.place_count]), places)


def common_ground(city: City, assessment: Assessment) -> CommonGround:
    """Take from a city what its scenarios share.

    Parameters
    ----------
    city : City
    assessment : Assessment
        Of the same trees.

    Returns
    -------
    CommonGround
    """
    inventory = city.inventory
    travel, place_of_tree = travel_of(city)
    bare = replace(
        inventory,
        trees=inventory.trees.iloc[:0],
        set_aside=inventory.set_aside.iloc[:0],
        defects=inventory.defects.iloc[:0],
        visits=inventory.visits.iloc[:0],
        requests=inventory.requests.iloc[:0],
        wards=None,
        parks=None,
    )
    trees = pd.DataFrame(inventory.trees.drop(columns=NEVER_ASKED))
    return CommonGround(
        x=inventory.trees.geometry.x.to_numpy(np.float64),
        y=inventory.trees.geometry.y.to_numpy(np.float64),
        trees=trees.astype(dict.fromkeys(TEXTS_THAT_REPEAT, "category")),
        inventory=bare,
        assessment=replace(
            assessment,
            trees=assessment.trees.drop(columns=TEXTS_FOR_CREWS),
            work=assessment.work.iloc[:0],
            set_aside=assessment.set_aside.iloc[:0],
        ),
        travel=travel,
        place_of_tree=place_of_tree,
    )
