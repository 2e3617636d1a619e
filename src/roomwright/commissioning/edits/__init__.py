"""Edits of a job, one module for each kind of thing edited."""
