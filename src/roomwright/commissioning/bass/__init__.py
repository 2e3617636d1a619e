"""Bass: places, arrays, the ways to feed the subwoofers, and their comparison."""
