"""Dialogs: each takes plain data and gives plain data back; none holds the truth of a job."""
