"""Own browser components: an ES module each, with its Python face."""

__all__: list[str] = []
