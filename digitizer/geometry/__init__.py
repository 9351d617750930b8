"""Plane and space geometry without pixels and without statistics of the network."""
