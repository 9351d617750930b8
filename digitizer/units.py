"""Lengths and angles as people write them, and a value with its uncertainty as a metrologist prints it."""
