"""What brings a fault on and says nothing of how the unit is made or how it ages."""

MISHAPS = frozenset({"liquid", "transport", "earlier-repair", "mishandling", "misuse"})
