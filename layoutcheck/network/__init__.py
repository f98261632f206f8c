"""The network: the piping as a graph with lengths on it, and what can flow in it."""

from layoutcheck.network.build import build_network
from layoutcheck.network.metric import Field, Metric, Near
from layoutcheck.network.model import Network, Piece, PieceKind, Place, Spot
from layoutcheck.network.state import Trust, World

__all__ = [
    "Field",
    "Metric",
    "Near",
    "Network",
    "Piece",
    "PieceKind",
    "Place",
    "Spot",
    "Trust",
    "World",
    "build_network",
]
