"""Look at a photo: the clump, its parts, and what to point at."""

from eyefind.look.clump import find_clump
from eyefind.look.looking import Look, look_at
from eyefind.look.seen import see_whole

__all__ = ["Look", "find_clump", "look_at", "see_whole"]
