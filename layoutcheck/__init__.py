"""layoutcheck: checks where ice plugs may be frozen in water-filled building pipe."""

__version__ = "0.1.0"
