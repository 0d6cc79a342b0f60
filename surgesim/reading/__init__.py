"""Reading what people write: YAML with line numbers, quantities with units, names."""
