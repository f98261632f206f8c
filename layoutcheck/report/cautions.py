"""The cautions that every result and every printed page carries."""

CAUTIONS: tuple[str, ...] = (
    "Cold burns: liquid nitrogen, dry ice and frosted metal burn skin and eyes at a touch. "
    "Insulated gloves and eye protection.",
    "Asphyxiation: carbon dioxide and nitrogen push out air, and carbon dioxide itself is toxic. "
    "Ventilate, watch low places, measure carbon dioxide: an oxygen meter alone is not enough.",
    "Trapped pressure: growing ice can burst a pipe closed at both ends. Never freeze against a "
    "closed end without a way for the water to go.",
    "Brittle pipe: cold makes many pipes brittle. No blows, no bending, no tightening while cold.",
    "Plug loss: a plug can let go at any time. Keep watch, keep it fed, and have a way to stop "
    "the water before the line is opened.",
)

DEFERENCE = (
    "This is a check of a drawing, not a permit. Local codes, the site's permit system and "
    "licensed practice decide."
)
