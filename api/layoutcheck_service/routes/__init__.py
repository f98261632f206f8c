"""The service's routes: one file for each group of addresses, each with its `router`."""
