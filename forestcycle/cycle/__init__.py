"""The main road, one file per verb."""
