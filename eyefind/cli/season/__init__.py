"""The verbs of the season: ``eyefind season ...`` (docs/season.md)."""

from eyefind.cli.season import bench, cold, keep, paper, room
from eyefind.cli.season.hand import season_app

# Each module adds its verbs to the group when it is loaded.
__all__ = ["bench", "cold", "keep", "paper", "room", "season_app"]
