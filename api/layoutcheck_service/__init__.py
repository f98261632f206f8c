"""layoutcheck_service: the layoutcheck library over HTTP."""

__version__ = "0.1.0"
