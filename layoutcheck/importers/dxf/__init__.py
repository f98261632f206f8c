"""Drawings (DXF) in, and freeze points drawn into a copy of them."""
