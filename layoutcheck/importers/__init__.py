"""Ways in from what people already have, and out again: IFC, DXF, network files, sheets."""
