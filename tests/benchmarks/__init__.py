"""Measurements of speed, under the one thread that the command itself asks for."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
