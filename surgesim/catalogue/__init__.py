"""The model cards: arresters, cables and surge shapes, each number with unit and source."""
