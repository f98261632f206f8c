"""Coolant: what a kilogram of it can do, and how many kilograms a freeze and its hold take."""

from __future__ import annotations

from enum import StrEnum


class Coolant(StrEnum):
    """The two coolants this tool knows."""

    CARBON_DIOXIDE = "carbon dioxide"
    NITROGEN = "nitrogen"
