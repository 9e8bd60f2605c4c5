"""Words: numbers with their units, cautions, and lines that stand on every output."""
