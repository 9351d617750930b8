"""A transom, measured from photographs: dimensions a shop can cut from, each with its uncertainty."""

import os

__version__ = "0.1.0"

# The matrices of an adjustment are small: waiting for threads costs more than they give.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
