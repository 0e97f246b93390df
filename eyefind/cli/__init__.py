"""The command line: ``eyefind card | look | plan | sheet | answer | review``.

Nothing heavy is loaded before a verb needs it: ``eyefind --help`` answers at once.
"""

from eyefind.cli.app import app, main

__all__ = ["app", "main"]
