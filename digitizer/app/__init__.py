"""The window: edits a job through undoable commands and shows the survey that comes of it."""
