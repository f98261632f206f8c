"""Many sites at once: which valves, pumps or stated works can be isolated by freezing, and how."""
