"""Building models (IFC2x3, IFC4, IFC4x3) in, and freeze points written into a copy of them."""
