"""Observations in, estimates with covariance out; has never heard of a camera."""
