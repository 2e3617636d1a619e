"""Levels: the meter, the level assistant, and the survey's reference level."""
