"""Pure functions on SI floats: the ice, the coolant, the strength, the wall, the room, the loss."""
