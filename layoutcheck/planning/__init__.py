"""From what will be opened to where to freeze: whole plans, joint mending, order of work."""
