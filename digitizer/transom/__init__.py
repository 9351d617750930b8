"""The boatbuilder's reading of points on a transom."""
