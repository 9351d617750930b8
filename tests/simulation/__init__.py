"""
Simulated jobs: an invented transom, photographed and marked, with every error drawn from its stated uncertainty.

A `Scene` holds what is unknown (`theta`: places on the boat, camera, target, tape) and how well each is known
beforehand (`prior`), and says what would be observed. One function of it serves three purposes: drawing a job,
its exact truth, and (in tests/coverage/theory.py) the covariance that any sound adjustment must reach. It uses
nothing of the program but the records.
"""
