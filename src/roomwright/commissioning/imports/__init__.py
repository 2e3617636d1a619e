"""Recordings and responses made elsewhere, and the index that lists them."""
