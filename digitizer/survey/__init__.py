"""Job in, survey out; `measure` is the whole measurement on one page."""
