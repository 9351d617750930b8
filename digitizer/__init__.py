"""A transom, measured from photographs: dimensions a shop can cut from, each with its uncertainty."""

__version__ = "0.1.0"
