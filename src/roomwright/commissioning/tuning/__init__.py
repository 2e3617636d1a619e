"""The tuning of a job: designed, tried while it is dragged, and changed by hand."""
