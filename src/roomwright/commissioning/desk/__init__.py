"""What the graph desk draws."""
