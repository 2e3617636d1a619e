"""The survey: measuring, repeating, reading and judging takes."""
