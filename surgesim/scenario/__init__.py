"""What a user writes: places, cables, earths, arresters, equipment, surges, and what varies."""
